"""When specimens reach the laboratory, recomputed from pickups; and which stop takes them."""

from __future__ import annotations

from planner.checker.facts import Facts, VisitAt
from planner.domain.places import Pickup, PickupKind
from planner.domain.plan import Handover, PlannedTube


def journeys(facts: Facts, handover: Handover) -> list[tuple[int | None, int]]:
    """Return (courier's departure, arrival at the laboratory) of a hand-over; empty when nothing leaves any more.

    More than one, best first, where pickups of one place and kind take different times.
    """
    matching = [p for p in facts.problem.pickups if (p.place, p.kind) == (handover.place, handover.kind)]
    if handover.kind is not PickupKind.COURIER:
        return sorted((None, handover.depart_s + pickup.transit_s) for pickup in matching)
    leaving = [
        (departs_s, departs_s + pickup.transit_s)
        for pickup in matching
        if (departs_s := _next_departure(pickup, handover.depart_s)) is not None
    ]
    first_s = min((departs_s for departs_s, _ in leaving), default=None)
    return [(d, a) for d, a in sorted(leaving) if d == first_s]


def arrival_s(facts: Facts, handover: Handover) -> int | None:
    """Return when what is handed over reaches the laboratory; None when it does not."""
    arrivals = [arrival for _, arrival in journeys(facts, handover)]
    if handover.lab_arrival_s in arrivals:
        return handover.lab_arrival_s
    return arrivals[0] if arrivals else None


def handover_of(at: VisitAt, planned: PlannedTube) -> Handover | None:
    """Return the later stop that hands a tube over; None when the plan names none, or no such stop."""
    index, stops = planned.handover, at.at.route.stops
    if index is None or not at.at.index < index < len(stops):
        return None
    stop = stops[index]
    return stop if isinstance(stop, Handover) else None


def tube_arrival_s(facts: Facts, at: VisitAt, planned: PlannedTube) -> int | None:
    """Return when a tube reaches the laboratory; None when it does not (a discard tube never does)."""
    handover = None if planned.tube.is_discard else handover_of(at, planned)
    return None if handover is None else arrival_s(facts, handover)


def _next_departure(pickup: Pickup, ready_s: int) -> int | None:
    return min((departs_s for departs_s in pickup.departures_s if departs_s >= ready_s), default=None)
