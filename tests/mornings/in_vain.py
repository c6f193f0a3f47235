"""Why specimens were drawn in vain: told apart by what was heard, and whether going straight would have saved them.

Reckoned from places, couriers and the past alone. A specimen is lost through the planner, which is a fault, if its
collector could have gone straight from where she is free to a place that takes it, and have had it there in time.
"""

from __future__ import annotations

from collections.abc import Iterator, Set

from planner.domain.draws import Tube
from planner.domain.orders import OrderId
from planner.domain.places import Pickup, PickupKind
from planner.domain.plan import Plan, Reason, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.events import PhlebotomistLost
from planner.domain.revisions.replan import Past


def in_vain(plan: Plan) -> frozenset[OrderId]:
    """Return the orders that were drawn, and whose specimens do not reach the laboratory while they are good."""
    return frozenset(u.order_id for u in plan.unplanned if u.reason is Reason.DRAWN_IN_VAIN)


def causes(problem: Problem, heard: str, lost: Set[OrderId]) -> dict[OrderId, str]:
    """Return the cause of each loss that is new in a revision; ``heard`` is the kind of news that it was made for."""
    assert problem.replan is not None
    found: dict[OrderId, str] = {}
    for past, visit, tube in _carried(problem):
        for order_id in set(tube.order_ids) & lost:
            found[order_id] = _cause(problem, past, visit, tube, heard)
    for order_id in lost - found.keys():
        found[order_id] = "given away late, as was told afterwards"
    return found


def saved_by_going_straight(problem: Problem, lost: Set[OrderId]) -> list[str]:
    """Return a fault for each specimen lost that going straight from the bed would have saved."""
    return [
        f"{', '.join(tube.order_ids)}: in vain, though {problem.staff[past.phlebotomist].initials} can be in time"
        for past, visit, tube in _carried(problem)
        if set(tube.order_ids) & lost and _straight(problem, past, visit, tube)
    ]


def _carried(problem: Problem) -> Iterator[tuple[Past, Visit, Tube]]:
    """Yield every tube in a tray: whose tray, the visit that filled it, the tube."""
    assert problem.replan is not None
    for past in problem.replan.past:
        for stop in past.stops:
            if isinstance(stop, Visit):
                yield from ((past, stop, p.tube) for p in stop.tubes if p.handover is None and not p.tube.is_discard)


def _cause(problem: Problem, past: Past, visit: Visit, tube: Tube, heard: str) -> str:
    assert problem.replan is not None
    who = problem.staff[past.phlebotomist]
    if any(event.what == PhlebotomistLost(phlebotomist=past.phlebotomist) for event in problem.replan.log):
        return "its collector is out"
    if heard in ("courier", "no courier", "late"):
        return {"courier": "courier delayed", "no courier": "courier cancelled", "late": "its collector held up"}[heard]
    if past.free_s >= who.until_s:
        return "its collector's shift ended with it in the tray"
    if tube.stability_s is not None and visit.draw_s + tube.stability_s < problem.replan.now_s:
        return "told when it was too old already"
    index = next(n for n, stop in enumerate(past.stops) if stop is visit)
    return "assumed otherwise before" if index in past.assumed else "its collector slower than planned"


def _straight(problem: Problem, past: Past, visit: Visit, tube: Tube) -> bool:
    """Return whether a tube is in time when its collector does nothing else: first to whatever takes it soonest."""
    until_s = problem.staff[past.phlebotomist].until_s
    for pickup in problem.pickups:
        if tube.by_hand and pickup.kind is PickupKind.TUBE:
            continue
        end_s = past.free_s + problem.walking.between(past.place, pickup.place) + problem.policy.handover.handover_s
        arrival_s = _arrival_s(pickup, end_s)
        if end_s > until_s or arrival_s is None:
            continue
        if tube.stability_s is None or arrival_s - visit.draw_s <= tube.stability_s:
            return True
    return False


def _arrival_s(pickup: Pickup, end_s: int) -> int | None:
    if pickup.kind is not PickupKind.COURIER:
        return end_s + pickup.transit_s
    leaving = [departs_s for departs_s in pickup.departures_s if departs_s >= end_s]
    return min(leaving) + pickup.transit_s if leaving else None
