"""What needs a decision is listed by priority, and a stat is named: five wards with equal bed numbers."""

from __future__ import annotations

import html
import io
import json
import re
from pathlib import Path

import openpyxl
import pytest

from planner.domain.orders import OrderId, Priority
from planner.domain.plan import Reason, Unplanned
from planner.domain.problem import Problem
from planner.exporters.page.page import round_sheet_html
from planner.exporters.plan_json import plan_from_json, plan_to_json
from planner.exporters.terminal.summary import summary_lines
from planner.exporters.view.build import build_view
from planner.exporters.view.round_view import RoundView
from planner.exporters.workbook.book import round_sheet_workbook
from planner.findings import Finding, Severity
from planner.pipeline import PlannedRound
from planner.visits.windows import order_windows
from tests.three_wards import TWO_MORE, five_ward_tables, load_tables, plan_quickly

pytestmark = pytest.mark.slow

LAST = f"{TWO_MORE[1]} 3A"
"""The bed that comes last in every order of beds."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Problem, PlannedRound]:
    """A round with unknown tests: routine ones on every ward, a stat in the last bed, an unreadable priority."""
    tables = five_ward_tables()
    for number, patient in enumerate(tables["patients"]):
        tables["orders"].append(
            {"order_number": f"U{number:02}", "patient_number": patient["patient_number"], "test": "QQQ"}
        )
    tables["orders"][-1] |= {"priority": "stat", "order_number": "U-STAT", "test": "QQZ"}
    tables["orders"].append(
        {"order_number": "U-ASAP", "patient_number": "K0201", "test": "APAP", "priority": "asap", "status": "on hold"}
    )
    tables["orders"].append(
        {"order_number": "U-WORD", "patient_number": "K0202", "test": "CBC", "priority": "statt, please"}
    )
    problem = load_tables(tables, tmp_path_factory.mktemp("round") / "five")
    return problem, plan_quickly(problem)


@pytest.fixture(scope="module")
def view(made: tuple[Problem, PlannedRound]) -> RoundView:
    problem, planned = made
    return build_view(problem, planned.plan, order_windows(problem)[0], revision=1, findings=planned.findings)


def test_loader_fills_the_priority_of_what_is_set_aside(made: tuple[Problem, PlannedRound]) -> None:
    priority = {item.order_id: item.priority for item in made[0].set_aside}
    assert priority[OrderId("U-STAT")] is Priority.STAT
    assert priority[OrderId("U-ASAP")] is Priority.ASAP
    assert priority[OrderId("U01")] is Priority.ROUTINE
    assert priority[OrderId("U-WORD")] is None  # nobody knows: it may be a stat


def test_stat_is_named_and_comes_first_in_the_list(view: RoundView) -> None:
    assert [(line.urgency, line.bed) for line in view.decisions][:2] == [
        ("STAT", LAST),
        ("priority?", "Kite (South) 1B"),
    ]
    assert all(line.urgency == "" for line in view.decisions[2:])
    assert view.for_information[0].urgency == "ASAP"


def test_group_with_a_stat_comes_before_larger_ones(view: RoundView) -> None:
    first = view.decision_groups[0]
    assert first.rows()[0][0] == f"STAT {LAST}"
    assert "1 STAT" in first.title


def test_terminal_names_the_stat_first(made: tuple[Problem, PlannedRound]) -> None:
    problem, planned = made
    lines = summary_lines(problem, planned.plan)
    assert lines[lines.index("Needs a decision") + 1].startswith(f"  STAT, bed {LAST}, order U-STAT")
    assert any("1 of them STAT" in line for line in lines)


def test_workbook_and_page_name_the_stat_first(view: RoundView) -> None:
    book = openpyxl.load_workbook(io.BytesIO(round_sheet_workbook(view)))
    cells = [str(c.value) for sheet in book.worksheets for row in sheet.iter_rows() for c in row if c.value is not None]
    listed = [cell for cell in cells if cell.startswith("☐ ") and re.search(r"\b[1-3][AB]$", cell)]
    assert listed[0] == f"☐ STAT {LAST}"
    page = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", round_sheet_html(view).decode())).split())
    listed = re.findall(r"☐ ((?:STAT )?\S[^☐]{0,15}? [1-3][AB]) U", page)
    assert listed[0] == f"STAT {LAST}"


def test_order_that_nobody_draws_is_listed_once_and_never_as_planned(made: tuple[Problem, PlannedRound]) -> None:
    """A lead who reads 'planned' beside a stat that nobody draws takes the patient for cared for."""
    problem, planned = made
    drawn = planned.plan.routes[0].visits[0].order_ids[0]
    findings = [
        Finding(code="identifier-gap", severity=Severity.WARNING, message="no birth date", order_ids=(order,))
        for order in ("U-STAT", drawn)
    ]
    view = build_view(problem, planned.plan, order_windows(problem)[0], revision=1, findings=findings)
    listed = [number for line in view.decisions for number in line.order_numbers]
    assert sorted(listed) == sorted(set(listed))
    assert [line.order_numbers for line in view.decisions if line.is_planned] == [(drawn,)]


def test_priority_is_kept_in_plan_json_and_an_older_file_is_read(made: tuple[Problem, PlannedRound]) -> None:
    problem, planned = made
    data = plan_to_json(problem, planned.plan, revision=1, parent=None, inputs_digest="", params={}, findings=())
    read = plan_from_json(data)
    assert {u.order_id: u.priority for u in read.problem.set_aside} == {
        u.order_id: u.priority for u in problem.set_aside
    }
    assert json.loads(data)["problem"]["set_aside"]


def test_priority_is_no_part_of_what_makes_two_entries_equal() -> None:
    old = Unplanned(order_id=OrderId("O1"), reason=Reason.NO_TIME, detail="")
    assert old == Unplanned(order_id=OrderId("O1"), reason=Reason.NO_TIME, detail="", priority=Priority.STAT)
    assert len({old, Unplanned(order_id=OrderId("O1"), reason=Reason.NO_TIME, detail="", priority=Priority.STAT)}) == 1


def test_stat_without_room_in_the_round_is_listed_first(tmp_path: Path) -> None:
    """What the planner itself leaves out carries its priority too: no hand-over brings a stat lactate in time."""
    tables = five_ward_tables()
    tables["patients"][-1]["needs"] = "central line"
    tables["orders"][-1]["priority"] = "stat"
    tables["patients"][0]["needs"] = "central line"
    problem = load_tables(tables, tmp_path / "five")
    planned = plan_quickly(problem)
    view = build_view(problem, planned.plan, order_windows(problem)[0], revision=1)
    assert [(line.urgency, line.bed) for line in view.decisions][:2] == [("STAT", LAST), ("", "Heron 1A")]
