"""Figures for people: the same draws walked in bed order, the practice that a plan is set beside."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from planner.domain.draws import Draw
from planner.domain.places import Pickup, PickupKind, PlaceId
from planner.domain.problem import Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class BedOrderWalk:
    """What comes of walking the list in bed order: orders off their time, tubes too old on arrival, the end."""

    orders_off_time: int
    """Orders drawn outside their window or past its soft end."""
    tubes_too_old: int
    """Tubes that reach the laboratory past their stability, or that no courier takes any more."""
    finish_s: int


def natural_key(text: str) -> tuple[tuple[bool, int, str], ...]:
    """Return a sort key that puts bed 2 before bed 10."""
    parts = re.findall(r"\d{1,18}|\D+", text)
    return tuple((part.isdigit(), int(part) if part.isdigit() else 0, part) for part in parts)


def bed_order_walk(problem: Problem, draws: Sequence[Draw]) -> BedOrderWalk:
    """Walk all draws bed after bed, as a paper list is walked, and count what goes wrong.

    The list, in natural order of ward and bed, is cut into runs of equal length, one for each phlebotomist. Nobody
    waits for a window. With specimens in hand a collector goes to the courier when the next bed would make her miss
    the departure, and hands over what is left at the end; tube stations are not used.
    """
    ordered = sorted(draws, key=lambda d: (problem.places[d.request.bed].ward, natural_key(d.request.bed), d.id))
    size = -(-len(ordered) // max(1, len(problem.staff)))
    walks = [
        _walk(problem, k, ordered[k * size : (k + 1) * size]) for k in range(len(problem.staff)) if ordered[k * size :]
    ]
    return BedOrderWalk(
        orders_off_time=sum(w.orders_off_time for w in walks),
        tubes_too_old=sum(w.tubes_too_old for w in walks),
        finish_s=max((w.finish_s for w in walks), default=problem.start_s),
    )


@dataclass(slots=True)
class _Walker:
    """Where a collector is, and what she carries: (draw time, its tubes' draw)."""

    place: PlaceId
    clock_s: int
    tray: list[tuple[int, Draw]] = field(default_factory=list)
    too_old: int = 0


def _walk(problem: Problem, collector: int, draws: Sequence[Draw]) -> BedOrderWalk:
    who = problem.staff[collector]
    walker = _Walker(who.starts_at, who.from_s)
    pickup = _pickup_by_hand(problem)
    off_time = 0
    for draw in draws:
        reached_s = walker.clock_s + _way(problem, walker.place, draw.request.bed)
        if walker.tray and pickup is not None and _would_miss(problem, pickup, walker, draw, reached_s):
            _hand_over(problem, pickup, walker)
            reached_s = walker.clock_s + _way(problem, walker.place, draw.request.bed)
        drawn_s = reached_s + draw.lead_s
        off_time += sum(
            not any(drawn_s in w for w in window.windows) or (window.target_s is not None and drawn_s > window.target_s)
            for window in draw.request.order_windows
        )
        walker.clock_s, walker.place = reached_s + draw.service_s, draw.request.bed
        walker.tray.append((drawn_s, draw))
    if pickup is not None:
        _hand_over(problem, pickup, walker)
    return BedOrderWalk(orders_off_time=off_time, tubes_too_old=walker.too_old, finish_s=walker.clock_s)


def _pickup_by_hand(problem: Problem) -> Pickup | None:
    """Return the first courier, else the first place carried to."""
    by_hand = [p for p in problem.pickups if p.kind is not PickupKind.TUBE]
    return min(by_hand, key=lambda p: (p.kind is not PickupKind.COURIER, p.place), default=None)


def _would_miss(problem: Problem, pickup: Pickup, walker: _Walker, draw: Draw, reached_s: int) -> bool:
    """Return whether one more bed would miss a departure that can still be caught from here."""
    now_s = walker.clock_s + _way(problem, walker.place, pickup.place) + problem.policy.handover.handover_s
    later_s = (
        reached_s + draw.service_s + _way(problem, draw.request.bed, pickup.place) + problem.policy.handover.handover_s
    )
    return any(now_s <= departs_s < later_s for departs_s in pickup.departures_s)


def _hand_over(problem: Problem, pickup: Pickup, walker: _Walker) -> None:
    walker.clock_s += _way(problem, walker.place, pickup.place) + problem.policy.handover.handover_s
    walker.place = pickup.place
    departures = [d for d in pickup.departures_s if d >= walker.clock_s]
    leaves_s = departures[0] if departures else None if pickup.departures_s else walker.clock_s
    for drawn_s, draw in walker.tray:
        for tube in draw.tube_set.tubes:
            if tube.is_discard:
                continue
            is_old = leaves_s is None or (
                tube.stability_s is not None and leaves_s + pickup.transit_s - drawn_s > tube.stability_s
            )
            walker.too_old += is_old
    walker.tray.clear()


def _way(problem: Problem, from_place: PlaceId, to_place: PlaceId) -> int:
    return problem.walking.between(from_place, to_place)
