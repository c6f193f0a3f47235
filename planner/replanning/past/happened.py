"""What one visit came to: its true instants, which orders it brought, which tubes it filled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from planner.domain.draws import DrawId
from planner.domain.orders import OrderId
from planner.domain.plan import Outcome, Visit
from planner.domain.reported import Reported

_FILLED = frozenset({Outcome.COLLECTED, Outcome.PARTIAL, Outcome.RECOLLECT})
"""Outcomes after which blood was drawn, whatever became of it."""

_SHORT = frozenset({Outcome.REFUSED, Outcome.AWAY})
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

    The draw is at the time told (of several the last); without one the visit keeps its own time, at the latest now.
    Orders that no row names came to the same as the rest of the visit, if that was one thing; else they were drawn.
    """
    times = [r.at_s for r in reports if r.at_s is not None]
    draw_s = min(max(times) if times else visit.draw_s, now_s)
    outcome_of: dict[OrderId, Outcome] = {order_id: r.outcome for r in reports for order_id in r.order_ids}
    said = set(outcome_of.values())
    rest = next(iter(said)) if len(said) == 1 else Outcome.COLLECTED
    orders = (*visit.order_ids, *visit.tried)
    outcomes = {order_id: outcome_of.get(order_id, rest) for order_id in orders}
    brought = tuple(o for o in orders if outcomes[o] is Outcome.COLLECTED)
    filled = {o for o in orders if outcomes[o] in _FILLED}
    moved = shifted(visit, draw_s - visit.draw_s)
    kinds = set(outcomes.values())
    whole = next(iter(kinds)) if len(kinds) == 1 else Outcome.PARTIAL if filled else Outcome.UNSUCCESSFUL
    return replace(
        moved,
        depart_s=min(moved.depart_s, max(draw_s, now_s)) if kinds <= _SHORT else moved.depart_s,
        order_ids=brought,
        tried=tuple(o for o in orders if o not in brought),
        tubes=tuple(p for p in moved.tubes if filled & set(p.tube.order_ids) or (p.tube.is_discard and filled)),
        outcome=whole,
    )


def outcomes_told(visit: Visit, reports: Sequence[Reported]) -> dict[OrderId, Outcome]:
    """Return what became of each order of a visit that was reported and did not bring it."""
    said = {order_id: r.outcome for r in reports for order_id in r.order_ids}
    return {o: said.get(o, visit.outcome or Outcome.COLLECTED) for o in visit.tried}
