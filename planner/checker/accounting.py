"""Recomputes every part of the goals from the problem and the plan's stops, and compares it with what the plan says."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise

from planner.checker.arrivals import tube_arrival_s
from planner.checker.broken import Broken, Rule
from planner.checker.facts import Facts, VisitAt, past_of
from planner.checker.window_rules import wishes
from planner.checker.windows import Span, own_earliest, own_spans, target_s
from planner.domain.orders import Order, Precaution, Priority
from planner.domain.plan import Reason
from planner.domain.price_policy import PricePolicy
from planner.domain.revisions.events import PhlebotomistLost, PhlebotomistNeverCame
from planner.domain.revisions.replan import Promised, Replan


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


def second_punctures(facts: Facts) -> int:
    """Return the number of visits beyond each patient's first."""
    return len(facts.visits) - len({at.patient.id for at in facts.visits})


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


def stat_to_lab(facts: Facts) -> int:
    """Return weighted seconds of stat and asap orders in the laboratory later than they should be."""
    policy, weights = facts.problem.policy.windows, facts.problem.policy.weights.late
    total = 0
    for at, order in _under_way(facts):
        arrivals = _arrivals(facts, at, order)
        if not arrivals or order.priority not in (Priority.STAT, Priority.ASAP):
            continue
        is_stat = order.priority is Priority.STAT
        if at not in facts.visits:
            since_s: int | None = at.visit.draw_s
        else:
            since_s = _first_draw_s(facts, at, order) if is_stat else target_s(facts, order)
        if since_s is not None:
            due_s = since_s + (policy.stat_to_lab_s if is_stat else policy.asap_to_lab_s)
            total += weights[order.priority] * max(0, max(arrivals) - due_s)
    return total


def stat_wait(facts: Facts) -> int:
    """Return the seconds by which visits with a stat draw later than the first of their stats could be drawn."""
    total = 0
    for at in facts.visits:
        firsts = [_first_draw_s(facts, at, order) for order in at.orders if order.priority is Priority.STAT]
        total += max(0, at.visit.draw_s - min([s for s in firsts if s is not None], default=at.visit.draw_s))
    return total


def last_minutes(facts: Facts) -> int:
    """Return the seconds of draws within the last minutes before the first hard end of their orders' own times.

    In a span that is shorter than these minutes, from its begin.
    """
    total = 0
    for at in facts.visits:
        spans = [span for order in at.orders for span in own_spans(facts, order)]
        last_s = min((span.latest_s for span in spans if span.latest_s is not None), default=None)
        if last_s is not None:
            begins_s = [span.earliest_s for span in spans if span.earliest_s is not None]
            counted_s = min([facts.problem.policy.windows.last_minutes_s, *(last_s - s for s in begins_s)])
            total += max(0, at.visit.draw_s - (last_s - counted_s))
    return total


def off_time(facts: Facts) -> int:
    """Return the seconds by which visits draw outside stated times and preferred spans, each different one once.

    Those of which the round has no second count nothing.
    """
    now_s = facts.start_s if facts.problem.replan is None else max(facts.start_s, facts.problem.replan.now_s)
    until_s = max((p.until_s for p in facts.problem.staff), default=facts.problem.policy.round.end_at_s)
    wished = [(at, span) for at, _order, _rule, span in wishes(facts)]
    for at, order, _test in facts.draws:
        if order.collect_at_s is not None and order.priority is not Priority.STAT:
            wished.append((at, Span(order.collect_at_s, order.collect_at_s)))
    total = 0
    for draw_s, _route, _index, first_s, last_s in {
        (at.visit.draw_s, at.at.route.phlebotomist, at.at.index, span.earliest_s, span.latest_s) for at, span in wished
    }:
        first_s, last_s = now_s if first_s is None else first_s, until_s if last_s is None else last_s
        if max(first_s, now_s) <= min(last_s, until_s):
            total += max(0, first_s - draw_s, draw_s - last_s)
    return total


def _first_draw_s(facts: Facts, at: VisitAt, order: Order) -> int | None:
    """Return the first second at which a stat could be drawn: somebody is there, and its own times have come.

    None where it has no target.
    """
    if target_s(facts, order) is None:
        return None
    reached: list[int] = []
    for n, who in enumerate(facts.problem.staff):
        past = past_of(facts.problem, n)
        place, free_s = (who.starts_at, who.from_s) if past is None else (past.place, past.free_s)
        walk_s = facts.walks.between(place, at.visit.place)
        reached += [] if walk_s is None else [free_s + walk_s]
    lead_s = at.visit.draw_s - at.visit.start_s
    stated = [] if order.collect_at_s is None else [order.collect_at_s]
    return max(min(reached) + lead_s, *stated, *own_earliest(facts, order))


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


def share(facts: Facts) -> int:
    """Return by how many hundredths of a second the busiest works more at beds than a fair share.

    A fair share is that of the time from the begin of the shift (or from when somebody goes on) to its end, in whole
    percent.
    """
    people = range(len(facts.problem.staff))
    past = [past_of(facts.problem, k) for k in people]
    begins_s = [facts.problem.staff[k].from_s if (p := past[k]) is None else p.free_s for k in people]
    there_s = [max(0, facts.problem.staff[k].until_s - begins_s[k]) for k in people]
    worked_s = [0 for _ in people]
    for at in facts.visits:
        worked_s[at.at.route.phlebotomist] += at.visit.depart_s - at.visit.start_s
    if not sum(there_s):
        return max([0, *(100 * s for s in worked_s)])
    return max([0, *(100 * worked_s[k] - 100 * there_s[k] // sum(there_s) * sum(worked_s) for k in people)])


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
    for old in _as_promised(replan) if replan else ():
        shared = len(ids.intersection(old.order_ids))
        if shared and (best is None or shared > len(ids.intersection(best.order_ids))):
            best = old
    return best


def _as_promised(replan: Replan) -> Iterator[Promised]:
    """Yield the stops of the last sheet; those of who is back by what is taken back, as on their own last sheet."""
    mistaken = (event.what for event in replan.taken_back)
    back = {what.phlebotomist for what in mistaken if isinstance(what, PhlebotomistLost | PhlebotomistNeverCame)}
    returned = [old for old in replan.came_back if old.phlebotomist in back]
    for old in replan.promised:
        if not any(order_id in mine.order_ids for order_id in old.order_ids for mine in returned):
            yield old
    yield from returned


def ward_changes(facts: Facts) -> int:
    """Return how many visits to come lie on another ward than the visit before them on the same route, made or not."""
    total = 0
    for route in facts.plan.routes:
        mine = [at for at in facts.all_visits if at.at.route is route]
        for before, at in pairwise(mine):
            is_to_come = at.at.index >= facts.num_past(route.phlebotomist)
            total += is_to_come and at.patient.ward != before.patient.ward
    return total


def other_wards(facts: Facts) -> int:
    """Return how many visits to come are on a ward that is none of those which the one who makes them prefers."""
    wished = [facts.problem.staff[at.at.route.phlebotomist].prefers for at in facts.visits]
    return sum(bool(wards) and at.patient.ward not in wards for at, wards in zip(facts.visits, wished, strict=True))


_LAST = (Precaution.AIRBORNE, Precaution.UNCLEAR)
_TURN = ((Precaution.PROTECTIVE,), (None,), (Precaution.CONTACT,), (Precaution.DROPLET,), _LAST)
"""Who comes first: protective isolation, then no precaution, contact, droplet; last airborne and what is not clear."""


def precautions(facts: Facts) -> int:
    """Return the pairs of visits of one route of which the later one should and could have come first.

    A patient with several precautions has the turn of the last of them, for which what is not clear does not count
    where one of them is protective. What `protective_after_airborne` counts is
    not counted here.
    """
    return sum(not _is_exposed(first, second) for first, second in _out_of_turn(facts))


def protective_after_airborne(facts: Facts) -> int:
    """Return those of the pairs whose first patient is or may be in airborne, whose second in protective isolation."""
    return sum(_is_exposed(first, second) for first, second in _out_of_turn(facts))


def _is_exposed(first: VisitAt, second: VisitAt) -> bool:
    is_last = _turn(first.patient.precautions) == len(_TURN) - 1
    return is_last and Precaution.PROTECTIVE in second.patient.precautions


def _turn(of_patient: frozenset[Precaution]) -> int:
    if {Precaution.PROTECTIVE, Precaution.UNCLEAR} <= of_patient:
        return _turn(of_patient - {Precaution.UNCLEAR})
    return max(n for n, those in enumerate(_TURN) if not (of_patient or {None}).isdisjoint(those))


def _out_of_turn(facts: Facts) -> Iterator[tuple[VisitAt, VisitAt]]:
    for route in facts.plan.routes:
        mine = [at for at in facts.visits if at.at.route is route]
        turns = [_turn(at.patient.precautions) for at in mine]
        for later, second in enumerate(mine):
            for earlier, first in enumerate(mine[:later]):
                if turns[later] < turns[earlier] and _could_go_before(facts, second, first):
                    yield first, second


def _could_go_before(facts: Facts, one: VisitAt, other: VisitAt) -> bool:
    """Return whether a visit's own times let it be over, and the way walked, before another's own times run out."""
    now_s = facts.start_s if facts.problem.replan is None else max(facts.start_s, facts.problem.replan.now_s)
    firsts = [span.earliest_s for order in one.orders for span in own_spans(facts, order)]
    lasts = [span.latest_s for order in other.orders for span in own_spans(facts, order)]
    lasts += [target_s(facts, order) for order in other.orders]
    begin_s = max([now_s, *(s for s in firsts if s is not None)]) - (one.visit.draw_s - one.visit.start_s)
    walk_s = facts.walks.between(one.visit.place, other.visit.place)
    limits = [s - (other.visit.draw_s - other.visit.start_s) for s in lasts if s is not None]
    if not limits or walk_s is None:
        return not limits
    return begin_s + (one.visit.depart_s - one.visit.start_s) + walk_s <= min(limits)


_TIERS: dict[str, tuple[str, tuple[tuple[str, str, Callable[[Facts], int], Callable[[PricePolicy], int]], ...]]] = {
    "left-out": ("weight", (("uncollected", "weight", uncollected, lambda _: 1),)),
    "service": (
        "weighted s",
        (
            ("late", "weighted s", late, lambda _: 1),
            ("delivery", "weighted s", delivery, lambda _: 1),
            ("stat-to-lab", "weighted s", stat_to_lab, lambda prices: prices.to_lab),
            ("second-punctures", "draws", second_punctures, lambda prices: prices.puncture_s),
            ("changes", "visits", changes, lambda prices: prices.moved_stop_s),
        ),
    ),
    "effort": (
        "s/100",
        (
            ("time", "s", time, lambda _: 100),
            ("stat-wait", "s", stat_wait, lambda prices: prices.stat_wait_pct),
            ("last-minutes", "s", last_minutes, lambda prices: prices.last_minutes_pct),
            ("off-time", "s", off_time, lambda prices: prices.off_time_pct),
            ("arrival", "s", arrival, lambda prices: prices.arrival_pct),
            ("finish", "s", finish, lambda prices: prices.finish_pct),
            ("share", "s/100", share, lambda prices: prices.share),
            ("ward-changes", "changes", ward_changes, lambda prices: 100 * prices.ward_change_s),
            ("other-wards", "visits", other_wards, lambda prices: 100 * prices.other_ward_s),
            ("precautions", "pairs", precautions, lambda prices: 100 * prices.isolation_s),
            (
                "protective-after-airborne",
                "pairs",
                protective_after_airborne,
                lambda prices: 100 * prices.protective_after_airborne_s,
            ),
        ),
    ),
}
"""The tiers in the order in which they are compared: unit, and the parts with unit, computation and price."""


def expected_goals(facts: Facts) -> list[tuple[str, str, int, list[tuple[str, str, int, int]]]]:
    """Return the tiers as the rule book has them for a plan: name, unit, value, and the parts with value and price."""
    prices = facts.problem.policy.prices
    tiers = []
    for name, (unit, parts) in _TIERS.items():
        counted = [(part, its, compute(facts), price(prices)) for part, its, compute, price in parts]
        tiers.append((name, unit, sum(value * price for _, _, value, price in counted), counted))
    return tiers


def goal_names(facts: Facts) -> Iterator[Broken]:
    """The plan states all tiers of goals with all their parts, in the rule book's order, with their units."""
    found = [(goal.name, goal.unit) for goal in facts.plan.goals]
    expected = [(name, unit) for name, (unit, _) in _TIERS.items()]
    if found != expected:
        yield Broken(f"goals: found {_pairs(found)}, expected {_pairs(expected)}")
        return
    for goal in facts.plan.goals:
        found = [(part.name, part.unit) for part in goal.parts]
        expected = [(name, unit) for name, unit, _, _ in _TIERS[goal.name][1]]
        if found != expected:
            yield Broken(f"goal {goal.name}: found {_pairs(found)}, expected {_pairs(expected)}")


def goal_value(facts: Facts) -> Iterator[Broken]:
    """Each tier's and each part's value is what the stops of the plan give, at the prices of the policy."""
    stated = {goal.name: goal for goal in facts.plan.goals}
    for name, unit, value, parts in expected_goals(facts):
        goal = stated.get(name)
        if goal is None:
            continue
        if goal.value != value:
            yield Broken(f"goal {name}: value {goal.value} {unit}, expected {value}")
        found = {part.name: part for part in goal.parts}
        for part, its, amount, price in parts:
            if part in found and (found[part].value, found[part].price) != (amount, price):
                said = f"{found[part].value} {its} at {found[part].price}"
                yield Broken(f"goal {name}, {part}: {said}, expected {amount} at {price}")


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
