"""A change note stands alone: what its reader lacks, whom to ask first, and what each card says.

Five wards with equal bed numbers; two phlebotomists and two patients of one name. Who hears the note may hold
nothing else.
"""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path

import pytest
from openpyxl import load_workbook

from planner.domain.draws import OrderWindow
from planner.domain.orders import OrderId, Precaution
from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Cancel, Lost, NeverCame
from planner.domain.revisions.reported import Reported
from planner.exporters.page.page import round_sheet_html
from planner.exporters.terminal.replan_short import short_lines
from planner.exporters.view.build import build_view
from planner.exporters.view.round_view import RoundView, RouteView
from planner.exporters.workbook.book import round_sheet_workbook
from planner.replanning.next_problem import next_problem
from planner.visits.windows import order_windows
from tests.builders import clock
from tests.three_wards import TWO_MORE, five_ward_tables, load_tables, patient_in, plan_quickly

pytestmark = pytest.mark.slow

NOW = clock("05:06")
NORTH, TERN = TWO_MORE


def windows_of(problem: Problem) -> dict[OrderId, OrderWindow]:
    return order_windows(problem)[0]


def view_of(problem: Problem, plan: Plan, revision: int = 2) -> RoundView:
    return build_view(problem, plan, windows_of(problem), revision=revision)


def bed_of(problem: Problem, plan: Plan, ward: str, label: str) -> tuple[int, Visit]:
    """Return who visits a bed, and the visit."""
    patient = patient_in(problem, ward, label)
    return next((r.phlebotomist, v) for r in plan.routes for v in r.visits if v.patient_id == patient.id)


def without(problem: Problem, plan: Plan, person: int, now_s: int, reports: tuple[Reported, ...] = ()) -> Problem:
    """Return the problem of the next revision, in which somebody collects no more."""
    lost = Lost(name=problem.staff[person].initials)
    following = next_problem(problem, plan, parent=1, now_s=now_s, reports=reports, changes=[lost])
    assert not following.refused
    return following.problem


@pytest.fixture(scope="module")
def handed_on(tmp_path_factory: pytest.TempPathFactory) -> tuple[RoundView, RouteView]:
    """The second revision, and the route of who takes on a patient with a latex allergy and contact precautions."""
    tables = five_ward_tables()
    patient = next(p for p in tables["patients"] if (p["ward"], p["bed"]) == (TERN, "3A"))
    patient["alerts"], patient["precautions"] = "latex allergy", "contact"
    tables["staff"][2]["from"] = "05:00"  # all have set out, and with what each loaded
    problem = load_tables(tables, tmp_path_factory.mktemp("latex") / "round")
    plan = plan_quickly(problem).plan
    person, visit = bed_of(problem, plan, TERN, "3A")
    problem = without(problem, plan, person, visit.start_s - 60)
    plan = plan_quickly(problem).plan
    other, _ = bed_of(problem, plan, TERN, "3A")
    assert other != person
    view = view_of(problem, plan)
    return view, next(route for route in view.routes if route.staff_index == other)


def test_who_takes_on_a_patient_is_told_what_is_not_among_the_things_loaded(
    handed_on: tuple[RoundView, RouteView],
) -> None:
    view, route = handed_on
    assert route.lacking.startswith("YOU LACK, against what you loaded for revision 1: for bed ")
    after = route.lacking.partition(f"for bed {TERN} 3A: ")[2].partition("; for bed")[0]
    for item in ("1 x Pair of latex-free gloves", "1 x Latex-free tourniquet", "1 x Gown", "1 x Disposable tourniquet"):
        assert item in after
    assert route.note[0].text == route.lacking
    page = round_sheet_html(view, drawn=lambda: [()] * len(view.routes)).decode()
    book = load_workbook(io.BytesIO(round_sheet_workbook(view)))
    sheets = [s for s in book.worksheets if any(c.value == route.lacking for row in s.iter_rows() for c in row)]
    assert len(sheets) == 2, "the note and the sheet of stops"
    top = [c.value for row in sheets[1].iter_rows(max_row=3) for c in row]
    assert route.lacking in top
    assert page.count(f'<p class="lacking">{route.lacking.replace("&", "&amp;")}</p>') == 1


def test_nothing_lacks_where_the_stops_stay_or_all_is_loaded_now(tmp_path: Path) -> None:
    problem = load_tables(five_ward_tables(), tmp_path / "round")
    plan = plan_quickly(problem).plan
    assert not any(route.lacking for route in view_of(problem, plan, 1).routes)
    following = next_problem(problem, plan, parent=1, now_s=NOW, changes=[Cancel(order_id="N0401-1")]).problem
    assert not any(route.lacking for route in view_of(following, plan_quickly(following).plan).routes)
    # Whoever begins at 05:30 has not loaded yet, and who begins at 05:00 loaded for the first revision.
    assert following.replan is not None
    assert [(one.phlebotomist, one.revision) for one in following.replan.loaded] == [(0, 1), (1, 1)]


def test_spares_are_at_hand_and_what_was_used_is_not(tmp_path: Path) -> None:
    problem = load_tables(five_ward_tables(), tmp_path / "round")
    plan = plan_quickly(problem).plan
    person = next(route.phlebotomist for route in plan.routes if len(route.visits) > 3 and route.phlebotomist < 2)
    following = next_problem(problem, plan, parent=1, now_s=NOW).problem
    assert following.replan is not None
    loaded = next(one for one in following.replan.loaded if one.phlebotomist == person)
    replanned = plan_quickly(following).plan
    # Loaded for two visits: two pairs of gloves and a spare. The first is used, so two of the stops to come are served.
    few = replace(loaded, visits=loaded.visits[:2])
    problem = replace(following, replan=replace(following.replan, loaded=(few,)))
    route = next(r for r in view_of(problem, replanned).routes if r.staff_index == person)
    made = len([v for r in replanned.routes if r.phlebotomist == person for v in r.visits if v.outcome is not None])
    assert made >= 1
    gloves = sum(int(number) for number in re.findall(r"(\d+) x Pair of gloves", route.lacking))
    assert gloves == len(route.visits) - (2 + 1 - made)


def test_stat_not_reported_and_moved_is_asked_about_in_both_notes_first(tmp_path: Path) -> None:
    problem = load_tables(five_ward_tables(), tmp_path / "round")
    plan = plan_quickly(problem).plan
    stat = next(order for order in problem.orders if order.id == "K0203-1")
    person, visit = next((r.phlebotomist, v) for r in plan.routes for v in r.visits if stat.id in v.order_ids)
    problem = without(problem, plan, person, visit.depart_s + 60)
    plan = plan_quickly(problem).plan
    other, moved = next((r.phlebotomist, v) for r in plan.routes for v in r.visits if stat.id in v.order_ids)
    assert other != person and moved.outcome is None
    view = view_of(problem, plan)
    routes = {route.staff_index: route for route in view.routes}
    asked = view.routes[person].name
    sentence = f"with {asked}, not reported: ask {asked} before anybody draws again."
    for index in (person, other):
        lines = [line.text for line in routes[index].note if not line.text.startswith("YOU LACK")]
        assert lines[0].startswith("STAT, bed Kite (South) 2B, Sandhu, Harpreet, born 19 Oct 1950: due at 05:")
        assert sentence in lines[0]
    for most in (20, 24):  # said whole and before the way there, however few lines there are
        short = " ".join(line.strip() for line in short_lines(problem, plan, windows_of(problem), (), 80, most))
        told = short.partition(f"{routes[other].called}: ")[2]
        assert told.startswith("STAT, bed Kite (South) 2B, Sandhu, Harpreet, born 19 Oct 1950: due at 05:")
        assert sentence in told
        assert re.match(r"[^:]*bed Kite \(South\) 2B[^:]*: stat .*?Draw at \d\d:\d\d", told.partition(sentence)[2])
    (card,) = (v for v in routes[other].visits if v.bed == "Kite (South) 2B")
    assert any(f"ask {asked} before anybody draws again" in alert for alert in card.alerts)


def test_visit_of_somebody_who_never_came_was_not_drawn_and_is_asked_about_nowhere(tmp_path: Path) -> None:
    # The same round, stat and instant as above; only that it is known now that nobody was there to draw.
    problem = load_tables(five_ward_tables(), tmp_path / "round")
    plan = plan_quickly(problem).plan
    person, visit = next((r.phlebotomist, v) for r in plan.routes for v in r.visits if "K0203-1" in v.order_ids)
    now_s, absent = visit.depart_s + 60, NeverCame(name=problem.staff[person].initials)
    following = next_problem(problem, plan, parent=1, now_s=now_s, changes=[absent])
    assert not following.refused
    problem = following.problem
    assert problem.replan is not None
    due = [p for p in problem.replan.promised if p.phlebotomist == person and p.draw_s <= now_s]
    assert due, "visits of theirs were due"
    view = view_of(problem, plan_quickly(problem).plan)
    asked = f"ask {view.routes[person].name}"
    said = [line.text for route in view.routes for line in route.note]
    said += [alert for route in view.routes for card in route.visits for alert in card.alerts]
    assert not [words for words in said if asked in words]
    (card,) = (v for r in view.routes for v in r.visits if "K0203-1" in v.order_numbers)
    assert card.bed == "Kite (South) 2B"
    assert not [alert for alert in card.alerts if "not reported" in alert]


def test_stats_come_first_in_a_note(tmp_path: Path) -> None:
    problem = load_tables(five_ward_tables(), tmp_path / "round")
    plan = plan_quickly(problem).plan
    person = next(r.phlebotomist for r in plan.routes if any("K0203-1" in v.order_ids for v in r.visits))
    problem = without(problem, plan, person, clock("05:01"))
    view = view_of(problem, plan_quickly(problem).plan)
    named = [
        [("2B, Sandhu" in line.text) for line in route.note if "go to bed" in line.text or "Leave out" in line.text]
        for route in view.routes
    ]
    assert sum(map(sum, named)) == 2, "left out by one, new to another"
    assert all(told[0] for told in named if any(told))


def test_visit_due_and_not_reported_asks_its_own_phlebotomist(tmp_path: Path) -> None:
    problem = load_tables(five_ward_tables(), tmp_path / "round")
    plan = plan_quickly(problem).plan
    route = next(r for r in plan.routes if len(r.visits) > 2 and r.phlebotomist < 2)
    first, second = route.visits[:2]
    told = Reported(order_ids=second.order_ids, draw_id=second.draw_id, outcome=Outcome.COLLECTED)
    following = next_problem(problem, plan, parent=1, now_s=second.depart_s + 30, reports=[told]).problem
    plan = plan_quickly(following).plan
    view = view_of(following, plan)
    cards = [
        card
        for r in view.routes
        for card in r.visits
        if any("not reported" in alert and " due at " in alert for alert in card.alerts)
    ]
    # A stat of another route is never taken for drawn: its card asks too.
    mine = [card for card in cards if "K0203-1" not in card.order_numbers or "K0203-1" in first.order_ids]
    assert [set(card.order_numbers) & set(first.order_ids) != set() for card in mine] == [True]


def test_every_stop_of_a_note_says_what_its_card_says(tmp_path: Path) -> None:
    tables = five_ward_tables()
    by_bed = {(p["ward"], p["bed"]): p for p in tables["patients"]}
    by_bed[NORTH, "1A"]["precautions"] = "airborne"
    by_bed[NORTH, "3A"]["alerts"] = "on warfarin"
    by_bed[TERN, "1A"]["alerts"] = "fistula"
    problem = load_tables(tables, tmp_path / "round")
    assert patient_in(problem, NORTH, "1A").precautions == {Precaution.AIRBORNE}
    plan = plan_quickly(problem).plan
    following = next_problem(
        problem, plan, parent=1, now_s=clock("05:01"), changes=[Cancel(order_id="H0103-1")]
    ).problem
    view = view_of(following, plan_quickly(following).plan)
    for route in view.routes:
        said = "\n".join(line.text + "\n" + "\n".join(line.details) for line in route.note)
        for words in route.bedside:
            assert f"Test: {words}" in said
        for card in route.visits:
            own = [part for part in said.split("\n") if f"{card.name}, born {card.born}" in part or card.bed in part]
            everything = "\n".join(own) if own else ""
            for words in (*card.wear, *card.alerts, *card.ask, *card.bedside, *card.do):
                assert words in said, (card.bed, words)
            assert everything
            assert all(tube.handling[1:] in said for tube in card.tubes)
