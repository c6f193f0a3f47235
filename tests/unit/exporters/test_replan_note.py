"""The change note where no visit of hers is another one: who joins, who has no stop left, hand-overs and couriers."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.plan import Handover, Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.exporters.view.build import build_view
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
    assert note(PROBLEM, replace(PLAN, routes=routes)) == [
        f"Hand over at {place} for the courier of {now}, not of {was}.",
        "All else stays as on the sheet of revision 1. Please say it back.",
    ]


def test_hand_over_that_is_new_is_told_though_no_visit_changes() -> None:
    assert PROBLEM.replan is not None
    mine = [p for p in PROBLEM.replan.pauses if p.phlebotomist == 0]
    replan = replace(PROBLEM.replan, pauses=tuple(p for p in PROBLEM.replan.pauses if p is not mine[-1]))
    told = note(replace(PROBLEM, replan=replan), PLAN)
    assert told[0] == "Your beds stay as they are; your hand-overs change."
    assert told[1].startswith("Your stops are now: ")


def test_who_joins_is_not_sent_to_a_sheet_that_she_never_had() -> None:
    assert PROBLEM.replan is not None
    joined = replace(PROBLEM, replan=replace(PROBLEM.replan, joined=frozenset({0})))
    assert note(joined, PLAN) == ["There is no stop for you yet. Be at BASE, where you can be called."]
    moved = tuple(replace(p, phlebotomist=1) if p.phlebotomist == 0 else p for p in PROBLEM.replan.promised)
    told = note(replace(joined, replan=replace(joined.replan, promised=moved)), PLAN)  # type: ignore[arg-type]
    assert told[-1] == "That is all. Please say it back."
    assert not any("sheet of revision" in text for text in told)


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
    assert told[-1] == "Please say it back."
