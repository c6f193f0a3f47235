"""A ward that lists and map call differently: nothing is guessed, a person confirms it once, every command then knows.

Beds 1A to 3B stand on every ward, so that a ward that is not understood must never lead to another one's bed.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from typer.testing import CliRunner

import planner
from planner.cli.app import app
from planner.domain.plan import Reason
from planner.domain.problem import Problem
from planner.domain.site_names import NameKind
from planner.findings import Severity
from planner.library.news import News
from planner.loaders import LoadOptions, load
from planner.loaders.during.new_orders import read_new_orders
from planner.loaders.names.collect import names_of_round
from planner.loaders.names.propose import ward_proposals
from planner.loaders.names.row import HEADINGS
from tests.builders import DAY
from tests.helpers import codes
from tests.three_wards import HERON, KITE, RAIL, Tables, three_ward_tables, write_tables

RUNNER = CliRunner()
LISTED = {HERON: "HERON-WD", KITE: "Kite Sth.", RAIL: "Rail East"}
"""How the order system calls the wards of the map."""


def listed_otherwise() -> Tables:
    """Return the round of three wards, its patients with the wards of another system, one row untidy in its case."""
    tables = three_ward_tables()
    for patient in tables["patients"]:
        patient["ward"] = LISTED[patient["ward"]]
    tables["patients"][1]["ward"] = " heron - wd"
    tables["staff"][0]["wards"] = "heron wd; Kite Sth."
    return tables


def names_table(*rows: tuple[str, ...]) -> str:
    text = io.StringIO()
    csv.writer(text).writerows([HEADINGS, *rows])
    return text.getvalue()


CONFIRMED = names_table(*(("ward", LISTED[ward], "patients", ward, "yes", "") for ward in (HERON, KITE, RAIL)))


def read(folder: Path, **options: object) -> planner.LoadedRound:
    return load(folder, LoadOptions(round_date=DAY, **options))  # type: ignore[arg-type]  # options of the test


def problem_of(folder: Path) -> Problem:
    problem = read(folder).problem
    assert problem is not None
    return problem


@pytest.fixture
def folder(tmp_path):
    """The round as its lists have it, nothing confirmed."""
    return write_tables(listed_otherwise(), tmp_path / "three wards")


@pytest.fixture
def named(folder):
    """The same round with all wards confirmed."""
    (folder / "names.csv").write_text(CONFIRMED, encoding="utf-8")
    return folder


def test_unknown_wards_are_listed_with_the_nearest_ward_of_the_map(folder):
    wards = {row.found: row for row in names_of_round(folder).rows if row.kind is NameKind.WARD}
    assert {name: row.proposed for name, row in wards.items()} == {LISTED[w]: w for w in (HERON, KITE, RAIL)}
    assert wards[LISTED[HERON]].note.startswith("5 rows"), "4 patients and a row of the staff"
    assert {row.where for row in wards.values()} == {"patients"}


def test_unconfirmed_ward_is_never_used(folder):
    before = read(folder)
    said = RUNNER.invoke(app, ["names", str(folder)])
    assert said.exit_code == 3
    assert f"{LISTED[KITE]} (patients): {KITE}?" in said.output
    after = read(folder)
    assert after.problem is not None
    assert before.problem is not None
    assert after.problem.orders == before.problem.orders == ()
    assert {u.reason for u in after.problem.set_aside} == {Reason.NO_BED}
    assert "planner names" in after.problem.set_aside[0].detail


def test_confirmed_wards_place_every_patient_as_on_the_map(named, tmp_path):
    plain = problem_of(write_tables(three_ward_tables(), tmp_path / "plain"))
    problem = problem_of(named)
    assert not problem.set_aside
    assert problem.patients == plain.patients
    assert problem.staff[0].wards == {HERON, KITE}
    assert "staff-ward-unknown" not in codes(read(named))
    assert not names_of_round(named).waiting


def test_each_ward_is_confirmed_for_itself(folder):
    row = ("ward", LISTED[KITE], "patients", KITE, "yes", "")
    (folder / "names.csv").write_text(names_table(row), encoding="utf-8")
    problem = problem_of(folder)
    assert {p.ward for p in problem.patients.values()} == {KITE}
    assert {u.patient_id[0] for u in problem.set_aside if u.patient_id} == {"H", "R"}


def test_ward_written_before_the_bed_goes_by_the_sites_name(tmp_path):
    tables = listed_otherwise()
    for patient in tables["patients"][:6]:
        patient |= {"bed": f"{patient['ward']} {patient['bed']}", "ward": ""}
    folder = write_tables(tables, tmp_path / "r")
    (folder / "names.csv").write_text(CONFIRMED, encoding="utf-8")
    problem = problem_of(folder)
    assert not problem.set_aside
    assert {p.id: p.ward for p in problem.patients.values()}["K0201"] == KITE


def test_order_list_without_patients_table_may_name_wards_otherwise(tmp_path):
    tables = listed_otherwise()
    people = {p["patient_number"]: p for p in tables.pop("patients")}
    tables["orders"] = [order | people[order["patient_number"]] for order in tables["orders"]]
    folder = write_tables(tables, tmp_path / "r")
    found = names_of_round(folder)
    assert {r.found for r in found.rows if r.kind is NameKind.WARD} == set(LISTED.values())
    (folder / "names.csv").write_text(CONFIRMED, encoding="utf-8")
    assert not problem_of(folder).set_aside


def test_policy_may_name_wards_by_the_sites_names(named):
    policy = f'[round.quiet_hours]\n"{LISTED[KITE]}" = ["05:00-05:30"]\n'
    (named / "policy.toml").write_text(policy, encoding="utf-8")
    loaded = read(named)
    assert loaded.problem is not None
    assert set(loaded.problem.policy.round.quiet_hours) == {KITE}
    assert "policy-ward-unknown" not in codes(loaded)


def test_places_may_be_named_with_the_sites_ward(tmp_path):
    tables = listed_otherwise()
    tables["pickups"][2]["place"] = f"{LISTED[RAIL]}/{three_ward_tables()['places'][-1]['place']}"
    folder = write_tables(tables, tmp_path / "r")
    (folder / "names.csv").write_text(CONFIRMED, encoding="utf-8")
    loaded = read(folder)
    assert loaded.problem is not None
    assert len(loaded.problem.pickups) == 3


@pytest.mark.parametrize(
    ("row", "code"),
    [
        (("ward", LISTED[KITE], "patients", "", "Kit", ""), "name-means-nothing"),
        (("ward", HERON, "patients", "", KITE, ""), "name-hides-known"),
    ],
)
def test_ward_that_cannot_be_is_a_finding_and_not_used(folder, row, code):
    before = read(folder)
    (folder / "names.csv").write_text(names_table(row), encoding="utf-8")
    after = read(folder)
    (found,) = [f for f in after.findings if f.code.startswith("name-")]
    assert (found.code, found.severity) == (code, Severity.ERROR)
    assert found.source is not None
    assert (found.source.file, found.source.row) == ("names.csv", 2)
    assert after.problem == before.problem


def test_ward_with_two_meanings_is_not_used(folder):
    rows = [("ward", LISTED[KITE], "patients", "", meaning, "") for meaning in (KITE, RAIL)]
    (folder / "names.csv").write_text(names_table(*rows), encoding="utf-8")
    assert "name-twice" in codes(read(folder))
    assert not problem_of(folder).patients


def test_name_of_a_ward_that_this_round_does_not_have_is_no_fault(named):
    site = [*CONFIRMED.splitlines(), "ward,9 North,patients,Ward 9N,yes,"]
    (named / "names.csv").write_text("\n".join(site), encoding="utf-8")
    assert not [code for code in codes(read(named)) if code in ("name-means-nothing", "name-hides-known", "name-open")]


def test_wards_told_apart_by_their_signs_are_two(tmp_path):
    """Ward 1.1 is not ward 11: headings are compared without signs, wards are not."""
    tables = three_ward_tables()
    for row in (*tables["patients"], *tables["places"]):
        row["ward"] = {HERON: "A", KITE: "Ward 11", RAIL: "C"}[row["ward"]]
    tables["pickups"] = tables["pickups"][1:2]
    for patient in tables["patients"][4:6]:
        patient["ward"] = "1.1"
    folder = write_tables(tables, tmp_path / "r")
    (folder / "names.csv").write_text(names_table(("ward", "11", "", "Ward 11", "yes", "")), encoding="utf-8")
    problem = problem_of(folder)
    assert {u.patient_id for u in problem.set_aside} == {"K0201", "K0202"}


@pytest.mark.parametrize(
    ("text", "known", "nearest"),
    [
        ("4 West", ("Ward 4W", "Ward 4E", "Ward 14W", "Ward 5W"), ["Ward 4W"]),
        ("Kite", ("Kite (South)", "Kite (North)", "Heron"), ["Kite (North)", "Kite (South)"]),
        ("STATION 04-W", ("Ward 4W", "Ward 4E"), ["Ward 4W"]),
        ("Ward 12", ("Ward 11", "Ward 21", "Ward 1"), []),
        ("Ward", ("Ward 11", "Ward 21"), []),
        ("Hernon", ("Heron", "Tern"), ["Heron"]),
    ],
)
def test_nearest_wards_agree_in_their_numbers(text, known, nearest):
    assert ward_proposals(text, known) == nearest


def test_two_wards_as_near_are_no_proposal(tmp_path):
    tables = three_ward_tables()
    for place in tables["places"]:
        place["ward"] = {HERON: "Kite (North)"}.get(place["ward"], place["ward"])
    tables["pickups"] = tables["pickups"][1:2]
    for patient in tables["patients"]:
        patient["ward"] = "Kite"
    (row,) = [r for r in names_of_round(write_tables(tables, tmp_path / "r")).rows if r.kind is NameKind.WARD]
    assert row.proposed == ""
    assert "Kite (North) or Kite (South)" in row.note


def later_list(tmp_path: Path, ward: str, bed: str = "2A") -> Path:
    """Return a list with an order for one who is new to the round."""
    head = "order_number,patient_number,family_name,given_name,birth_date,ward,bed,test,priority"
    file = tmp_path / "later" / "later.csv"
    file.parent.mkdir()
    file.write_text(f'{head}\nN1,N0001,Berg,Ida,1950-04-01,"{ward}",{bed},CBC,routine\n', encoding="utf-8")
    return file


@pytest.mark.parametrize("ward", [KITE, "Teal"])
def test_list_during_the_round_never_takes_another_wards_bed(tmp_path, ward):
    """Bed 9 is on Rail, East alone: a list that has it on another ward does not mean that bed."""
    tables = three_ward_tables()
    tables["places"].append({"place": "9", "ward": RAIL, "kind": "bed", "position": "29"})
    problem = problem_of(write_tables(tables, tmp_path / "r"))
    new, _ = read_new_orders(later_list(tmp_path, ward, "9"), problem)
    assert [p.bed in problem.places for p in new.patients] == [False]


def test_list_during_the_round_is_read_with_the_confirmed_wards(named, tmp_path):
    problem = problem_of(named)
    new, findings = read_new_orders(later_list(tmp_path, LISTED[KITE]), problem)
    (patient,) = new.patients
    assert (problem.places[patient.bed].ward, problem.places[patient.bed].label) == (KITE, "2A")
    assert not [f for f in findings if f.severity is Severity.ERROR]


@pytest.fixture
def planned(named, tmp_path):
    """The outputs of the round whose wards are confirmed."""
    out = tmp_path / "out"
    made = planner.plan(planner.load(named, day=DAY), effort="quick")
    planner.write(made, out)
    return out


@pytest.mark.slow
@pytest.mark.parametrize(
    "news",
    [
        News(stat=[f"{LISTED[KITE]} 3A:POT"]),
        News(stat=["kite sth 3A:POT"]),
        News(moved=[f"{LISTED[KITE]} 3A={LISTED[KITE]} 3B"]),
        News(away=[f"{LISTED[KITE]}/3A=06:10-06:40"]),
        News(gone=[f"{LISTED[KITE]} 3A"]),
        News(refused=[f"{LISTED[KITE]} 3A"]),
        News(done=[f"{LISTED[KITE]} 3A"]),
    ],
)
def test_options_of_replan_take_the_confirmed_wards(planned, news):
    before = planner.read(planned).problem
    (bed,) = [p.id for p in before.places.values() if (p.ward, p.label) == (KITE, "3A")]
    made = planner.replan(planned, "06:00", news)
    assert made.problem.replan is not None
    happened = [str(event.what) for event in made.problem.replan.log]
    assert any(bed in text or "K0204" in text for text in happened)


@pytest.mark.slow
def test_explain_takes_the_confirmed_wards(planned):
    (first, _second) = planner.explain(planned, f"{LISTED[KITE]} 3A", tries=False)
    assert first.explained.order is not None
    assert first.explained.order.patient_id == "K0204"
