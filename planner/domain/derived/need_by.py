"""Whose specimens reach the laboratory after their ward needs them, and by how much."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.domain.orders import OrderId
from planner.domain.places import PlaceId
from planner.domain.plan import Handover, Plan
from planner.domain.problem import Problem
from planner.finding_codes import Code
from planner.findings import Finding, Severity
from planner.units import SECONDS_PER_MINUTE

CODE: Code = "need-by-missed"

MOST_BEDS = 8
"""Beds that are named for one ward, the latest first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Miss:
    """Orders of one visit whose last specimen comes ``late_s`` seconds after ``needed_s``.

    ``late_by_order_s`` says it of each order, in the order of ``order_ids``.
    """

    ward: str
    place: PlaceId
    order_ids: tuple[OrderId, ...]
    needed_s: int
    late_s: int
    late_by_order_s: tuple[int, ...]


def need_by_misses(problem: Problem, plan: Plan) -> Iterator[Miss]:
    """Yield the visits with specimens that are still to be handed over and come late, in the order of the routes."""
    needed = problem.policy.round.needed_by_s
    for route in plan.routes:
        num_past = len(problem.replan.past[route.phlebotomist].stops) if problem.replan else 0
        for visit in route.visits:
            ward = problem.patients[visit.patient_id].ward
            needed_s = needed.get(ward, needed.get("*"))
            if needed_s is None:
                continue
            late: dict[OrderId, int] = {}
            for planned in visit.tubes:
                if planned.handover is None or planned.handover < num_past:
                    continue
                stop = route.stops[planned.handover]
                assert isinstance(stop, Handover)
                if stop.lab_arrival_s > needed_s:
                    late |= {o: max(late.get(o, 0), stop.lab_arrival_s - needed_s) for o in planned.tube.order_ids}
            if late:
                yield Miss(
                    ward=ward,
                    place=visit.place,
                    order_ids=tuple(sorted(late)),
                    needed_s=needed_s,
                    late_s=max(late.values()),
                    late_by_order_s=tuple(late[order_id] for order_id in sorted(late)),
                )


def need_by_findings(problem: Problem, plan: Plan) -> list[Finding]:
    """Return a finding for each ward whose need-by time is missed: which beds and orders, and by how many minutes."""
    by_ward: dict[str, list[Miss]] = {}
    for miss in need_by_misses(problem, plan):
        by_ward.setdefault(miss.ward, []).append(miss)
    return [_finding(problem, by_ward[ward]) for ward in sorted(by_ward)]


def _finding(problem: Problem, misses: list[Miss]) -> Finding:
    misses = sorted(misses, key=lambda miss: (-miss.late_s, miss.place, miss.order_ids))
    told = [
        f"bed {problem.place_name(miss.place)} ({', '.join(miss.order_ids)}) by "
        f"{-(-miss.late_s // SECONDS_PER_MINUTE)} min"
        for miss in misses
    ]
    more = f", and {len(told) - MOST_BEDS} beds more" if len(told) > MOST_BEDS else ""
    ids = [order_id for miss in misses for order_id in miss.order_ids]
    what = "1 order comes" if len(ids) == 1 else f"{len(ids)} orders come"
    message = (
        f"ward {misses[0].ward} needs its specimens in the laboratory by "
        f"{problem.clock.format_clock(misses[0].needed_s)}; {what} later: {', '.join(told[:MOST_BEDS])}{more}. Tell "
        "the ward, or add a person or a courier"
    )
    return Finding(code=CODE, severity=Severity.WARNING, message=message, order_ids=tuple(ids))
