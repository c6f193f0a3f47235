"""A site's own names: listed with the nearest meaning, believed only when confirmed, used on the next day's export."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from typer.testing import CliRunner

import planner
from planner.cli.app import app
from planner.domain.orders import Precaution
from planner.domain.problem import Problem
from planner.domain.revisions.changes import StatOrders
from planner.domain.site_names import NameKind
from planner.exporters.plan_json.codec import decode, encode
from planner.findings import Severity
from planner.library.loading import InputDigest
from planner.loaders import LoadOptions, load
from planner.loaders.during.new_orders import read_new_orders
from planner.loaders.during.stat_tests import look_up_tests
from planner.loaders.names.collect import RoundNames, names_of_round
from planner.loaders.names.row import HEADINGS, Answer
from tests import untidy_export as export
from tests.helpers import codes

RUNNER = CliRunner()
UNREAD = {"unknown-test", "test-unclear", "unknown-precaution", "missing-column", "unknown-table"}


def write(folder: Path, text: str, name: str = "orders.csv") -> Path:
    folder.mkdir(exist_ok=True, parents=True)
    (folder / name).write_text(text, encoding="utf-8")
    return folder


def confirm(found: RoundNames, answers: dict[tuple[str, str], str], file: Path | None = None) -> None:
    """Write the table with the answers in its column ``confirm``, as a person does who edits that column only."""
    rows = [list(row.cells) for row in found.rows]
    for row in rows:
        row[HEADINGS.index("confirm")] = answers.get((row[0], row[1]), row[HEADINGS.index("confirm")])
    text = io.StringIO()
    csv.writer(text).writerows([HEADINGS, *rows])
    (file or found.file).write_text(text.getvalue(), encoding="utf-8")


def lead() -> dict[tuple[str, str], str]:
    """Return what the lead of the untidy export answers."""
    columns = {("column", h): means or "no" for h, means in zip(export.HEAD, export.MEANS, strict=True)}
    tests = {("test", name): code for name, code in export.TESTS.items()}
    precautions = {("precaution", name): means for name, means in export.PRECAUTIONS.items()}
    return columns | tests | precautions | {("alert", name): means for name, means in export.ALERTS.items()}


def learn(folder: Path) -> None:
    """Confirm what is listed, twice: a list whose columns are not known shows its tests only once they are."""
    for _ in range(2):
        confirm(names_of_round(folder), lead())


@pytest.mark.slow
def test_export_read_on_monday_needs_no_editing_on_tuesday(tmp_path):
    week = write(tmp_path / "five wards (2)", export.monday())
    assert "missing-column" in codes(load(week))
    learn(week)
    write(week, export.tuesday())
    loaded = load(week, LoadOptions())
    assert not codes(loaded) & UNREAD
    problem = loaded.problem
    assert (len(problem.orders), len(problem.set_aside)) == (30, 0)
    beds = {(p.ward.casefold(), problem.places[p.bed].label.casefold()) for p in problem.patients.values()}
    assert beds == {(ward.casefold(), bed.casefold()) for ward in export.WARDS for bed in export.BEDS}
    isolated = [p.precautions for p in problem.patients.values() if p.precautions]
    assert isolated.count(frozenset({Precaution.CONTACT})) == 6
    assert isolated.count(frozenset({Precaution.DROPLET})) == 3
    assert any("phenprocoumon" in alert for p in problem.patients.values() for alert in p.alerts)


def test_nothing_unconfirmed_is_believed(tmp_path):
    week = write(tmp_path / "round", export.monday())
    before = load(week)
    confirm(names_of_round(week), {})
    after = load(week)
    assert after.problem == before.problem
    assert after.problem is None
    assert "name-open" in codes(after)


@pytest.mark.slow
def test_one_unconfirmed_column_stays_out_while_others_are_used(tmp_path):
    week = write(tmp_path / "round", export.monday())
    answers = {key: said for key, said in lead().items() if key != ("column", "Iso-Verm.")}
    for _ in range(2):
        confirm(names_of_round(week), answers)
    problem = load(week).problem
    assert all(p.precautions <= {Precaution.UNCLEAR} for p in problem.patients.values())
    assert any("Iso-Verm.: Kontaktiso" in p.unmapped for p in problem.patients.values())


def test_proposals_are_the_nearest_known_meanings(tmp_path):
    head = "order_number,patient_number,bed,ward,birth date (pat.),test,precautions,Quarantaene"
    rows = [
        f"A{n},P{n},{bed},{ward},1950-01-0{n + 1},{test},{iso},{more}"
        for n, (ward, bed, test, iso, more) in enumerate(
            [
                ("Heron", "3A", "Kalum", "Varicella Haus 7", "airborne"),
                ("Kite", "3A", "CBC", "Kontaktisolierung", "droplet"),
                ("Rail", "3A", "Kalum", "Neutropeni", ""),
                ("Teal", "3A", "cortisol", "", "contact"),
                ("Wren", "3A", "Fluoxetinol xyz", "Isolation Haus 7", ""),
            ]
        )
    ]
    found = names_of_round(write(tmp_path / "r", "\n".join([head, *rows])))
    means = {(row.kind, row.found): row.proposed for row in found.rows}
    assert means[NameKind.COLUMN, "birth date (pat.)"] == "birth_date"
    assert means[NameKind.PRECAUTION, "Varicella Haus 7"] == "contact+airborne"
    assert means[NameKind.PRECAUTION, "Kontaktisolierung"] == "contact"
    assert means[NameKind.PRECAUTION, "Neutropeni"] == "protective"
    assert means[NameKind.PRECAUTION, "Isolation Haus 7"] == ""
    assert means[NameKind.TEST, "Kalum"] == "POT"
    assert means[NameKind.TEST, "cortisol"] == "", "a name of several tests is for the lead to settle"
    notes = {row.found: row.note for row in found.rows}
    assert notes["Kalum"].startswith("2 orders")
    assert "CORT" in notes["cortisol"]
    assert "safety" in notes["birth date (pat.)"]
    assert "safety" in notes["Kontaktisolierung"]


def test_column_is_proposed_by_the_words_below_it(tmp_path):
    head = "order_number,patient_number,bed,ward,test,Quarantaene"
    rows = [
        f"A{n},P{n},3A,{ward},CBC,{iso}"
        for n, (ward, iso) in enumerate(zip(export.WARDS[:3], ("airborne", "Kontakt", ""), strict=True))
    ]
    found = names_of_round(write(tmp_path / "r", "\n".join([head, *(r.replace("Rail, East", "Rail") for r in rows)])))
    assert [(row.found, row.proposed) for row in found.rows] == [("Quarantaene", "precautions")]


def names_table(*rows: str) -> str:
    return "\n".join([",".join(HEADINGS), *rows]) + "\n"


LIST = "order_number,patient_number,birth_date,ward,bed,test,precautions,Zeichen\n" + "".join(
    f"A{n},P{n},1950-05-0{n + 1},{ward},3A,Kaliumwert,Wolke,x{n}\n"
    for n, ward in enumerate(("Heron", "Kite", "Rail", "Teal", "Wren"))
)


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ("test,Kaliumwert,orders,POT,Kalzinat,", "name-means-nothing"),
        ("precaution,Wolke,orders,contact,umbrella,", "name-means-nothing"),
        ("column,Zeichen,orders,alerts,shoe size,", "name-means-nothing"),
        ("test,Kaliumwert,orders,,yes,", "name-means-nothing"),
        ("test,CRP,orders,,CBC,", "name-hides-known"),
        ("test,potassium,orders,,CBC,", "name-hides-known"),
        ("column,birth_date,orders,,ordered_at,", "name-hides-known"),
        ("column,DOB,orders,,ordered_at,", "name-hides-known"),
        ("precaution,airborne,orders,,none,", "name-hides-known"),
        ("precaution,standard,orders,,droplet,", "name-hides-known"),
        ("precaution,standard precautions,orders,,droplet,", "name-hides-known"),
        ("precaution,Contact precautions,orders,none,yes,", "name-hides-known"),
        ("precaution,Droplet-Isolation,orders,none,yes,", "name-hides-known"),
        ("precaution,MRSA+,orders,none,yes,", "name-hides-known"),
        ("precaution,airborne?,orders,alert,yes,", "name-hides-known"),
        ("animal,Wolke,orders,contact,yes,", "name-unreadable"),
        ("test,,orders,POT,yes,", "name-unreadable"),
    ],
)  # fmt: skip
def test_confirmed_name_that_cannot_be_is_a_finding_and_not_used(tmp_path, row, code):
    folder = write(tmp_path / "r", LIST)
    before = load(folder)
    write(folder, names_table(row), "names.csv")
    after = load(folder)
    (found,) = [f for f in after.findings if f.code.startswith("name-") and f.code != "name-open"]
    assert (found.code, found.severity) == (code, Severity.ERROR)
    assert found.source.file == "names.csv"
    assert found.source.row == 2
    assert after.problem.orders == before.problem.orders
    assert after.problem.patients == before.problem.patients


def test_two_meanings_for_one_name_are_a_finding_and_neither_is_used(tmp_path):
    folder = write(tmp_path / "r", LIST)
    rows = ("test,Kaliumwert,orders,,POT,", "test,KALIUMWERT ,orders,,BMP,", "precaution,Wolke,orders,,contact,",
            "precaution,wolke,patients,,contact,")  # fmt: skip
    write(folder, names_table(*rows), "names.csv")
    loaded = load(folder)
    (found,) = [f for f in loaded.findings if f.code == "name-twice"]
    assert "POT" in found.message
    assert "BMP" in found.message
    assert [u.test for u in loaded.problem.set_aside] == ["Kaliumwert"] * 5
    assert all(Precaution.CONTACT in p.precautions for p in loaded.problem.patients.values())


def test_name_of_several_tests_may_be_settled_by_the_site(tmp_path):
    folder = write(tmp_path / "r", LIST.replace("Kaliumwert", "cortisol"))
    write(folder, names_table("test,cortisol,orders,,CORT,"), "names.csv")
    assert {o.test for o in load(folder).problem.orders} == {"CORT"}


def test_answer_no_is_not_asked_again_and_changes_nothing(tmp_path):
    folder = write(tmp_path / "r", LIST)
    before = load(folder)
    found = names_of_round(folder)
    confirm(found, dict.fromkeys(((r.kind.value, r.found) for r in found.rows), "no"))
    again = names_of_round(folder)
    assert (again.num_new, again.waiting) == (0, ())
    assert {row.answer for row in again.rows} == {Answer.REFUSED}
    assert load(folder).problem.set_aside == before.problem.set_aside


def test_rows_of_the_table_are_kept_and_new_ones_follow(tmp_path):
    folder = write(tmp_path / "r", LIST)
    confirm(names_of_round(folder), {("test", "Kaliumwert"): "POT"})
    write(folder, LIST.replace("Wolke", "Nebel"))
    again = names_of_round(folder)
    assert [row.found for row in again.rows] == ["Zeichen", "Kaliumwert", "Wolke", "Nebel"]
    assert again.num_new == 1
    assert next(row for row in again.rows if row.found == "Kaliumwert").confirm == "POT"


def test_table_that_cannot_be_read_is_not_written_over(tmp_path):
    folder = write(tmp_path / "r", LIST)
    write(folder, names_table("animal,Wolke,orders,contact,yes,"), "names.csv")
    assert not names_of_round(folder).can_write


def test_names_of_a_site_folder_serve_its_rounds(tmp_path):
    site = write(tmp_path / "our site", names_table("test,Kaliumwert,orders,,POT,"), "names.csv")
    folder = write(tmp_path / "r", LIST)
    assert not load(folder).problem.orders
    assert {o.test for o in load(folder, LoadOptions(site=site)).problem.orders} == {"POT"}
    write(folder, 'site_folder = "../our site"\n', "policy.toml")
    assert {o.test for o in load(folder).problem.orders} == {"POT"}
    assert names_of_round(folder, site=site).file == site / "names.csv"


def test_site_folder_brings_the_laboratorys_tests_too(tmp_path):
    site = write(tmp_path / "site", "test,max_rt_min\nPOT,45\n", "tests.csv")
    folder = write(tmp_path / "r", LIST.replace("Kaliumwert", "POT"))
    assert load(folder, LoadOptions(site=site)).problem.catalogue.tests["POT"].stability_in("HEPG") == 45 * 60


def test_site_folder_that_is_not_there_is_an_error(tmp_path):
    folder = write(tmp_path / "r", LIST)
    assert "site-not-found" in codes(load(folder, LoadOptions(site=tmp_path / "nowhere")))


def test_names_beside_a_round_of_one_file_are_used(tmp_path):
    write(tmp_path, LIST, "night export.csv")
    write(tmp_path, names_table("test,Kaliumwert,orders,,POT,"), "names.csv")
    loaded = load(tmp_path / "night export.csv")
    assert {o.test for o in loaded.problem.orders} == {"POT"}
    assert names_of_round(tmp_path / "night export.csv").file == tmp_path / "names.csv"


def test_workbook_keeps_its_names_in_a_sheet(load_book):
    orders = [row.split(",") for row in LIST.splitlines()]
    names = [list(HEADINGS), ["test", "Kaliumwert", "orders", "POT", "yes", ""]]
    assert {o.test for o in load_book({"orders": orders, "names": names}).problem.orders} == {"POT"}
    assert {o.test for o in load_book({"Export 1": orders, "names": names}).problem.orders} == {"POT"}


def test_alert_may_mean_a_precaution(tmp_path):
    folder = write(tmp_path / "r", LIST.replace("precautions", "alerts").replace("Kaliumwert", "CBC"))
    write(folder, names_table("alert,wolke,orders,,droplet,"), "names.csv")
    patients = load(folder).problem.patients.values()
    assert all(p.precautions == {Precaution.DROPLET} and "Wolke" in p.alerts for p in patients)


def test_remarks_on_a_patient_are_no_names(tmp_path):
    text = LIST.replace("precautions", "alerts").replace("Kaliumwert", "CBC").replace("Wolke", "daughter visits at 7")
    found = names_of_round(write(tmp_path / "r", text))
    assert [row.found for row in found.rows] == ["Zeichen"]


@pytest.mark.slow
def test_lists_that_come_during_the_round_are_read_with_the_names_of_its_plan(tmp_path):
    week = write(tmp_path / "round", export.monday())
    learn(week)
    problem = load(week).problem
    away = write(tmp_path / "elsewhere", export.tuesday(), "later.csv") / "later.csv"
    new, findings = read_new_orders(away, problem)
    assert len(new.orders) == 30
    assert not {f.code for f in findings} & UNREAD
    (stat,), told = look_up_tests(
        [StatOrders(bed="Teal 3A", tests=("kalium BLITZ",))], problem.catalogue, problem.site_names
    )
    assert (stat.tests, told) == (("POT",), ())


@pytest.mark.slow
def test_command_writes_the_table_once_and_plans_with_what_is_confirmed(tmp_path):
    week = write(tmp_path / "five wards", export.monday())
    said = RUNNER.invoke(app, ["names", str(week)])
    assert said.exit_code == 3
    assert "Auftrags-Kennung (orders)" in said.output
    table = week / "names.csv"
    assert table.read_bytes().startswith(b"\xef\xbb\xbf" + ",".join(HEADINGS).encode())
    before = table.read_bytes()
    assert RUNNER.invoke(app, ["names", str(week)]).exit_code == 3
    assert table.read_bytes() == before
    learn(week)
    assert RUNNER.invoke(app, ["names", str(week)]).exit_code == 0
    write(week, export.tuesday())
    checked = RUNNER.invoke(app, ["check", str(week)])
    assert "30 orders read: 30 to plan" in checked.output


@pytest.mark.slow
def test_command_takes_a_site_folder(tmp_path):
    site = tmp_path / "site"
    site.mkdir()
    monday = write(tmp_path / "monday", export.monday())
    tuesday = write(tmp_path / "tuesday", export.tuesday())
    for _ in range(2):
        assert RUNNER.invoke(app, ["names", str(monday), "--site", str(site)]).exit_code == 3
        confirm(names_of_round(monday, site=site), lead())
    assert not (monday / "names.csv").exists()
    assert "30 to plan" in RUNNER.invoke(app, ["check", str(tuesday), "--site", str(site)]).output
    assert RUNNER.invoke(app, ["check", str(tuesday)]).exit_code == 4


def test_changed_names_are_a_changed_input(tmp_path):
    site = write(tmp_path / "site", names_table("test,Kaliumwert,orders,,,"), "names.csv")
    folder = write(tmp_path / "r", LIST)
    before = InputDigest(folder, [], site=site).with_options({})
    write(site, names_table("test,Kaliumwert,orders,,POT,"), "names.csv")
    assert InputDigest(folder, [], site=site).with_options({}) != before


def test_names_survive_plan_json(tmp_path):
    folder = write(tmp_path / "r", LIST)
    write(folder, names_table("test,Kaliumwert,orders,,POT,", "column,Zeichen,orders,,alerts,"), "names.csv")
    problem = load(folder).problem
    assert {n.means for n in problem.site_names} == {"POT", "alerts"}
    assert decode(Problem, encode(problem)).site_names == problem.site_names


def test_column_nearly_named_like_a_safety_column_is_decided_once(tmp_path):
    text = LIST.replace("Zeichen", "Iso Kennz").replace("Kaliumwert", "POT").replace("Wolke", "none")
    for n in range(5):
        text = text.replace(f"x{n}", "MRSA" if n else "")
    folder = write(tmp_path / "r", text)
    assert "safety-column-unmapped" in codes(load(folder))
    lacking = write(tmp_path / "lacking", text.replace(",precautions,", ",Farbe,"))
    row = next(row for row in names_of_round(lacking).rows if row.found == "Iso Kennz")
    assert (row.proposed, "safety" in row.note) == ("precautions", True)
    write(folder, names_table("column,Iso Kennz,orders,precautions,no,"), "names.csv")
    refused = load(folder)
    assert not codes(refused) & {"safety-column-unmapped"}
    assert any("Iso Kennz: MRSA" in p.unmapped for p in refused.problem.patients.values()), "it is printed all the same"
    later = read_new_orders(write(tmp_path / "later", text) / "orders.csv", refused.problem)[1]
    assert "safety-column-unmapped" not in {finding.code for finding in later}, "nor in a list that comes later"
    write(folder, text.replace(",precautions,", ",Farbe,"))
    write(folder, names_table("column,Iso Kennz,orders,precautions,yes,"), "names.csv")
    used = load(folder).problem
    assert sum(Precaution.CONTACT in p.precautions for p in used.patients.values()) == 4


def test_yes_and_no_for_one_column_are_two_meanings(tmp_path):
    folder = write(tmp_path / "r", LIST)
    write(folder, names_table("column,Zeichen,orders,alerts,yes,", "column,ZEICHEN,orders,alerts,no,"), "names.csv")
    loaded = load(folder)
    assert "name-twice" in codes(loaded)
    assert not any("x1" in p.alerts for p in loaded.problem.patients.values())


@pytest.mark.slow
def test_library_writes_the_table_as_the_command_does(tmp_path):
    folder = write(tmp_path / "r", LIST)
    found = planner.names(folder)
    assert isinstance(found, planner.RoundNames)
    assert found.num_new == len(found.rows) == 3
    assert [row.cells for row in names_of_round(folder).rows] == [row.cells for row in found.rows]
    assert planner.names(str(folder)).num_new == 0
    write(folder, names_table("animal,Wolke,orders,contact,yes,"), "names.csv")
    before = (folder / "names.csv").read_bytes()
    assert not planner.names(folder).can_write
    assert (folder / "names.csv").read_bytes() == before
