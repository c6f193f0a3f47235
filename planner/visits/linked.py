"""The gaps that the visits of a plan keep from one another: what nobody may shorten who runs late."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from planner.domain.catalogue import Handling
from planner.domain.draws import DrawGap
from planner.domain.plan import Plan, Visit
from planner.domain.problem import Problem
from planner.visits.posture import posture_of, wait_before_s
from planner.visits.series import NO_END_S, gaps_between


def plan_gaps(problem: Problem, plan: Plan) -> tuple[DrawGap, ...]:
    """Return the gaps between visits to come: `series-gap`, `stated-times`, `stated-spacing` and `posture`."""
    coming = [visit for route in plan.routes for visit in route.visits if visit.outcome is None]
    draw_of = {order_id: visit.draw_id for visit in coming for order_id in visit.order_ids}
    return (*gaps_between(problem, draw_of), *_postures(problem, coming))


def _postures(problem: Problem, visits: Sequence[Visit]) -> Iterator[DrawGap]:
    """Yield what lies between two draws of one patient in two postures: the one drawn first decides the wait."""
    orders = {order.id: order for order in problem.orders}
    asked = [
        (visit, postures)
        for visit in sorted(visits, key=lambda visit: visit.draw_s)
        if (postures := {posture_of(problem, orders[o]) for o in visit.order_ids if o in orders} - {None})
    ]
    for (first, before), (second, after) in combinations(asked, 2):
        if first.patient_id == second.patient_id and before != after:
            wait_s = wait_before_s(Handling.SUPINE if Handling.SUPINE in after else Handling.UPRIGHT_2H)
            yield DrawGap(first=first.draw_id, second=second.draw_id, least_s=wait_s, most_s=NO_END_S)
