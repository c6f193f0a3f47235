"""Puts visits into a round one by one, each where the estimates say it harms least, and times what was chosen."""

from __future__ import annotations

import random
from collections.abc import Sequence

from planner.scheduling.search.estimates import Estimator, with_visit
from planner.scheduling.timing.insertion import empty_round, replace_route, urgent_first
from planner.scheduling.timing.instance import BREAK
from planner.scheduling.timing.solution import Evaluator, Solution
from planner.scheduling.timing.timing import Stops

BLINK = 0.02
"""How often the best place of a visit is overlooked, so that rounds differ."""

MAX_TRIED = 4

NEAR_ROUTES, NEAR_VISITS = 8, 40
"""Where more than so many people are able, a visit is put back with those who make one of so many visits nearest to it;
with anybody where it has no place with these."""

ANYBODY = 0.1
"""How often anybody is looked at all the same."""


def put_back(
    estimator: Estimator,
    solution: Solution,
    missing: Sequence[int],
    rng: random.Random | None = None,
    is_compact: bool = False,
) -> Solution:
    """Return the round with the visits inserted in the given order; those that fit nowhere stay out.

    ``is_compact``: put each where it takes the least time, to leave room for others, and not where it costs least.
    Without a random source nothing is overlooked.
    """
    for visit in missing:
        solution = _insert(estimator, solution, visit, rng, is_compact) or solution
    return solution


def first_round(estimator: Estimator) -> Solution:
    """Return a first round: every visit in turn (`urgent_first`) where the estimates say."""
    evaluator = estimator.evaluator
    return put_back(estimator, empty_round(evaluator), urgent_first(evaluator.instance))


def insertion_order(evaluator: Evaluator, missing: Sequence[int], rng: random.Random) -> list[int]:
    """Return the missing visits in an order that changes from time to time."""
    visits = evaluator.instance.visits
    order = sorted(missing)
    rng.shuffle(order)
    way = rng.randint(0, 5)
    if way == 0:
        order.sort(key=lambda i: visits[i].windows[-1].latest_s)
    elif way == 1:
        order.sort(key=lambda i: sum(w.latest_s - w.earliest_s for w in visits[i].windows))
    elif way == 2:
        order.sort(key=lambda i: -visits[i].weight)
    elif way == 3:
        order.sort(key=lambda i: -visits[i].weight * 1000 // max(1, visits[i].service_s))
    return order


def _insert(
    estimator: Estimator, solution: Solution, visit: int, rng: random.Random | None, is_compact: bool
) -> Solution | None:
    able = sorted(estimator.instance.visits[visit].able)
    near = able if rng is None or len(able) <= NEAR_ROUTES else _near(estimator.evaluator, solution, visit, able, rng)
    changed = _insert_with(estimator, solution, visit, near, rng, is_compact)
    if changed is None and len(near) < len(able):
        others = [collector for collector in able if collector not in near]
        changed = _insert_with(estimator, solution, visit, others, rng, is_compact)
    return changed


def _near(evaluator: Evaluator, solution: Solution, visit: int, able: list[int], rng: random.Random) -> list[int]:
    """Return those of the people able who make a visit near to one."""
    if rng.random() < ANYBODY:
        return able
    around = frozenset(evaluator.nearest(visit)[:NEAR_VISITS])
    return [collector for collector in able if not around.isdisjoint(solution.routes[collector])]


def _insert_with(
    estimator: Estimator,
    solution: Solution,
    visit: int,
    collectors: Sequence[int],
    rng: random.Random | None,
    is_compact: bool,
) -> Solution | None:
    """Return the round with a visit put where it harms least, with one of some people."""
    evaluator = estimator.evaluator
    found: list[tuple[int, ...]] = []
    prices, last_s = evaluator.instance.prices, max([t.finish_s for t in solution.timings])
    shared = _share_with(evaluator, solution, visit) if prices.share else {}
    for collector in collectors:
        options = estimator.options(visit, collector, solution.routes[collector])[is_compact]
        if options and rng is not None and rng.random() < BLINK:
            options = options[1:]
        share = prices.share * shared.get(collector, 0)
        for service, effort, time_s, finish_s, gap, pickup in options:
            effort += share  # what is one for the round, no single route can say
            if finish_s > last_s:
                effort += prices.finish_pct * (finish_s - last_s)
            found.append((time_s if is_compact else 0, service, effort, time_s, finish_s, collector, gap, pickup))
    found.sort()
    for *_cost, collector, gap, pickup in found[:MAX_TRIED]:
        changed = _timed(evaluator, solution, collector, with_visit(solution.routes[collector], gap, visit, pickup))
        if changed is not None:
            return changed
    return None


def _share_with(evaluator: Evaluator, solution: Solution, visit: int) -> dict[int, int]:
    """Return what the share of the busiest would be if each of those who are able made a visit."""
    data = evaluator.instance.visits[visit]
    total_s = data.service_s + sum([timing.bed_s for timing in solution.timings])
    before = [
        100 * timing.bed_s - pct * total_s for timing, pct in zip(solution.timings, evaluator.shares_pct, strict=True)
    ]
    most = max(0, *before)
    return {k: max(most, before[k] + 100 * data.service_s) for k in data.able}


def _timed(evaluator: Evaluator, solution: Solution, collector: int, stops: Stops) -> Solution | None:
    """Return the round with a route changed, the break added where one is owed; None when it breaks a rule."""
    timing = evaluator.timing(collector, stops)
    if timing is not None:
        return replace_route(evaluator, solution, collector, stops, timing)
    if evaluator.instance.collectors[collector].break_window is None or BREAK in stops:
        return None
    best: Solution | None = None
    for gap in range(len(stops)):
        rested = (*stops[:gap], BREAK, *stops[gap:])
        timing = evaluator.timing(collector, rested)
        if timing is None:
            continue
        changed = replace_route(evaluator, solution, collector, rested, timing, best.values if best else None)
        if changed is not None and (best is None or changed.values < best.values):
            best = changed
    return best
