"""What must be decided about a planned order stands in "Needs a decision", a stat first: five wards, equal beds."""

from __future__ import annotations

import io
from pathlib import Path

import openpyxl
import pytest

from planner.cli.revision import decision_lines
from planner.domain.problem import Problem
from planner.exporters.page.page import round_sheet_html
from planner.exporters.view.build import build_view
from planner.exporters.view.round_view import RoundView
from planner.exporters.view.words import DECISION
from planner.exporters.workbook.book import round_sheet_workbook
from planner.finding_codes import DECISION_CODES
from planner.findings import to_decide
from planner.library.replan_findings import TO_DO_CODES
from planner.pipeline import PlannedRound
from planner.visits.windows import order_windows
from tests.three_wards import TWO_MORE, five_ward_tables, load_tables, plan_quickly

pytestmark = pytest.mark.slow

LAST = f"{TWO_MORE[1]} 3A"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Problem, PlannedRound]:
    """A stat paracetamol level held until four hours after the dose, in the last bed; routine tests nobody knows."""
    tables = five_ward_tables()
    tables["orders"][-1] |= {"test": "APAP", "priority": "stat", "last_dose_at": "2026-03-10 03:00"}
    tables["orders"].append({"order_number": "U1", "patient_number": "H0101", "test": "QQQ"})
    problem = load_tables(tables, tmp_path_factory.mktemp("round") / "five")
    return problem, plan_quickly(problem)


@pytest.fixture(scope="module")
def view(made: tuple[Problem, PlannedRound]) -> RoundView:
    problem, planned = made
    return build_view(problem, planned.plan, order_windows(problem)[0], revision=1, findings=planned.findings)


def test_held_stat_is_the_first_decision(view: RoundView) -> None:
    first = view.decisions[0]
    assert (first.urgency, first.bed, first.tests, first.is_planned) == ("STAT", LAST, "APAP", True)
    assert "held until 07:00" in first.detail
    assert view.decision_groups[0].lines[0] == first
    assert view.decision_count == "2 orders, 1 STAT, 1 of them planned"


def test_it_is_said_once_and_not_under_please_check(view: RoundView) -> None:
    assert not any("held until" in check.text for check in view.checks)


def test_workbook_and_page_hold_it(view: RoundView) -> None:
    book = openpyxl.load_workbook(io.BytesIO(round_sheet_workbook(view)))
    cells = [str(c.value) for sheet in book.worksheets for row in sheet.iter_rows() for c in row if c.value is not None]
    assert f"☐ STAT {LAST}" in cells
    assert f"☐\u00a0STAT {LAST}" in round_sheet_html(view).decode()


def test_terminal_names_the_stat_first(made: tuple[Problem, PlannedRound]) -> None:
    problem, planned = made
    lines = decision_lines(problem, planned.plan, to_decide(planned.findings), 400)
    assert lines[1].startswith("  STAT: ")


def test_every_code_to_decide_has_its_words_and_is_asked_about_in_a_replan() -> None:
    assert DECISION.keys() == DECISION_CODES
    assert DECISION_CODES <= TO_DO_CODES


def test_several_beds_of_one_decision_are_all_named(tmp_path: Path) -> None:
    """A ward whose doctors need all before it can be there: one decision on both beds, urgent if one is."""
    tables = five_ward_tables()
    tables["orders"][-1]["priority"] = "urgent"
    (tmp_path / "five").mkdir()
    (tmp_path / "five" / "policy.toml").write_text('[round]\nneeded_by = { "Tern" = "05:01" }\n')
    problem = load_tables(tables, tmp_path / "five")
    planned = plan_quickly(problem)
    view = build_view(problem, planned.plan, order_windows(problem)[0], revision=1, findings=planned.findings)
    (line,) = view.decisions
    assert (line.urgency, line.bed, line.is_planned) == ("URGENT", "Tern 1A, Tern 3A", True)
