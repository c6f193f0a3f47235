"""Tidies the hand-overs of a round: dropped, moved, changed or added where that is better."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.scheduling.search.estimates import NOTHING, Estimator, places_to_give
from planner.scheduling.timing.insertion import replace_route
from planner.scheduling.timing.instance import BREAK
from planner.scheduling.timing.solution import Evaluator, Solution
from planner.scheduling.timing.timing import Stops, empty_handovers

MAX_SHIFT = 3
"""A hand-over or a break is moved by at most so many stops at a time."""


def tidy_handovers(
    evaluator: Evaluator, solution: Solution, collectors: Sequence[int], estimator: Estimator | None = None
) -> Solution:
    """Return the round with the hand-overs of some routes dropped, moved or changed while that is better.

    A hand-over that gains nothing goes too: afterwards no route gives to the same courier's departure twice, unless the
    tray would be too full.
    """
    estimator = estimator or Estimator(evaluator)
    for collector in collectors:
        before: Solution | None = None
        while solution is not before:
            before = solution
            solution = _moved(estimator, solution, collector)
            more = _one_more(estimator, collector, solution.routes[collector])
            solution = _first_better(evaluator, solution, collector, more) or solution
    return solution


def _moved(estimator: Estimator, solution: Solution, collector: int) -> Solution:
    """Return the round with each hand-over (or the break) of a route dropped, moved or changed where that is better."""
    position = 0
    while position < len(solution.routes[collector]):
        stops = solution.routes[collector]
        if stops[position] < 0:
            moves = _moves(estimator, collector, stops, position)
            better = _first_better(estimator.evaluator, solution, collector, moves)
            if better is not None:
                solution, position = better, max(0, position - MAX_SHIFT)
                continue
        position += 1
    return solution


def drop_needless(evaluator: Evaluator, solution: Solution, collectors: Sequence[int]) -> Solution:
    """Return the round without hand-overs of some routes that take nothing, or are followed by another as early.

    The quick part of tidying: only what the timing of a route shows needless is tried. What takes nothing goes even if
    the round is worse without it (rule ``handover-empty``); it stays where the route cannot be made otherwise.
    """
    for collector in collectors:
        while (found := _needless(evaluator, solution, collector)) is not None:
            position, is_empty = found
            stops = solution.routes[collector]
            without = stops[:position] + stops[position + 1 :]
            timing = evaluator.timing(collector, without)
            changed = None if timing is None else replace_route(evaluator, solution, collector, without, timing)
            if changed is None or (changed.values > solution.values and not is_empty):
                break
            solution = changed
    return solution


def has_empty(solution: Solution) -> bool:
    """Return whether a hand-over of the round takes nothing."""
    return any(timing.num_empty for timing in solution.timings)


def without_empty(evaluator: Evaluator, solution: Solution) -> Solution | None:
    """Return the round without hand-overs that take nothing; None when it cannot be made without them."""
    if has_empty(solution):
        solution = drop_needless(evaluator, solution, range(len(solution.routes)))
    return None if has_empty(solution) else solution


def _needless(evaluator: Evaluator, solution: Solution, collector: int) -> tuple[int, bool] | None:
    """Return the position of a hand-over that takes nothing (True), or gives to the departure that a later one does."""
    instance, timing = evaluator.instance, solution.timings[collector]
    if empty := empty_handovers(solution.routes[collector], timing):
        return empty[-1], True
    later: set[tuple[int, int]] = set()
    for position in range(len(solution.routes[collector]) - 1, -1, -1):
        stop = solution.routes[collector][position]
        if stop >= 0 or stop == BREAK:
            continue
        departs_s = instance.pickups[~stop].departs_s(timing.starts_s[position] + instance.handover_s)
        if departs_s is not None:
            if (stop, departs_s) in later:
                return position, False
            later.add((stop, departs_s))
    return None


def _first_better(evaluator: Evaluator, solution: Solution, collector: int, moves: Iterator[Stops]) -> Solution | None:
    for stops in moves:
        timing = evaluator.timing(collector, stops)
        if timing is None or timing.num_empty:
            continue
        changed = replace_route(evaluator, solution, collector, stops, timing, solution.values)
        if changed is None:
            continue
        is_shorter = len(stops) < len(solution.routes[collector])
        if changed.values < solution.values or (is_shorter and changed.values == solution.values):
            return changed
    return None


def _moves(estimator: Estimator, collector: int, stops: Stops, position: int) -> Iterator[Stops]:
    """Return the routes with the hand-over (or the break) of a position dropped, changed or moved a few stops.

    Where the route can be made without it, only those are returned that should be better by estimate.
    """
    stop = stops[position]
    without = stops[:position] + stops[position + 1 :]
    yield without
    gaps = range(max(0, position - MAX_SHIFT), min(len(without), position + MAX_SHIFT) + 1)
    if stop == BREAK:
        yield from ((*without[:gap], stop, *without[gap:]) for gap in gaps if gap != position)
        return
    ways = [(position, pickup) for pickup in _near(estimator, stops, position) if ~pickup != stop]
    ways += [(gap, ~stop) for gap in gaps if gap != position]
    now = estimator.handover_cost(collector, without, position, ~stop)
    for gap, pickup in ways:
        if now is not None:
            cost = estimator.handover_cost(collector, without, gap, pickup)
            if cost is None or cost >= now:
                continue
        yield (*without[:gap], ~pickup, *without[gap:])


def _near(estimator: Estimator, stops: Stops, position: int) -> list[int]:
    """Return the pickups near the stops beside a position."""
    instance = estimator.instance
    beside = [
        instance.visits[stop].node
        for p in (position - 1, position + 1)
        if 0 <= p < len(stops) and (stop := stops[p]) >= 0
    ]
    near = {pickup for node in beside for by_hand in (False, True) for pickup in estimator.pickups_near(node, by_hand)}
    return sorted(near or range(len(instance.pickups)))


def _one_more(estimator: Estimator, collector: int, stops: Stops) -> Iterator[Stops]:
    """Return the routes with a hand-over more that should bring specimens in earlier at no other cost."""
    for gap in places_to_give(stops):
        for pickup in _near(estimator, stops, gap):
            cost = estimator.handover_cost(collector, stops, gap, pickup)
            if cost is not None and cost[:2] < NOTHING[:2]:
                yield (*stops[:gap], ~pickup, *stops[gap:])
