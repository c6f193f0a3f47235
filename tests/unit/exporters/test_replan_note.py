"""The change note where no visit of hers is another one: who joins, who has no stop left, hand-overs and couriers."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from openpyxl import load_workbook

from planner.domain.catalogue import TestCode
from planner.domain.plan import Handover, Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.exporters.page.page import round_sheet_html
from planner.exporters.view.build import build_view
from planner.exporters.view.cards.bedside import COMMON_BEDS
from planner.exporters.workbook.book import round_sheet_workbook
from tests.builders import clock
from tests.unit.exporters.replanned import NOW_S, with_past
from tests.unit.exporters.rounds import make_round

PROBLEM, PLAN = with_past(*make_round()[:2])
WINDOWS = make_round()[2]


def note(problem: Problem, plan: Plan, person: int = 0) -> list[str]:
    view = build_view(problem, plan, WINDOWS, revision=2)
    return [line.text for line in view.routes[person].note]


def test_another_courier_is_told_though_no_visit_changes() -> None:
    # Her sheet says that the courier leaves at another time than the plan has: she would wait for nobody, or hurry.
    stop = PLAN.routes[0].stops[-1]
    assert isinstance(stop, Handover) and stop.departs_s is not None
    later = replace(stop, departs_s=stop.departs_s + 600)
    routes = (replace(PLAN.routes[0], stops=(*PLAN.routes[0].stops[:-1], later)), PLAN.routes[1])
    was, now = (PROBLEM.clock.format_clock(s) for s in (stop.departs_s, stop.departs_s + 600))
    place = PROBLEM.places[stop.place].label or stop.place
    told = note(PROBLEM, replace(PLAN, routes=routes))
    assert told[0] == f"Hand over at {place} for the courier of {now}, not of {was}."
    assert told[1].startswith("Your stops are now: ")
    assert told[2:] == ["This replaces revision 1 and everything before it. Please say it back."]


def test_hand_over_that_is_new_is_told_though_no_visit_changes() -> None:
    assert PROBLEM.replan is not None
    mine = [p for p in PROBLEM.replan.pauses if p.phlebotomist == 0]
    replan = replace(PROBLEM.replan, pauses=tuple(p for p in PROBLEM.replan.pauses if p is not mine[-1]))
    told = note(replace(PROBLEM, replan=replan), PLAN)
    assert told[0] == "Your beds stay as they are; your hand-overs change: now Nurses' station at 05:47."
    assert told[1].startswith("Your stops are now: ")


def test_who_joins_is_not_sent_to_a_sheet_that_they_never_had() -> None:
    assert PROBLEM.replan is not None
    joined = replace(PROBLEM, replan=replace(PROBLEM.replan, joined=frozenset({0}), promised=()))
    fresh = replace(
        joined.replan, past=(replace(joined.replan.past[0], stops=(), assumed=frozenset()), joined.replan.past[1])
    )
    idle = replace(PLAN, routes=(replace(PLAN.routes[0], stops=()), PLAN.routes[1]))
    assert note(replace(joined, replan=fresh), idle) == [
        "There is no stop for you yet. Be at BASE, where you can be called."
    ]
    told = note(joined, PLAN)
    assert told[-2].startswith("Your stops are now: ")
    assert not any("sheet" in text for text in told)


def test_note_names_all_patients_to_come_and_no_sheet_that_the_reader_may_not_hold() -> None:
    view = build_view(PROBLEM, PLAN, WINDOWS, revision=3)
    for route in view.routes:
        details = " ".join(detail for line in route.note for detail in line.details)
        for visit in route.visits:
            assert f"bed {visit.bed}: {visit.name}, born {visit.born}" in details
        assert "sheet of" not in " ".join(line.text for line in route.note)


def test_words_of_a_test_at_many_beds_are_said_of_that_test_and_not_of_every_bed() -> None:
    # Four beds to come have a test with words of its own, the others have not.
    problem, plan = with_past(*make_round()[:2], now_s=clock("05:05"))
    coming = [visit for visit in plan.routes[0].visits if visit.outcome is None]
    assert len(coming) > COMMON_BEDS
    orders = {visit.order_ids[0] for visit in coming[:COMMON_BEDS]}
    test = replace(
        problem.test_of(problem.order(coming[0].order_ids[0])), code=TestCode("PTX"), bedside="Not like this"
    )
    catalogue = replace(problem.catalogue, tests={**problem.catalogue.tests, test.code: test})
    changed = tuple(replace(o, test=test.code) if o.id in orders else o for o in problem.orders)
    told = note(replace(problem, catalogue=catalogue, orders=changed), plan)
    assert [text for text in told if "Not like this" in text] == ["Test: PTX: Not like this"]
    assert not [text for text in told if "every bed" in text]


@pytest.mark.slow
def test_who_has_nothing_to_do_gets_neither_note_nor_page() -> None:
    assert PROBLEM.replan is not None
    replan = replace(PROBLEM.replan, promised=tuple(p for p in PROBLEM.replan.promised if p.phlebotomist == 1))
    idle = replace(PLAN, routes=(replace(PLAN.routes[0], stops=()), PLAN.routes[1]))
    nothing = replace(replan, past=(replace(replan.past[0], stops=(), assumed=frozenset()), replan.past[1]))
    view = build_view(replace(PROBLEM, replan=nothing), idle, WINDOWS, revision=2)
    assert (view.routes[0].note, view.routes[0].is_idle, view.routes[1].is_idle) == ((), True, False)
    page = round_sheet_html(view).decode()
    assert 'id="note-1"' not in page and 'id="route-1"' not in page
    assert 'id="note-2"' in page and 'id="route-2"' in page
    names = load_workbook(io.BytesIO(round_sheet_workbook(view))).sheetnames
    assert not any(view.routes[0].initials in name or name == view.routes[0].name for name in names)


def test_who_has_no_stop_left_is_told_what_she_carries() -> None:
    # Her visits to come are dropped; two of the visits made are still in her tray, and no hand-over is left.
    route = PLAN.routes[0]
    made = [s for s in route.stops if s.start_s <= NOW_S]
    kept = [
        replace(s, outcome=Outcome.COLLECTED, tubes=tuple(replace(t, handover=None) for t in s.tubes))
        if isinstance(s, Visit) and s.draw_s > clock("05:20")
        else s
        for s in made
    ]
    tubes = sum(not t.tube.is_discard and t.handover is None for s in kept if isinstance(s, Visit) for t in s.tubes)
    assert tubes > 1
    told = note(PROBLEM, replace(PLAN, routes=(replace(route, stops=tuple(kept)), PLAN.routes[1])))
    assert told[-2].startswith(f"You have no more stops. You carry {tubes} tubes of beds ")
    assert told[-2].endswith("keep them by you until they are fetched.")
    assert told[-1] == "This replaces revision 1 and everything before it. Please say it back."
