"""Who decides by phone has all that was written; no bed forgets what is set aside: five wards, equal bed numbers."""

from __future__ import annotations

import html
import io
import re

import openpyxl
import pytest

from planner.exporters.page.page import round_sheet_html
from planner.exporters.terminal.summary import summary_lines
from planner.exporters.view.build import build_view
from planner.exporters.view.cards.card_notes import card_notes
from planner.exporters.view.round_view import RoundView
from planner.exporters.workbook.book import round_sheet_workbook
from planner.visits.windows import order_windows
from tests.three_wards import five_ward_tables, load_tables, plan_quickly

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[RoundView, list[str]]:
    """Heron 1A has a test nobody knows, one that the ward draws, one that is cancelled and a note against the plan."""
    tables = five_ward_tables()
    tables["patients"][0]["alerts"] = "pacemaker; likes the left arm"
    own = {"patient_number": "H0101", "priority": "asap"}
    tables["orders"] += [
        own | {"order_number": "X1", "test": "QQQ", "note": "blue form, ring Dr. Ó"},
        own | {"order_number": "X2", "test": "UREA", "performer": "nurse"},
        own | {"order_number": "X3", "test": "CRP", "status": "cancelled"},
        own | {"order_number": "X4", "test": "TNT", "note": "nurse to take"},
    ]
    tables["orders"].append(  # nothing of this patient is planned, and no bed is known
        {"order_number": "X5", "patient_number": "Z999", "test": "CBC", "priority": "stat", "note": "from the clinic"}
    )
    problem = load_tables(tables, tmp_path_factory.mktemp("round") / "five")
    planned = plan_quickly(problem)
    view = build_view(problem, planned.plan, order_windows(problem)[0], revision=1, findings=planned.findings)
    return view, summary_lines(problem, planned.plan)


def test_decision_names_the_patient_with_note_and_alerts_in_full(made: tuple[RoundView, list[str]]) -> None:
    rows = {orders: (where, tests, found) for g in made[0].decision_groups for where, orders, tests, found in g.rows()}
    where, tests, found = rows["X1"]
    assert (where, tests) == ("ASAP Heron 1A", "QQQ")
    said = ("Kowalska, Maria, born 11 Feb 1948", "H0101", "note (QQQ): blue form, ring Dr. Ó", "alert: pacemaker")
    assert [words for words in (*said, "alert: likes the left arm") if words not in found] == []
    assert "note (TNT): nurse to take" in rows["X4"][2], "planned, and to be decided"
    assert "note (CBC): from the clinic" in rows["X5"][2]
    assert rows["X5"][0].startswith("STAT")


def test_sheets_print_them_and_the_terminal_names_nobody(made: tuple[RoundView, list[str]]) -> None:
    view, terminal = made
    page = html.unescape(round_sheet_html(view, drawn=lambda: [()] * len(view.routes)).decode())
    book = openpyxl.load_workbook(io.BytesIO(round_sheet_workbook(view)))
    cells = "\n".join(str(c.value) for sheet in book.worksheets for row in sheet.iter_rows() for c in row if c.value)
    for text in (re.sub(r"<[^>]+>", " ", page), cells):
        assert "note (QQQ): blue form, ring Dr. Ó" in text
        assert "NOT BY YOU" in text
    assert not any("Kowalska" in line or "blue form" in line for line in terminal)


def test_bed_says_which_orders_of_the_patient_are_not_drawn_and_why(made: tuple[RoundView, list[str]]) -> None:
    cards = [visit for route in made[0].routes for visit in route.visits]
    said = {card.bed: note.words for card in cards for note in card_notes(card) if note.label == "NOT BY YOU"}
    assert set(said) == {"Heron 1A"}
    assert "QQQ (order X1): unknown test; the lead decides, ask before you draw" in said["Heron 1A"]
    assert "UREA (order X2): drawn by ward staff, not by this round" in said["Heron 1A"]
    assert "X3" not in said["Heron 1A"], "cancelled: nothing is missing"
