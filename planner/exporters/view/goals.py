"""The tiers of goals in words: what each counts, how far the plan gets, what is proven, and how stats fare."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from planner.domain.derived.need_by import need_by_misses
from planner.domain.goals import EFFORT_PER_S, Part, Tier
from planner.domain.orders import Priority
from planner.domain.places import PickupKind
from planner.domain.plan import Goal, GoalPart, Handover, Reason, Route, Stop, Visit
from planner.domain.prices import tried_prices
from planner.domain.problem import Problem
from planner.exporters.view.cards.windows import late_minutes
from planner.exporters.view.context import ViewContext
from planner.exporters.view.lists import late_orders
from planner.exporters.view.rows import GoalLine, PartLine
from planner.exporters.view.words import count_words
from planner.units import SECONDS_PER_MINUTE

GOAL: dict[str, tuple[str, str]] = {
    "left-out": ("Left out", "orders that no visit serves; they weigh by priority"),
    "service": ("Service", "minutes by which patients and wards wait too long, at the site's prices"),
    "effort": ("Effort", "minutes that the round costs those who walk it, at the site's prices"),
    "late": ("late draws", "orders drawn past the wished time; they weigh by priority"),
    "delivery": (
        "late at the laboratory",
        "orders there past the ward's need-by time; they weigh by priority",
    ),
    "stat-to-lab": (
        "stat to the laboratory",
        "weighted minutes past the time that a stat or asap may take there",
    ),
    "second-punctures": ("second punctures", "needle sticks beyond a patient's first"),
    "changes": ("moved stops", "stops moved against the last sheet"),
    "time": ("away from beds", "walking, waiting and handing over, all together"),
    "stat-wait": ("stat drawn later", "than somebody could be at the bed for it"),
    "last-minutes": ("in the last minutes", "before an end that cannot be exceeded, like a dose or a meal"),
    "off-time": ("off the wished time", "before or behind stated times, and fasts or hours that are preferred"),
    "arrival": ("at the laboratory", "a patient's blood, on average"),
    "finish": ("last person done", "the end of the longest route"),
    "share": ("above a fair share", "work of the busiest at beds above the share of the time there"),
    "ward-changes": ("changes of ward", "visits on another ward than the visit before"),
    "other-wards": ("away from preferred wards", "visits by somebody who prefers other wards"),
    "precautions": ("out of isolation order", "pairs that could be visited in the usual order of isolation rooms"),
    "protective-after-airborne": ("protective after airborne", "pairs that could be visited the other way round"),
}
"""What the tiers of goals and their parts are called, and what they count."""


def goal_lines(context: ViewContext) -> tuple[GoalLine, ...]:
    """Return the tiers of goals in their order, with the proof or the gap."""
    return tuple(_goal(context, goal) for goal in context.plan.goals)


def price_lines(problem: Problem) -> tuple[str, ...]:
    """Return the prices of the plan that are not the site's: 'moved_stop 5 min, the site has 10 min'."""
    return tuple(f"{price.name} {price.tried}, the site has {price.site}" for price in tried_prices(problem))


def _goal(context: ViewContext, goal: Goal) -> GoalLine:
    name, meaning = GOAL[goal.name]
    return GoalLine(
        name=name,
        meaning=meaning,
        value=_left_out(context) if goal.name == Tier.LEFT_OUT.value else _amount(goal, goal.value),
        proof=_proof(goal),
        parts=(
            *(_part(context, goal, part) for part in goal.parts if _is_shown(context, part)),
            *(_waiting(context) if goal.name == Tier.LEFT_OUT.value else ()),
        ),
    )


def _waiting(context: ViewContext) -> Iterator[PartLine]:
    """Yield how many orders were set aside before any plan: the tier does not count them, and nobody draws them."""
    if number := sum(u.reason.needs_decision for u in context.problem.set_aside):
        meaning = "orders that a person must decide about first; the tier does not count them"
        yield PartLine(name="to decide, not counted", meaning=meaning, value=count_words(number, "order"), counted="")


def _is_shown(context: ViewContext, part: GoalPart) -> bool:
    """Return whether a part says something: changes where there is a last sheet or several wards, nothing twice."""
    if part.name == Part.CHANGES.value:
        return context.problem.replan is not None
    if part.name == Part.WARD_CHANGES.value:
        return context.names.has_several_wards
    if part.name == Part.OTHER_WARDS.value:
        return any(who.prefers for who in context.problem.staff)
    return part.name != Part.UNCOLLECTED.value


def _part(context: ViewContext, goal: Goal, part: GoalPart) -> PartLine:
    name, meaning = GOAL[part.name]
    value, counted = _own_amount(context, part), _amount(goal, part.counted)
    is_same = value == counted or not part.counted
    return PartLine(name=name, meaning=meaning, value=value, counted="" if is_same else counted)


def _own_amount(context: ViewContext, part: GoalPart) -> str:
    """Return the own value of a part: a clock time, minutes, or a number."""
    if part.name == Part.LATE.value and part.value and not context.windows:
        return "not counted"  # whoever asks does not have the windows
    if part.name in _COUNTED:
        return _COUNTED[part.name](context)
    if part.name == Part.STAT_TO_LAB.value and not part.value:
        return "none"
    if part.name == Part.ARRIVAL.value:
        visits = sum(len(route.visits) for route in context.plan.routes)
        return context.clock(context.problem.start_s + part.value // max(1, visits))
    if part.name == Part.FINISH.value:
        return context.clock(context.problem.start_s + part.value)
    if part.name == Part.SHARE.value:
        return minutes_words(part.value / EFFORT_PER_S)
    if part.unit == "s" or part.unit.endswith(" s"):
        return minutes_words(part.value)
    return str(part.value)


def _proof(goal: Goal) -> str:
    """Return what is known of better plans.

    Bounds are those of the visits that the plan has: with other visits of a patient only zero is the least for certain.
    """
    if goal.is_proven:
        proof = "proven: no plan does better" if goal.value == 0 else "proven with these visits"
    else:
        proof = f"not proven: {_amount(goal, goal.bound)} at best"
    return f"weight {goal.value}, {proof}" if goal.name == Tier.LEFT_OUT.value and goal.value else proof


def _left_out(context: ViewContext) -> str:
    """Return how many orders tier ``left-out`` counts: all to plan that no visit serves, of this round."""
    served = {order_id for route in context.plan.routes for visit in route.visits for order_id in visit.order_ids}
    others = {u.order_id for u in context.plan.unplanned if u.reason is Reason.OTHER_ROUND}
    return count_words(sum(order.id not in served | others for order in context.problem.orders), "order")


def _late(context: ViewContext) -> str:
    """Return how many orders are drawn past their target, and by how many minutes in all: '2 orders, 25 min'."""
    visits = (visit for route in context.plan.routes for visit in context.visits_to_come(route))
    return _orders_late([late_s for visit in visits for _, late_s in late_orders(visit, context.windows)])


def _delivered_late(context: ViewContext) -> str:
    """Return how many orders reach the laboratory after their ward needs them, and by how many minutes in all."""
    return _orders_late([s for miss in need_by_misses(context.problem, context.plan) for s in miss.late_by_order_s])


def _orders_late(late_s: Sequence[int]) -> str:
    return f"{count_words(len(late_s), 'order')}, {late_minutes(sum(late_s))} min" if late_s else "none"


_COUNTED: Mapping[str, Callable[[ViewContext], str]] = {
    Part.LATE.value: _late,
    Part.DELIVERY.value: _delivered_late,
}
"""Parts that weigh orders: said as orders and plain minutes, which a weighted sum is not."""


def _amount(goal: Goal, number: int) -> str:
    """Return an amount in a tier's unit: minutes, but for the first tier its weight."""
    if goal.name == Tier.LEFT_OUT.value:
        return str(number)
    return minutes_words(number / EFFORT_PER_S if goal.name == Tier.EFFORT.value else number)


def minutes_words(seconds: float) -> str:
    """Return minutes to a tenth: '3.5 min', '4 min'."""
    return f"{seconds / SECONDS_PER_MINUTE:.1f}".removesuffix(".0") + " min"


def stat_lines(context: ViewContext) -> tuple[str, ...]:
    """Return when each stat to come is drawn and in the laboratory; and, where that is long, what it waits for."""
    return tuple(line for route in context.plan.routes for line in _stats_of(context, route))


def _stats_of(context: ViewContext, route: Route) -> Iterator[str]:
    problem, policy = context.problem, context.problem.policy.windows
    num_past = len(problem.replan.past[route.phlebotomist].stops) if problem.replan else 0
    for position, visit in enumerate(route.stops):
        if not isinstance(visit, Visit) or position < num_past:
            continue
        stats = {o for o in visit.order_ids if problem.order(o).priority is Priority.STAT}
        taking = {t.handover for t in visit.tubes if t.handover is not None and stats & set(t.tube.order_ids)}
        if not taking:
            continue
        last = max(taking, key=lambda p: (_handover(route, p).lab_arrival_s, p))
        by_hand = any(t.tube.by_hand for t in visit.tubes if stats & set(t.tube.order_ids))
        brought_s = _handover(route, last).lab_arrival_s
        way_s = brought_s - visit.draw_s
        why = f", {_what_takes_long(problem, route, position, last, by_hand)}" if way_s > policy.stat_to_lab_s else ""
        bed = context.clean(problem.place_name(visit.place))
        minutes = brought_s // SECONDS_PER_MINUTE - visit.draw_s // SECONDS_PER_MINUTE  # between the times as printed
        there = f"in the laboratory {context.clock(brought_s)} ({minutes} min{why})"
        yield f"bed {bed} drawn {context.clock(visit.draw_s)}, {there}"


def _what_takes_long(problem: Problem, route: Route, position: int, last: int, by_hand: bool) -> str:
    visit, handover = route.stops[position], _handover(route, last)
    between = sum(isinstance(stop, Visit) for stop in route.stops[position + 1 : last])
    if between and handover.lab_arrival_s > _at_best_s(problem, visit, by_hand):
        return f"{count_words(between, 'more bed')} before it is handed over"
    if handover.departs_s is not None and handover.departs_s > handover.depart_s:
        return f"it waits for the courier of {problem.clock.format_clock(handover.departs_s)}"
    return "the stay at the bed and the way take so long"


def _at_best_s(problem: Problem, visit: Stop, by_hand: bool) -> int:
    """Return when specimens would be in the laboratory that go straight from the bed to the best pickup."""
    arrivals_s = []
    for pickup in problem.pickups:
        way = (visit.place, pickup.place)
        if (by_hand and pickup.kind is PickupKind.TUBE) or (way[0] != way[1] and way not in problem.walking.seconds):
            continue
        given_s = visit.depart_s + problem.walking.between(*way) + problem.policy.handover.handover_s
        leaves_s = [s for s in pickup.departures_s if s >= given_s] if pickup.departures_s else [given_s]
        arrivals_s += [leaves_s[0] + pickup.transit_s] if leaves_s else []
    return min(arrivals_s, default=visit.depart_s)


def _handover(route: Route, position: int) -> Handover:
    stop = route.stops[position]
    assert isinstance(stop, Handover)
    return stop
