"""The sheet of a replanned round: what it replaces on every page, changes and add-ons first, notes to read out."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import datetime

import openpyxl
import pytest

from planner.domain.plan import Outcome, Visit
from planner.exporters.page.page import round_sheet_html
from planner.exporters.view.build import build_view
from planner.exporters.view.notes.changes import DoneLine, NoteKind, NoteLine
from planner.exporters.view.round_view import RoundView
from planner.exporters.workbook.book import round_sheet_workbook
from planner.exporters.workbook.changes import done_title, done_words
from tests.unit.exporters.replanned import make_replanned, with_past
from tests.unit.exporters.rounds import TYPICAL, make_round

pytestmark = pytest.mark.slow

BANNER = "revision r2, replaces r1, as of 05:35"


@pytest.fixture(scope="module")
def view() -> RoundView:
    problem, plan, windows = make_replanned()
    return build_view(problem, plan, windows, revision=2, printed_at=datetime(2026, 3, 10, 5, 36))


@pytest.fixture(scope="module")
def book(view: RoundView) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(round_sheet_workbook(view)), rich_text=True)


def cells(sheet: object) -> list[str]:
    return [str(c.value) for row in sheet.iter_rows() for c in row if c.value is not None]


def test_a_round_planned_afresh_has_nothing_of_it() -> None:
    problem, plan, windows = make_round()
    view = build_view(problem, plan, windows, revision=1)
    assert view.replan is None
    assert not any(route.done or route.tray or route.note for route in view.routes)
    assert not any(visit.change or visit.change_word for route in view.routes for visit in route.visits)
    page = round_sheet_html(view).decode("utf-8")
    assert not re.search(r"Change note|DONE BY|IN THE TRAY|What changed|UNDER WAY", page)
    assert view.revision == "revision 1"


def test_changes_say_what_was_and_what_is(view: RoundView) -> None:
    assert view.replan is not None
    assert [(c.word, c.bed, c.now, c.before, c.why) for c in view.replan.changes] == [
        ("NEW", "108", "05:37 Amina Kovač", "not planned", "draw BMP"),
        # 107A was to start at 05:37 and starts 15 minutes later; 114 was Breathnach's, at 05:39, and starts 18 later.
        ("MOVED", "107A", "05:52 Amina Kovač", "05:37 Amina Kovač", "15 min later"),
        ("MOVED", "114", "05:57 Amina Kovač", "05:39 Tomás Breathnach", "other person; 18 min later"),
        ("OTHER TUBES", "115", "05:45 Tomás Breathnach", "05:45 Tomás Breathnach", "draw also CRP"),
        ("DROPPED", "107B", "not drawn", "05:44 Amina Kovač", "VANCT, BMP: cancelled"),
    ]


def test_only_what_is_to_come_is_a_stop_and_each_changed_one_says_so(view: RoundView) -> None:
    stops = {v.bed: (v.number, v.change_word, v.change) for route in view.routes for v in route.visits}
    assert stops == {
        "108": (8, "NEW", "new on this sheet"),
        "107A": (9, "MOVED", "moved from 05:37"),
        "114": (10, "MOVED", "moved from 05:39, Tomás Breathnach"),
        "115": (8, "OTHER TUBES", "also CRP"),
    }


def test_what_is_done_is_condensed_and_assumptions_are_marked() -> None:
    problem, plan, windows = make_replanned()
    route = plan.routes[0]
    first = route.visits[0]
    refused = replace(first, outcome=Outcome.REFUSED, order_ids=(), tried=first.order_ids, tubes=())
    plan = replace(plan, routes=(replace(route, stops=(refused, *route.stops[1:])), plan.routes[1]))
    assert problem.replan is not None
    past = (replace(problem.replan.past[0], assumed=frozenset({1})), problem.replan.past[1])
    problem = replace(problem, replan=replace(problem.replan, past=past))
    done = build_view(problem, plan, windows, revision=2).routes[0].done
    assert [(d.number, d.at, d.place, d.what, d.is_assumed) for d in done[:3]] == [
        (1, "05:00", "bed 101", "refused; not: CBC, BMP, LIPID, FGLU", False),
        (2, "05:05", "bed 102", "drawn, 3 tubes", True),
        (3, "05:10", "bed 103", "drawn, 3 tubes", False),
    ]
    assert done[5].what == "handed over"
    assert (done[6].place, done[6].what, done[6].is_assumed) == ("bed 106", "UNDER WAY until 05:37: finish it", False)


def test_what_is_assumed_is_said_once_when_it_is_all() -> None:
    first = DoneLine(number=1, at="05:00", place="bed 1", name="A", what="drawn, 1 tube", is_assumed=True)
    last = DoneLine(number=2, at="05:05", place="bed 2", name="B", what="UNDER WAY", is_under_way=True)
    assert done_title("05:06", (first, last)) == "DONE BY 05:06, all of it assumed: nobody reported it"
    assert done_words((first, last)) == ["1  05:00 bed 1, A: drawn, 1 tube", "2  05:05 bed 2, B: UNDER WAY"]
    told = replace(last, is_under_way=False)
    assert done_title("05:06", (first, told)) == "DONE BY 05:06"
    assert done_words((first, told))[0] == "1  05:00 bed 1, A: drawn, 1 tube (assumed)"


def test_the_tray_holds_what_was_drawn_and_not_given_away(view: RoundView) -> None:
    # Beds 101 to 105 were handed over at 05:27; bed 106 (7 tubes, one of them on ice) is in the tray.
    assert view.routes[0].tray == (
        "7 tubes (bed 106: 7), for courier 06:15 at Nurses' station. KEEP 1 tube on ice (bed 106)",
    )
    assert view.routes[1].tray == ("2 tubes (bed 113: 2), for courier 06:15 at Nurses' station",)


def test_the_note_says_stats_first_then_leaves_out_sends_on_and_sums_up(view: RoundView) -> None:
    first, second = ([line.text for line in route.note] for route in view.routes)
    assert first == [
        # Ordered at 05:35, stat within 15 minutes.
        "After bed 106 go to bed 108, Þórðarson, Björn, born 17 May 1960: stat basic metabolic panel. Draw at 05:39. "
        "Allowed: by 05:50 (stat).",
        "Leave out bed 107B, Null, None, number 000008. VANCT, BMP: cancelled.",
        "Bed 107A, =SUM(1,2), +Plus, born 17 May 1960: draw at 05:54, later than before (05:39).",
        "After bed 107A go to bed 114, देशपांडे, अनन्या, born 17 May 1960: cryoglobulins "
        "and full blood count (CBC), no differential. Draw at 06:00.",
        "Your stops are now: bed 108 at 05:37; bed 107A at 05:52; bed 114 at 05:57; "
        "hand over at Nurses' station at 06:02, courier leaves 06:15.",
        "This replaces revision 1 and everything before it. Please say it back.",
    ]
    assert second[:2] == [
        "Leave out bed 114, देशपांडे, अनन्या, born 17 May 1960. Amina Kovač goes there.",
        "At bed 115, Zhang, Wei, born 17 May 1960, draw also C-reactive protein.",
    ]


def test_a_stop_new_to_her_comes_with_all_that_her_old_sheet_lacks(view: RoundView) -> None:
    details = " ".join(view.routes[0].note[0].details)
    for words in ("Þórðarson, Björn", "17 May 1960", "number 000009", "Wear: AIRBORNE", "1, EDTA tube, lavender, 4 mL"):
        assert words in details


def test_the_note_says_when_nothing_changes() -> None:
    problem, plan = with_past(*make_round()[:2])
    windows = make_round()[2]
    view = build_view(problem, plan, windows, revision=2)
    assert view.replan is not None
    assert view.replan.changes == ()
    first, second = (route.note for route in view.routes)
    assert first[0] == second[0] == NoteLine(text="Nothing changes for you.", kind=NoteKind.NOTHING)
    assert all(note[1].text.startswith("Your stops are now: ") for note in (first, second))


def test_the_note_of_a_route_that_is_over_says_nothing_more() -> None:
    problem, plan, windows = make_round()
    problem, plan = with_past(problem, plan, now_s=problem.end_s)
    view = build_view(problem, plan, windows, revision=2)
    assert [route.note for route in view.routes] == [(), ()]


def test_add_ons_tell_whom_to_phone_for_what_and_until_when(view: RoundView, book: openpyxl.Workbook) -> None:
    assert view.replan is not None
    (addon,) = view.replan.addons
    assert (addon.bed, addon.patient_number, addon.drawn, addon.limit) == ("101", "000001", "05:02 by AK", "07:02")
    assert addon.tube == "Heparin gel tube, light green (number 1 of the draw)"
    first = cells(book["Round"])
    assert "PHONE THE LABORATORY: 1 add-on, no new draw" in first
    assert first.index("PHONE THE LABORATORY: 1 add-on, no new draw") < first.index(
        "What changed since revision 1, as of 05:35"
    )
    assert first.index("What changed since revision 1, as of 05:35") < min(
        n for n, text in enumerate(first) if text.startswith("NEEDS A DECISION")
    )


def test_every_page_says_what_it_replaces(view: RoundView, book: openpyxl.Workbook) -> None:
    assert all(sheet.oddHeader.right.text.strip() == BANNER for sheet in book.worksheets)
    page = round_sheet_html(view).decode("utf-8")
    assert f'@top-right {{ content: "{BANNER}"' in page.replace("\\3a ", ":")


def test_first_line_says_which_sheet_to_destroy(view: RoundView) -> None:
    said = {route.newest for route in view.routes}
    assert said == {"NEWEST SHEET? Ask the lead before you start. This one replaces revision 1: destroy that."}


def test_the_workbook_and_the_page_say_the_same(view: RoundView, book: openpyxl.Workbook) -> None:
    page = round_sheet_html(view).decode("utf-8")
    sheets = "\n".join(text for sheet in book.worksheets for text in cells(sheet))
    for route in view.routes:
        for words in (*(line.text for line in route.note), *route.tray):
            assert words in sheets
            assert words.replace("'", "&#x27;") in page
    assert book.sheetnames[:3] == ["Round", "Supplies", "Note AK"]
    assert 'id="note-1"' in page
    assert 'id="note-2"' in page


def test_a_note_with_many_changes_stays_one_page() -> None:
    """Seven new stops with everything that a new stop has, as when somebody falls out; on the shorter paper."""
    problem, plan, windows = make_round(14, 2, TYPICAL)
    problem, plan = with_past(problem, plan, now_s=problem.start_s)
    assert problem.replan is not None
    kept = tuple(p for p in problem.replan.promised if p.phlebotomist == 1)
    view = build_view(replace(problem, replan=replace(problem.replan, promised=kept)), plan, windows, revision=2)
    new = [line for line in view.routes[0].note if line.details]
    assert len(new) == 7
    book = openpyxl.load_workbook(io.BytesIO(round_sheet_workbook(view, "letter")))
    assert not book["Note AK"].row_breaks.brk


def test_ticks_on_the_page_are_those_of_stops_to_come(view: RoundView) -> None:
    page = round_sheet_html(view).decode("utf-8")
    beds = re.findall(r'class="stop visit"[^>]*data-bed="([^"]*)"', page)
    assert beds == ["108", "107A", "114", "115"]


def test_one_phlebotomists_sheet_has_her_note_and_the_round_still_says_what_changed(view: RoundView) -> None:
    own = view.only_for("TB")
    book = openpyxl.load_workbook(io.BytesIO(round_sheet_workbook(own)))
    assert "Note TB" in book.sheetnames
    assert "Note AK" not in book.sheetnames


def test_a_visit_drawn_before_is_no_longer_among_supplies(view: RoundView) -> None:
    # Four visits to come, one pair of gloves each.
    gloves = next(line for line in view.supplies if line.item == "Pair of gloves")
    assert gloves.needed == (3, 1)


def test_past_visits_have_an_outcome_in_the_built_round() -> None:
    problem, plan, _ = make_replanned()
    assert problem.replan is not None
    for past, route in zip(problem.replan.past, plan.routes, strict=True):
        assert route.stops[: len(past.stops)] == past.stops
        assert all(s.outcome is Outcome.COLLECTED for s in past.stops if isinstance(s, Visit))
