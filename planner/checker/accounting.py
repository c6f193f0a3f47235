"""Recomputes every goal from the problem and the plan's stops, and compares it with what the plan says of itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from planner.checker.arrivals import tube_arrival_s
from planner.checker.broken import Broken, Rule
from planner.checker.facts import Facts, VisitAt, past_of
from planner.checker.windows import target_s
from planner.domain.orders import Order, Precaution
from planner.domain.plan import Reason
from planner.domain.revisions.replan import Promised


def uncollected(facts: Facts) -> int:
    """Return the weight of all orders of this round that no visit serves."""
    served = {order.id for at in facts.all_visits for order in at.orders}
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
    for at, order in _under_way(facts):
        needed_s = needed_by.get(at.patient.ward, needed_by.get("*"))
        arrivals = _arrivals(facts, at, order)
        if needed_s is not None and arrivals:
            total += weights[order.priority] * max(0, max(arrivals) - needed_s)
    return total


def arrival(facts: Facts) -> int:
    """Return the sum over visits of the seconds from the begin of the round to the arrival of the last tube."""
    carried: dict[tuple[int, int], list[int]] = {}
    coming = ((at, planned) for at in facts.visits for planned in at.visit.tubes)
    for at, planned in (*coming, *facts.in_trays):
        arrival = tube_arrival_s(facts, at, planned)
        if arrival is not None:
            carried.setdefault((at.at.route.phlebotomist, at.at.index), []).append(arrival)
    return sum(max(arrivals) - facts.start_s for arrivals in carried.values())


def time(facts: Facts) -> int:
    """Return seconds that routes last, their visits' service apart: walking, waiting, breaks and handing over."""
    service_s = sum(at.visit.depart_s - at.visit.start_s for at in facts.visits)
    total = 0
    for route in facts.plan.routes:
        if len(route.stops) > facts.num_past(route.phlebotomist):
            past = past_of(facts.problem, route.phlebotomist)
            from_s = facts.problem.staff[route.phlebotomist].from_s if past is None else past.free_s
            total += route.stops[-1].depart_s - from_s
    return total - service_s


def finish(facts: Facts) -> int:
    """Return seconds from the begin of the round to the last departure; 0 without stops."""
    return max((at.stop.depart_s - facts.start_s for at in facts.stops), default=0)


def changes(facts: Facts) -> int:
    """Return how many promised visits the plan gives to another person, out of their order, or too much later.

    Too late is later than promised, and later than its person would come to it by walking on.

    A visit is that promised one with which it has most orders in common, the earlier promised of two.
    """
    if facts.problem.replan is None:
        return 0
    allowed_s = facts.problem.policy.replan.change_s
    total = 0
    for route in facts.plan.routes:
        passed: list[int] = []
        for at in facts.visits:
            if at.at.route is not route or (old := _promised(facts, at)) is None:
                continue
            is_elsewhere = old.phlebotomist != route.phlebotomist
            is_late = at.visit.draw_s - max(old.draw_s, old.walking_on_s or 0) > allowed_s
            total += is_elsewhere or is_late or any(position > old.position for position in passed)
            if not is_elsewhere:
                passed.append(old.position)
    return total


def _promised(facts: Facts, at: VisitAt) -> Promised | None:
    replan, ids = facts.problem.replan, set(at.visit.order_ids)
    best: Promised | None = None
    for old in replan.promised if replan else ():
        shared = len(ids.intersection(old.order_ids))
        if shared and (best is None or shared > len(ids.intersection(best.order_ids))):
            best = old
    return best


_LAST = (Precaution.AIRBORNE, Precaution.UNCLEAR)
_TURN = ((Precaution.PROTECTIVE,), (None,), (Precaution.CONTACT,), (Precaution.DROPLET,), _LAST)
"""Who comes first: protective isolation, then no precaution, contact, droplet; last airborne and what is not clear."""


def precautions(facts: Facts) -> int:
    """Return the pairs of visits of one route of which the later one should have come first.

    A patient with several precautions has the turn of the last of them.
    """
    total = 0
    for route in facts.plan.routes:
        patients = [at.patient for at in facts.visits if at.at.route is route]
        turns = [
            max(turn for turn, those in enumerate(_TURN) if not (patient.precautions or {None}).isdisjoint(those))
            for patient in patients
        ]
        total += sum(turns[j] < turns[i] for j in range(len(turns)) for i in range(j))
    return total


GOALS: tuple[tuple[str, str, Callable[[Facts], int]], ...] = (
    ("uncollected", "weight", uncollected),
    ("late", "weighted s", late),
    ("punctures", "draws", punctures),
    ("delivery", "weighted s", delivery),
    ("changes", "visits", changes),
    ("precautions", "pairs", precautions),
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


def _under_way(facts: Facts) -> Iterator[tuple[VisitAt, Order]]:
    """Yield the orders whose specimens are still to reach the laboratory: of visits to come, and in trays."""
    yield from ((at, order) for at, order, _ in facts.draws)
    carried = {(at.visit.draw_id, order_id) for at, planned in facts.in_trays for order_id in planned.tube.order_ids}
    for at in facts.all_visits:
        if at not in facts.visits:
            yield from ((at, order) for order in at.orders if (at.visit.draw_id, order.id) in carried)


def _arrivals(facts: Facts, at: VisitAt, order: Order) -> list[int]:
    arrivals = (tube_arrival_s(facts, at, planned) for planned in at.visit.tubes if order.id in planned.tube.order_ids)
    return [arrival for arrival in arrivals if arrival is not None]


def _pairs(pairs: list[tuple[str, str]]) -> str:
    return ", ".join(f"{name} ({unit})" for name, unit in pairs) or "none"


RULES: tuple[Rule, ...] = (goal_names, goal_value, goal_bound)
