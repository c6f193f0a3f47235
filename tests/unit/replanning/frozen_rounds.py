"""A round of one person, what is told of it, and what of it is past at a clock time."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.draws import DrawId
from planner.domain.orders import OrderId
from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past
from planner.domain.revisions.reported import Reported
from planner.replanning.past.freeze import freeze
from tests.builders import clock, make_problem
from tests.replan_builders import make_drawn_tube, make_handover, make_plan, make_visit

# AB's sheet, with 10 s of walking between neighbouring beds and 300 s at each (135 s before the draw, 165 s after):
# B1 drawn 05:10:00 (at the bed 05:07:45 to 05:12:45), B2 drawn 05:20 (05:17:45 to 05:22:45), the courier's shelf
# 05:54 to 05:55 (departs 06:00, laboratory 06:10), B3 drawn 06:10 (06:07:45 to 06:12:45), B4 drawn 06:30.


def visit(problem: Problem, number: int, draw: str, handover: int | None = None, **changes: object) -> Visit:
    tube = make_drawn_tube(["CBC"], [f"O{number}"], "EDTA")
    return make_visit(problem, [f"O{number}"], draw, tubes=[(tube, handover)], **changes)


def a_round() -> tuple[Problem, Plan]:
    problem = make_problem()
    stops = [
        visit(problem, 1, "05:10", 2),
        visit(problem, 2, "05:20", 2),
        make_handover(),
        visit(problem, 3, "06:10", 5),
        visit(problem, 4, "06:30", 5),
        make_handover(depart="06:55", departs="07:00", arrival="07:10"),
    ]
    return problem, make_plan(stops)


def told(number: int, outcome: Outcome = Outcome.COLLECTED, at: str | None = None) -> Reported:
    return Reported(
        order_ids=(OrderId(f"O{number}"),),
        draw_id=DrawId(f"P{number}-O{number}"),
        outcome=outcome,
        at_s=None if at is None else clock(at),
    )


def past_at(now: str, *reports: Reported, the_round: tuple[Problem, Plan] | None = None) -> Past:
    return freeze(*(the_round or a_round()), reports, clock(now))[0]


def beds(past: Past) -> list[str]:
    return [stop.place for stop in past.stops]


def times(past: Past) -> list[tuple[int, int]]:
    return [(stop.start_s, stop.depart_s) for stop in past.stops]


def by_itself(number: int, outcome: Outcome = Outcome.REFUSED, at: str | None = None) -> Reported:
    return replace(told(number, outcome, at), is_by_itself=True)
