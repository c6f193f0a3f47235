"""A replanned round with few changes: room is made for what is new or late, and what moved for little moves back.

The search takes neighbouring visits out and puts them back (`planner.scheduling.search.search`). In a round that is
full, a stat can be drawn soon only if its phlebotomist gives up a visit further on, which lies anywhere: the search
seldom takes out just these two. Here it is tried directly, as a lead would do it on paper.

Example: IS has beds 1 to 9 until 07:00, the end of the shift; a stat at bed 3 takes 6 minutes. Put in front, it drops
bed 9, which TW has time for: one stop moved. Put where there is room, it is drawn at 06:40.
"""

from __future__ import annotations

from collections.abc import Iterator

from planner.scheduling.search.estimates import Estimator
from planner.scheduling.search.handovers import tidy_handovers
from planner.scheduling.search.recreate import put_back
from planner.scheduling.timing.insertion import replace_route
from planner.scheduling.timing.instance import Instance
from planner.scheduling.timing.solution import Evaluator, Solution
from planner.scheduling.timing.timing import Stops, Timing

MAX_GAPS = 8
"""Room is made in so many gaps of a route, the first in which the visit can begin."""

MAX_PRESSED = 6
"""Room is made for so many visits that are left out or late, the dearest first."""

MAX_PASSES = 4
"""Passes over what is left out or late, and over the stops that moved: a visit dropped for another is looked at too."""


def with_room(estimator: Estimator, solution: Solution) -> Solution:
    """Return the round with room made for what is left out or late, where that is better."""
    for _ in range(MAX_PASSES):
        before = solution
        for visit in _pressed(estimator.evaluator, solution)[:MAX_PRESSED]:
            better = _with_room_for(estimator, solution, visit)
            if better is not None and better.values < solution.values:
                solution = tidy_handovers(estimator.evaluator, better, _changed(solution, better), estimator)
        if solution is before:
            break
    return solution


def _changed(solution: Solution, other: Solution) -> list[int]:
    return [k for k, stops in enumerate(solution.routes) if stops != other.routes[k]]


def _pressed(evaluator: Evaluator, solution: Solution) -> list[int]:
    """Return the visits that are left out, the heaviest first, then those late by more than a moved stop may cost."""
    instance = evaluator.instance
    start_s = _starts_s(solution)
    lost = [i for i in range(len(instance.visits)) if i not in start_s]
    late = {i: _late(instance, i, at_s) for i, at_s in start_s.items()}
    dear = [i for i, cost in late.items() if cost > instance.prices.moved_stop_s]
    return [
        *sorted(lost, key=lambda i: (-instance.visits[i].weight, i)),
        *sorted(dear, key=lambda i: (-late[i], i)),
    ]


def _starts_s(solution: Solution) -> dict[int, int]:
    """Return when each visit of the round begins."""
    return {
        stop: at_s
        for stops, timing in zip(solution.routes, solution.timings, strict=True)
        for stop, at_s in zip(stops, timing.starts_s, strict=True)
        if stop >= 0
    }


def _late(instance: Instance, visit: int, start_s: int) -> int:
    return sum(weight * max(0, start_s - target_s) for target_s, weight in instance.visits[visit].targets)


def _with_room_for(estimator: Estimator, solution: Solution, visit: int) -> Solution | None:
    """Return the best round in which a visit stands in one of the first gaps of a route, whatever that drops there.

    What is dropped is put back where it harms least, with anybody.
    """
    evaluator = estimator.evaluator
    without = _without(evaluator, solution, visit)
    if without is None:
        return None
    best: Solution | None = None
    for collector in sorted(evaluator.instance.visits[visit].able):
        for stops, timing, dropped in _forced(estimator, without, collector, visit):
            changed = replace_route(evaluator, without, collector, stops, timing)
            if changed is None or (best is not None and _is_hopeless(changed, best, dropped)):
                continue
            changed = put_back(estimator, changed, dropped)
            if best is None or changed.values < best.values:
                best = changed
    return best


def _is_hopeless(changed: Solution, best: Solution, dropped: list[int]) -> bool:
    return not dropped and changed.values >= best.values


def _without(evaluator: Evaluator, solution: Solution, visit: int) -> Solution | None:
    """Return the round without a visit; None where its route cannot be walked without."""
    for collector, stops in enumerate(solution.routes):
        if visit in stops:
            rest = tuple(stop for stop in stops if stop != visit)
            rest = rest if any(stop >= 0 for stop in rest) else ()
            timing = evaluator.timing(collector, rest)
            return None if timing is None else replace_route(evaluator, solution, collector, rest, timing)
    return solution


def _forced(
    estimator: Estimator, solution: Solution, collector: int, visit: int
) -> Iterator[tuple[Stops, Timing, list[int]]]:
    """Yield routes with a visit in each of the first gaps, with their timing and the visits that they had to drop."""
    evaluator, instance = estimator.evaluator, estimator.evaluator.instance
    stops = solution.routes[collector]
    first = sum(stop >= 0 and instance.visits[stop].is_tray for stop in stops)
    tried = 0
    for gap in range(first, len(stops) + 1):
        head, tail = stops[:gap], stops[gap:]
        data = instance.visits[visit]
        alone = _first_that_works(
            evaluator,
            collector,
            [
                (*head, visit),
                *((*head, visit, ~p) for p in estimator.pickups_near(data.node)),
                *((*head, visit, ~p) for p in estimator.pickups_near(data.node, by_hand=True)),
            ],
            [stop for stop in tail if stop < 0],
        )
        if alone is None:
            continue
        route, dropped = _kept_behind(evaluator, collector, alone, tail)
        timing = evaluator.timing(collector, route)
        if timing is not None:
            yield route, timing, dropped
        tried += 1
        if tried == MAX_GAPS:
            return


def _first_that_works(evaluator: Evaluator, collector: int, heads: list[Stops], pauses: list[int]) -> Stops | None:
    """Return the first head that can be walked when only hand-overs and the break stand behind it."""
    for head in heads:
        if evaluator.timing(collector, (*head, *pauses)) is not None:
            return head
    return None


def _kept_behind(evaluator: Evaluator, collector: int, head: Stops, tail: Stops) -> tuple[Stops, list[int]]:
    """Return a head with as much of a tail as can be kept in its order, and the visits dropped: one of them, if one
    will do, the last that does; else each that does not fit."""
    if evaluator.timing(collector, (*head, *tail)) is not None:
        return (*head, *tail), []
    for position in range(len(tail) - 1, -1, -1):
        if tail[position] >= 0:
            rest = (*head, *tail[:position], *tail[position + 1 :])
            if evaluator.timing(collector, rest) is not None:
                return rest, [tail[position]]
    kept: Stops = tuple(stop for stop in tail if stop < 0)
    dropped: list[int] = []
    for position, stop in enumerate(tail):
        if stop >= 0:
            behind = sum(other < 0 for other in tail[position:])
            trial = (*kept[: len(kept) - behind], stop, *kept[len(kept) - behind :])
            if evaluator.timing(collector, (*head, *trial)) is not None:
                kept = trial
            else:
                dropped.append(stop)
    return (*head, *kept), dropped


def restored(estimator: Estimator, solution: Solution) -> Solution:
    """Return the round with stops put back to where the last sheet has them, as long as that is better.

    Tried are single stops, all that moved from one person to another together, and each pair of exchanges.
    """
    for _ in range(MAX_PASSES):
        before = solution
        for group in _moved_groups(estimator.evaluator.instance, solution):
            better = _put_as_promised(estimator, solution, group)
            if better is not None and better.values < solution.values:
                solution = better
        if solution is before:
            break
    return solution


def _moved_groups(instance: Instance, solution: Solution) -> list[list[int]]:
    """Return the visits that another person makes than promised: exchanges, those of one pair of people, each alone."""
    of_pair: dict[tuple[int, int], list[int]] = {}
    for collector, stops in enumerate(solution.routes):
        for stop in stops:
            promise = instance.visits[stop].promise if stop >= 0 else None
            if promise is not None and promise.collector != collector:
                of_pair.setdefault((promise.collector, collector), []).append(stop)
    both = [
        [*mine, *of_pair[there, here]]
        for (here, there), mine in of_pair.items()
        if here < there and (there, here) in of_pair
    ]
    several = [mine for mine in of_pair.values() if len(mine) > 1]
    return [*both, *several, *([stop] for mine in of_pair.values() for stop in mine)]


def _put_as_promised(estimator: Estimator, solution: Solution, group: list[int]) -> Solution | None:
    """Return the round with some visits put back to their person, in the promised order."""
    evaluator = estimator.evaluator
    instance = evaluator.instance
    trial: Solution | None = solution
    for visit in group:
        trial = None if trial is None else _without(evaluator, trial, visit)
    if trial is None:
        return None
    for visit in sorted(group, key=lambda i: _position(instance, i)):
        promise = instance.visits[visit].promise
        assert promise is not None
        if promise.collector not in instance.visits[visit].able:
            return None
        stops = trial.routes[promise.collector]
        places = [
            n
            for n, stop in enumerate(stops)
            if stop >= 0
            and (other := instance.visits[stop].promise) is not None
            and other.collector == promise.collector
            and other.position > promise.position
        ]
        at = min(places, default=len(stops))
        found: Solution | None = None
        for gap in sorted({at, max(0, at - 1), len(stops)}):
            route = (*stops[:gap], visit, *stops[gap:])
            timing = evaluator.timing(promise.collector, route)
            changed = None if timing is None else replace_route(evaluator, trial, promise.collector, route, timing)
            if changed is not None and (found is None or changed.values < found.values):
                found = changed
        if found is None:
            return None
        trial = found
    return trial


def _position(instance: Instance, visit: int) -> int:
    promise = instance.visits[visit].promise
    return -1 if promise is None else promise.position
