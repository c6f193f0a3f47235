"""A filled column that is nearly named like a safety column is a decision, and asked about on every card with a value.

Five wards with equal bed numbers, headings as people write them.
"""

from __future__ import annotations

import io
from pathlib import Path

import openpyxl
import pytest
from typer.testing import CliRunner

from planner.cli.app import app
from planner.exporters.view.build import build_view
from planner.exporters.view.round_view import RoundView
from planner.exporters.view.stop_view import VisitView
from planner.exporters.workbook.book import round_sheet_workbook
from planner.findings import Finding, Severity, unread
from planner.loaders import LoadOptions, load
from planner.loaders.tables.near_safety import column_in_words, safety_column_near, says_something
from planner.visits.windows import order_windows
from tests.builders import DAY
from tests.three_wards import Tables, five_ward_tables, plan_quickly, write_tables

pytestmark = pytest.mark.slow

CODE = "safety-column-unmapped"


def read(tables: Tables, folder: Path) -> tuple[RoundView, tuple[Finding, ...]]:
    loaded = load(write_tables(tables, folder), LoadOptions(round_date=DAY))
    assert loaded.problem is not None
    planned = plan_quickly(loaded.problem)
    findings = (*loaded.findings, *planned.findings)
    windows = order_windows(loaded.problem)[0]
    return build_view(loaded.problem, planned.plan, windows, revision=1, findings=findings), findings


def card(view: RoundView, number: str) -> VisitView:
    return next(visit for route in view.routes for visit in route.visits if visit.patient_number == number)


@pytest.mark.parametrize(
    ("heading", "column"),
    [
        ("Isolaton", "precautions"),
        ("iso. type", "precautions"),
        ("Isolationsart", "precautions"),
        ("ISOLATION (Y/N)", "precautions"),
        ("Precuations", "precautions"),
        ("IPC flag", "precautions"),
        ("Infektion", "precautions"),
        ("MRSA/VRE", "precautions"),
        ("Pat. alerts 2", "alerts"),
        ("Alrets", "alerts"),
        ("Latex?", "allergies"),
        ("latexAllergy", "allergies"),
        ("Allergys", "allergies"),
        ("Drug intolerance", "allergies"),
        ("Arm restr.", "limbs"),
        ("LimbRestricted", "limbs"),
        ("AV fistula", "limbs"),
        ("Fastng", "fasting"),
        ("NPO?", "fasting"),
    ],
)
def test_heading_near_a_safety_column_is_known_for_what_it_is(heading: str, column: str) -> None:
    assert safety_column_near(heading) == column


@pytest.mark.parametrize(
    "heading",
    ["Door sign", "Insurer", "Shoe size", "Diet", "Location 2", "Prescriptions", "Injection", "LIMS no", "Printed by",
     "Pharmacy", "Alarm clock", "Last seen", "Testing", "Limits", "Farm", "Consultant", "Admitted", ""],
)  # fmt: skip
def test_other_headings_are_not_taken_for_one(heading: str) -> None:
    assert safety_column_near(heading) is None


@pytest.mark.parametrize("text", ["keine", "Nein", "aucun", "néant", "ninguna", "nessuna", "kein", "NKDA", "-"])
def test_nothing_in_other_languages_asks_nothing(text: str) -> None:
    assert not says_something("Allergyy", text)
    assert says_something("Allergyy", "keine Angabe")


def test_it_is_a_decision_and_asked_on_every_card_that_has_a_value(tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["patients"][0]["Isolaton"] = "contact"  # Heron 1A
    tables["patients"][-2]["Isolaton"] = "see door"  # Tern 1A
    tables["patients"][4]["Isolaton"] = "none"  # Kite (South) 1A
    view, findings = read(tables, tmp_path / "five")
    [found] = [finding for finding in findings if finding.code == CODE]
    assert "'Isolaton'" in found.message and "precautions" in found.message
    assert found in unread(findings)
    for number, said in (("H0101", "Isolaton: contact"), ("T0501", "Isolaton: see door")):
        assert any(said in line and "nurse" in line for line in card(view, number).ask), card(view, number).ask
    for number in ("K0201", "H0102", "N0401"):
        assert not any("Isolaton" in line for line in card(view, number).ask)
    assert view.decisions[0].bed == "list"
    assert not any("Isolaton" in check.text for check in view.checks)


def test_column_that_says_the_same_of_everybody_is_asked_too(tmp_path: Path) -> None:
    """A whole ward may be in isolation."""
    tables = five_ward_tables()
    for row in tables["patients"]:
        row["Isol. stat"] = "airborne"
    view, _ = read(tables, tmp_path / "five")
    assert all(
        any("Isol. stat: airborne" in line for line in visit.ask) for route in view.routes for visit in route.visits
    )


def test_empty_column_is_no_decision(tmp_path: Path) -> None:
    tables = five_ward_tables()
    for row in tables["patients"]:
        row["Isolaton"] = ""
    assert CODE not in {finding.code for finding in read(tables, tmp_path / "five")[1]}


def test_column_of_the_order_list_is_one_too(tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["orders"][-1]["Latx"] = "yes"
    tables["orders"][-1]["Latex allergie"] = "yes"
    view, findings = read(tables, tmp_path / "five")
    assert CODE in {finding.code for finding in findings}
    assert any("Latex allergie: yes" in line for line in card(view, "T0502").ask)


@pytest.mark.parametrize(("first", "severity"), [("", Severity.WARNING), ("contact", Severity.ERROR)])
def test_second_column_that_means_the_same_is_one_finding_and_is_asked_about(
    first: str, severity: Severity, tmp_path: Path
) -> None:
    """What the second says is not lost, and the list is not said to lack the column that it has twice."""
    tables = five_ward_tables()
    tables["patients"][0] |= {"precautions": first, "Isolation": "airborne"}
    view, findings = read(tables, tmp_path / "five")
    assert CODE not in {finding.code for finding in findings}
    (twice,) = (finding for finding in findings if finding.code == "heading-twice")
    assert twice.severity is severity
    assert twice.message.endswith("The card of each patient for whom the second says something asks about it")
    assert any("Isolation: airborne" in line for line in card(view, "H0101").ask)


def test_no_may_mean_yes_where_the_heading_turns_it_round(tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["patients"][0]["Left arm OK"] = "no"
    view, _ = read(tables, tmp_path / "five")
    assert any("Left arm OK: no" in line for line in card(view, "H0101").ask)


def test_command_exits_with_3_and_the_workbook_says_it_first(tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["patients"][0]["Isolaton"] = "contact"
    folder = write_tables(tables, tmp_path / "five")
    done = CliRunner().invoke(
        app, ["plan", str(folder), "--date", DAY.isoformat(), "--out", str(tmp_path / "out"), "--effort", "quick"]
    )
    assert done.exit_code == 3, done.output
    assert done.stdout.startswith("Not read or not used")
    assert "Isolaton" in done.stdout
    book = openpyxl.load_workbook(io.BytesIO((tmp_path / "out" / "r1" / "round-sheet.xlsx").read_bytes()))
    cells = [str(c.value) for sheet in book.worksheets for row in sheet.iter_rows() for c in row if c.value is not None]
    assert "NEEDS A DECISION (1 about the list)" in cells


def test_workbook_counts_the_list_beside_orders(tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["patients"][0]["Isolaton"] = "contact"
    tables["orders"].append({"order_number": "U1", "patient_number": "T0502", "test": "QQQ", "priority": "stat"})
    view, _ = read(tables, tmp_path / "five")
    assert view.decision_count == "1 about the list; 1 order, 1 STAT, not planned"
    assert [line.bed for line in view.decisions] == ["Tern 3A", "list"]
    assert round_sheet_workbook(view)


SAYS = {
    "Wichtig": ("stat", "routine"),
    "Zust.": ("cancelled", "active"),
    "Wer": ("nurse", "lab"),
    "Schutz": ("contact", ""),
    "Art": ("capillary", "venous"),
    "Mat": ("urine", "blood"),
}


@pytest.mark.parametrize("heading", SAYS)
def test_column_of_words_that_bear_on_the_plan_is_one_too(tmp_path: Path, heading: str) -> None:
    """What the words say (stat, cancelled, nurse) counts, whatever the heading is called."""
    tables = five_ward_tables()
    first, other = SAYS[heading]
    for number, row in enumerate(tables["orders"]):
        row[heading] = other if number else first
    assert CODE in {finding.code for finding in read(tables, tmp_path / "five")[1]}


@pytest.mark.parametrize("nothing", ["none", "-", "no", "n/a", "keine"])
@pytest.mark.parametrize("first", ["contact", "stat", "cancelled", "nurse"])
def test_cells_that_say_nothing_do_not_hide_what_the_column_says(first: str, nothing: str) -> None:
    assert column_in_words([first, nothing, ""]) is not None
    assert column_in_words([nothing, nothing, ""]) is None


@pytest.mark.parametrize(
    ("first", "other"), [("routine", "routine"), ("active", ""), ("stat", "third floor"), ("a", "n")]
)
def test_column_of_other_words_or_of_what_goes_without_saying_is_none(tmp_path: Path, first: str, other: str) -> None:
    tables = five_ward_tables()
    for number, row in enumerate(tables["orders"]):
        row["Xyz"] = other if number else first
    assert CODE not in {finding.code for finding in read(tables, tmp_path / "five")[1]}
