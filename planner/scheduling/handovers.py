"""Tidies the hand-overs of a round: dropped, moved, changed or added where that is better."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.scheduling.estimates import Estimator, places_between
from planner.scheduling.insertion import replace_route
from planner.scheduling.instance import BREAK
from planner.scheduling.solution import Evaluator, Solution
from planner.scheduling.timing import Stops

MAX_SHIFT = 3
"""A hand-over or a break is moved by at most so many stops at a time."""


def tidy_handovers(
    evaluator: Evaluator, solution: Solution, collectors: Sequence[int], estimator: Estimator | None = None
) -> Solution:
    """Return the round with the hand-overs of some routes dropped, moved or changed while that is better.

    A hand-over that gains nothing goes too: afterwards no route gives to the same courier's departure twice.
    """
    estimator = estimator or Estimator(evaluator)
    for collector in collectors:
        improved: Solution | None = solution
        while improved is not None:
            solution = improved
            improved = _first_better(evaluator, solution, collector, _moves(estimator, solution, collector))
    return solution


def drop_needless(evaluator: Evaluator, solution: Solution, collectors: Sequence[int]) -> Solution:
    """Return the round without hand-overs of some routes that take nothing, or are followed by another as early.

    The quick part of tidying: only what the timing of a route shows needless is tried.
    """
    for collector in collectors:
        while (position := _needless(evaluator, solution, collector)) is not None:
            stops = solution.routes[collector]
            without = stops[:position] + stops[position + 1 :]
            timing = evaluator.timing(collector, without)
            changed = None if timing is None else replace_route(evaluator, solution, collector, without, timing)
            if changed is None or changed.values > solution.values:
                break
            solution = changed
    return solution


def _needless(evaluator: Evaluator, solution: Solution, collector: int) -> int | None:
    """Return the position of a hand-over that takes nothing, or gives to the departure that a later one gives to."""
    instance, timing = evaluator.instance, solution.timings[collector]
    taking = {position for takers in timing.handovers for position in takers}
    later: set[tuple[int, int]] = set()
    for position in range(len(solution.routes[collector]) - 1, -1, -1):
        stop = solution.routes[collector][position]
        if stop >= 0 or stop == BREAK:
            continue
        if position not in taking:
            return position
        departs_s = instance.pickups[~stop].departs_s(timing.starts_s[position] + instance.handover_s)
        if departs_s is not None:
            if (stop, departs_s) in later:
                return position
            later.add((stop, departs_s))
    return None


def _first_better(
    evaluator: Evaluator, solution: Solution, collector: int, moves: Iterator[Stops]
) -> Solution | None:
    for stops in moves:
        timing = evaluator.timing(collector, stops)
        if timing is None:
            continue
        changed = replace_route(evaluator, solution, collector, stops, timing)
        if changed is None:
            continue
        is_shorter = len(stops) < len(solution.routes[collector])
        if changed.values < solution.values or (is_shorter and changed.values == solution.values):
            return changed
    return None


def _moves(estimator: Estimator, solution: Solution, collector: int) -> Iterator[Stops]:
    """Return the routes with one hand-over (or the break) dropped, changed or moved a few stops, or one more."""
    stops = solution.routes[collector]
    for position, stop in enumerate(stops):
        if stop >= 0:
            continue
        without = stops[:position] + stops[position + 1 :]
        yield without
        if stop != BREAK:
            for pickup in range(len(estimator.instance.pickups)):
                if ~pickup != stop:
                    yield (*stops[:position], ~pickup, *stops[position + 1 :])
        for other in range(max(0, position - MAX_SHIFT), min(len(without), position + MAX_SHIFT) + 1):
            if other != position:
                yield (*without[:other], stop, *without[other:])
    yield from _one_more(estimator, collector, stops)


def _one_more(estimator: Estimator, collector: int, stops: Stops) -> Iterator[Stops]:
    """Return the routes with a hand-over more that should bring specimens in earlier at no other cost."""
    profile = estimator.profile(collector, stops)
    if profile is None:
        return
    for gap in places_between(stops):
        for pickup in range(len(estimator.instance.pickups)):
            cost = estimator.handover_cost(profile, gap, pickup)
            if cost is not None and cost[:4] < (0, 0, 0, 0):
                yield (*stops[:gap], ~pickup, *stops[gap:])
