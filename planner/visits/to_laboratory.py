"""When a stat could first be drawn, and when what is wanted soon should be in the laboratory (part ``stat-to-lab``)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from planner.domain.draws import OrderWindow, Strength
from planner.domain.orders import Order, OrderId, Priority
from planner.domain.places import PlaceId
from planner.domain.plan import Plan, Visit
from planner.domain.policy import Policy
from planner.domain.problem import Problem

OWN_RULES = frozenset({"requested", "clock", "fasting", "dose"})
"""Rules by which a draw's own times say that it must come before or after another (part ``precautions``)."""

_EARLIEST_RULES = OWN_RULES | {"retry"}


def first_draws_s(orders: Iterable[Order], windows: Iterable[OrderWindow], ready_s: int) -> dict[OrderId, int]:
    """Return when each stat of a visit could first be drawn, if it has a target.

    ``ready_s`` is the first second at which anybody could be at the bed and ready to draw. Counted from there, and not
    from the draw: who draws a stat later, just before a courier leaves, gains nothing.
    """
    stats = {order.id: order for order in orders if order.priority is Priority.STAT}
    first_s: dict[OrderId, int] = {}
    for window in windows:
        if (order := stats.get(window.order_id)) is None or window.target is None:
            continue
        own_s = [e.earliest_s for e in window.ends if e.rule in _EARLIEST_RULES and e.strength is Strength.HARD]
        first_s[order.id] = max([ready_s, *(s for s in (*own_s, order.collect_at_s) if s is not None)])
    return first_s


def dues_s(
    policy: Policy, orders: tuple[Order, ...], windows: tuple[OrderWindow, ...], ready_s: int
) -> dict[OrderId, int]:
    """Return when the specimens of each stat and asap that has a target should be in the laboratory."""
    to_lab_s = policy.windows.to_lab_s
    dues = {order_id: s + to_lab_s[Priority.STAT] for order_id, s in first_draws_s(orders, windows, ready_s).items()}
    asap = {order.id for order in orders if order.priority is Priority.ASAP}
    for window in windows:
        if window.order_id in asap and window.target_s is not None:
            dues[window.order_id] = window.target_s + to_lab_s[Priority.ASAP]
    return dues


def dues_of_drawn_s(policy: Policy, orders: Iterable[Order], drawn_s: int) -> dict[OrderId, int]:
    """Return the same of what was drawn already: it counts from the draw."""
    to_lab_s = policy.windows.to_lab_s
    return {order.id: drawn_s + to_lab_s[order.priority] for order in orders if order.priority in to_lab_s}


def first_reach_s(problem: Problem, bed: PlaceId) -> int | None:
    """Return the first second at which anybody could be at a bed; None where there is no way to it."""
    reached_s = []
    for n, person in enumerate(problem.staff):
        past = problem.replan.past[n] if problem.replan else None
        place, free_s = (person.starts_at, person.from_s) if past is None else (past.place, past.free_s)
        if place == bed or (place, bed) in problem.walking.seconds:
            reached_s.append(free_s + problem.walking.between(place, bed))
    return min(reached_s, default=None)


def plan_dues_s(problem: Problem, plan: Plan, windows: Mapping[OrderId, OrderWindow]) -> dict[OrderId, int]:
    """Return when the stat and asap orders that a plan's visits serve should be in the laboratory."""
    dues: dict[OrderId, int] = {}
    for route in plan.routes:
        num_past = len(problem.replan.past[route.phlebotomist].stops) if problem.replan else 0
        for position, visit in enumerate(route.stops):
            if not isinstance(visit, Visit):
                continue
            orders = tuple(problem.order(order_id) for order_id in visit.order_ids)
            if position < num_past:
                dues |= dues_of_drawn_s(problem.policy, orders, visit.draw_s)
            elif (reach_s := first_reach_s(problem, visit.place)) is not None:
                known = tuple(windows[order.id] for order in orders if order.id in windows)
                dues |= dues_s(problem.policy, orders, known, reach_s + visit.draw_s - visit.start_s)
    return dues
