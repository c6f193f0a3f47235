"""What one visit came to: its true instants, which orders it brought, which tubes it filled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from planner.domain.draws import DrawId
from planner.domain.orders import OrderId
from planner.domain.plan import Outcome, PlannedTube, Visit
from planner.domain.revisions.reported import Reported

FILLED = frozenset({Outcome.COLLECTED, Outcome.PARTIAL, Outcome.RECOLLECT})
"""Outcomes after which blood was drawn, whatever became of it."""

_SHORT = frozenset({Outcome.REFUSED, Outcome.AWAY, Outcome.UNIDENTIFIED})
"""Outcomes after which she goes on at once."""

Told = Mapping[DrawId, Sequence[Reported]]


def told_of(visit: Visit, told: Told) -> Sequence[Reported]:
    """Return what was reported of a visit."""
    return told.get(visit.draw_id, ())


def shifted(visit: Visit, by_s: int) -> Visit:
    """Return a visit some seconds later (or earlier)."""
    return replace(
        visit,
        arrive_s=visit.arrive_s + by_s,
        start_s=visit.start_s + by_s,
        draw_s=visit.draw_s + by_s,
        depart_s=visit.depart_s + by_s,
    )


def as_planned(visit: Visit) -> Visit:
    """Return a visit of which nothing was told: taken to have brought all that it was made for."""
    return replace(visit, outcome=Outcome.COLLECTED)


def as_told(visit: Visit, reports: Sequence[Reported], now_s: int) -> Visit:
    """Return a visit as it was reported.

    The draw is at the time reported (of several the last); without one the visit keeps its own time, at the latest
    now. An order that no report names was drawn if a tube that was drawn serves it. It came to the same as the others
    if none of these was drawn and all came to one thing. Else nobody knows: it is in neither ``order_ids`` nor
    ``tried``.
    """
    times = [r.at_s for r in reports if r.at_s is not None]
    draw_s = min(max(times) if times else visit.draw_s, now_s)
    outcomes = _outcomes(visit, reports)
    orders = tuple(outcomes)
    brought = tuple(o for o in orders if outcomes[o] is Outcome.COLLECTED)
    filled = {o for o in orders if outcomes[o] in FILLED}
    moved = _with_stay(shifted(visit, draw_s - visit.draw_s), reports, now_s)
    kinds = set(outcomes.values())
    whole = next(iter(kinds)) if len(kinds) == 1 else Outcome.PARTIAL if filled else Outcome.UNSUCCESSFUL
    return replace(
        moved,
        depart_s=min(moved.depart_s, max(draw_s, now_s)) if kinds <= _SHORT else moved.depart_s,
        order_ids=brought,
        tried=tuple(o for o in orders if o not in brought),
        tubes=_filled(moved, filled, reports),
        outcome=whole,
    )


def _with_stay(visit: Visit, reports: Sequence[Reported], now_s: int) -> Visit:
    """Return a visit with the arrival and the departure that were reported, as far as the draw lies between them."""
    came = [r.arrived_s for r in reports if r.arrived_s is not None and r.arrived_s <= visit.draw_s]
    left = [r.left_s for r in reports if r.left_s is not None and visit.draw_s <= r.left_s <= now_s]
    start_s = min(came, default=visit.start_s)
    return replace(
        visit,
        arrive_s=start_s if came else visit.arrive_s,
        start_s=start_s,
        depart_s=max(left, default=visit.depart_s),
    )


def _filled(visit: Visit, filled: set[OrderId], reports: Sequence[Reported]) -> tuple[PlannedTube, ...]:
    """Return the tubes that blood is in: those told; those of orders that were drawn, where no tube is told of them."""
    told = {position for r in reports for position in r.tubes or ()}
    named = {order_id for r in reports if r.tubes is not None for order_id in r.order_ids}
    plain = {order_id for r in reports if r.tubes is None for order_id in r.order_ids} if named else filled
    kept = [
        p
        for p in visit.tubes
        if filled & set(p.tube.order_ids)
        and (p.tube.draw_position in told or filled & plain & set(p.tube.order_ids) - named)
    ]
    return tuple(p for p in visit.tubes if p in kept or (p.tube.is_discard and kept))


def _outcomes(visit: Visit, reports: Sequence[Reported]) -> dict[OrderId, Outcome]:
    """Return what became of the orders of a visit, as far as it is known."""
    named = {order_id: report.outcome for report in reports for order_id in report.order_ids}
    said = set(named.values())
    rest = next(iter(said)) if len(said) == 1 and not said & FILLED else None
    drawn = {order_id for order_id, outcome in named.items() if outcome is Outcome.COLLECTED}
    found: dict[OrderId, Outcome] = {}
    for order_id in (*visit.order_ids, *visit.tried):
        tubes = [set(p.tube.order_ids) for p in visit.tubes if order_id in p.tube.order_ids]
        is_with_others = bool(tubes) and all(orders & drawn for orders in tubes)
        outcome = named.get(order_id, Outcome.COLLECTED if is_with_others else rest)
        if outcome is not None:
            found[order_id] = outcome
    return found


def outcomes_told(visit: Visit, reports: Sequence[Reported]) -> dict[OrderId, Outcome]:
    """Return what became of each order of a visit that was reported and did not bring it."""
    said = {order_id: r.outcome for r in reports for order_id in r.order_ids}
    return {o: said.get(o, visit.outcome or Outcome.COLLECTED) for o in visit.tried}
