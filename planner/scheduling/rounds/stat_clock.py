"""When a stat could first be drawn, and when what is wanted soon should be in the laboratory (part ``stat-to-lab``)."""

from __future__ import annotations

from planner.domain.draws import Draw, Strength
from planner.domain.orders import Order, OrderId, Priority
from planner.domain.policy import Policy

OWN_RULES = frozenset({"requested", "clock", "fasting", "dose"})
"""Rules by which a draw's own times say that it must come before or after another (part ``precautions``)."""

_EARLIEST_RULES = OWN_RULES | {"retry"}


def first_draws_s(draw: Draw, reach_s: int) -> dict[OrderId, int]:
    """Return when each stat of a visit could first be drawn, if it has a target.

    ``reach_s`` is the first second at which anybody could be at the bed. Counted from there, and not from the draw: who
    draws a stat later, just before a courier leaves, gains nothing.
    """
    stats = {order.id: order for order in draw.request.orders if order.priority is Priority.STAT}
    first_s: dict[OrderId, int] = {}
    for window in draw.request.order_windows:
        if (order := stats.get(window.order_id)) is None or window.target is None:
            continue
        own_s = [e.earliest_s for e in window.ends if e.rule in _EARLIEST_RULES and e.strength is Strength.HARD]
        not_before_s = [s for s in (*own_s, order.collect_at_s) if s is not None]
        first_s[order.id] = max([reach_s + draw.lead_s, *not_before_s])
    return first_s


def dues_s(policy: Policy, draw: Draw, reach_s: int) -> dict[OrderId, int]:
    """Return when the specimens of each stat and asap that has a target should be in the laboratory."""
    to_lab_s = policy.windows.to_lab_s
    dues = {order_id: s + to_lab_s[Priority.STAT] for order_id, s in first_draws_s(draw, reach_s).items()}
    asap = {order.id for order in draw.request.orders if order.priority is Priority.ASAP}
    for window in draw.request.order_windows:
        if window.order_id in asap and window.target_s is not None:
            dues[window.order_id] = window.target_s + to_lab_s[Priority.ASAP]
    return dues


def dues_of_drawn_s(policy: Policy, orders: tuple[Order, ...], drawn_s: int) -> dict[OrderId, int]:
    """Return the same of what was drawn already: it counts from the draw."""
    to_lab_s = policy.windows.to_lab_s
    return {order.id: drawn_s + to_lab_s[order.priority] for order in orders if order.priority in to_lab_s}
