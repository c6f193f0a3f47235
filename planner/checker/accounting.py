"""Recomputes every goal from the problem and the plan's stops, and compares it with what the plan says of itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from planner.checker.arrivals import tube_arrival_s
from planner.checker.broken import Broken, Rule
from planner.checker.facts import Facts, VisitAt
from planner.checker.windows import target_s
from planner.domain.orders import Order
from planner.domain.plan import Reason


def uncollected(facts: Facts) -> int:
    """Return the weight of all orders of this round that no visit serves."""
    served = {order.id for at in facts.visits for order in at.orders}
    served |= {left.order_id for left in facts.plan.unplanned if left.reason is Reason.OTHER_ROUND}
    policy = facts.problem.policy.weights
    total = 0
    for order in facts.problem.orders:
        if order.id not in served:
            weight = policy.uncollected[order.priority]
            is_timed = order.is_timed or facts.test(order).dose_rule is not None
            total += max(weight, policy.uncollected_timed) if is_timed else weight
    return total


def late(facts: Facts) -> int:
    """Return weighted seconds of draws past their targets."""
    policy = facts.problem.policy.weights
    total = 0
    for at, order, _ in facts.draws:
        target = target_s(facts, order)
        if target is not None and at.visit.draw_s > target:
            weight = policy.late[order.priority]
            total += (max(weight, policy.late_timed) if order.is_timed else weight) * (at.visit.draw_s - target)
    return total


def punctures(facts: Facts) -> int:
    """Return the number of visits."""
    return len(facts.visits)


def delivery(facts: Facts) -> int:
    """Return weighted seconds of specimens past the time at which their ward needs them."""
    needed_by = facts.problem.policy.round.needed_by_s
    weights = facts.problem.policy.weights.late
    total = 0
    for at, order, _ in facts.draws:
        needed_s = needed_by.get(at.patient.ward, needed_by.get("*"))
        arrivals = _arrivals(facts, at, order)
        if needed_s is not None and arrivals:
            total += weights[order.priority] * max(0, max(arrivals) - needed_s)
    return total


def arrival(facts: Facts) -> int:
    """Return the sum over visits of the seconds from the begin of the round to the arrival of the last tube."""
    total = 0
    for at in facts.visits:
        arrivals = [a for planned in at.visit.tubes if (a := tube_arrival_s(facts, at, planned)) is not None]
        if arrivals:
            total += max(arrivals) - facts.start_s
    return total


def time(facts: Facts) -> int:
    """Return seconds that routes last, their visits' service apart: walking, waiting, breaks and handing over."""
    service_s = sum(at.visit.depart_s - at.visit.start_s for at in facts.visits)
    begun = [(facts.problem.staff[route.phlebotomist], route.stops[-1]) for route in facts.plan.routes if route.stops]
    return sum(last.depart_s - who.from_s for who, last in begun) - service_s


def finish(facts: Facts) -> int:
    """Return seconds from the begin of the round to the last departure; 0 without stops."""
    return max((at.stop.depart_s - facts.start_s for at in facts.stops), default=0)


GOALS: tuple[tuple[str, str, Callable[[Facts], int]], ...] = (
    ("uncollected", "weight", uncollected),
    ("late", "weighted s", late),
    ("punctures", "draws", punctures),
    ("delivery", "weighted s", delivery),
    ("arrival", "s", arrival),
    ("time", "s", time),
    ("finish", "s", finish),
)
"""Name, unit and computation of each goal, in the order in which they are compared."""


def goal_names(facts: Facts) -> Iterator[Broken]:
    """The plan states all goals, in the rule book's order, with their units."""
    found = [(goal.name, goal.unit) for goal in facts.plan.goals]
    expected = [(name, unit) for name, unit, _ in GOALS]
    if found != expected:
        yield Broken(f"goals: found {_pairs(found)}, expected {_pairs(expected)}")


def goal_value(facts: Facts) -> Iterator[Broken]:
    """Each goal's value is what the stops of the plan give."""
    computations = {name: compute for name, _, compute in GOALS}
    for goal in facts.plan.goals:
        if goal.name in computations and goal.value != (value := computations[goal.name](facts)):
            yield Broken(f"goal {goal.name}: value {goal.value} {goal.unit}, expected {value}")


def goal_bound(facts: Facts) -> Iterator[Broken]:
    """A bound is a value that no plan can beat: never above the plan's own."""
    for goal in facts.plan.goals:
        if goal.bound > goal.value:
            yield Broken(f"goal {goal.name}: bound {goal.bound} above the value {goal.value}")


def _arrivals(facts: Facts, at: VisitAt, order: Order) -> list[int]:
    arrivals = (tube_arrival_s(facts, at, planned) for planned in at.visit.tubes if order.id in planned.tube.order_ids)
    return [arrival for arrival in arrivals if arrival is not None]


def _pairs(pairs: list[tuple[str, str]]) -> str:
    return ", ".join(f"{name} ({unit})" for name, unit in pairs) or "none"


RULES: tuple[Rule, ...] = (goal_names, goal_value, goal_bound)
