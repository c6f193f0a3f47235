"""Takes neighbouring visits out of a round, in one of several ways, so that they can be put back better.

Strings of stops around one bed in several routes: Christiaens and Vanden Berghe (Slack induction by string removals
for vehicle routing problems, 2020). Visits near one another in place and time: Shaw (Using constraint programming
and local search methods to solve vehicle routing problems, 1998).
"""

from __future__ import annotations

import random

from planner.scheduling.timing.insertion import replace_route
from planner.scheduling.timing.instance import BREAK
from planner.scheduling.timing.solution import Evaluator, Solution

MEAN_REMOVED = 6
LONGEST_STRING = 10


def ruin(evaluator: Evaluator, solution: Solution, rng: random.Random) -> Solution:
    """Return the round without some visits (and now and then without a hand-over or a break beside them)."""
    visits = range(len(evaluator.instance.visits))
    if not any(solution.routes):
        return solution
    seed = rng.choice(visits)
    nearest = _nearest(evaluator, solution, seed, by_time=rng.random() < 0.4)
    way = rng.random()
    if way < 0.75:
        gone = _strings(solution, nearest, rng)
    elif way < 0.9:
        gone = set(nearest[: rng.randint(1, 2 * MEAN_REMOVED)])
    else:
        gone = set(rng.sample(nearest, k=min(len(nearest), rng.randint(1, MEAN_REMOVED))))
    return _without(evaluator, solution, gone, rng)


def _nearest(evaluator: Evaluator, solution: Solution, seed: int, by_time: bool) -> list[int]:
    """Return the planned visits, those nearest to one first, by walking or also by when they are made."""
    instance = evaluator.instance
    starts_s = {
        stop: start_s
        for stops, timing in zip(solution.routes, solution.timings, strict=True)
        for stop, start_s in zip(stops, timing.starts_s, strict=True)
        if stop >= 0
    }
    if not by_time:
        return [visit for visit in evaluator.nearest(seed) if visit in starts_s]
    data = instance.visits[seed]
    at_s = starts_s.get(seed, (data.windows[0].earliest_s + data.windows[-1].latest_s) // 2)
    row, visits = instance.walk[data.node], instance.visits
    ways = sorted([(4 * row[visits[i].node] + abs(start_s - at_s), i) for i, start_s in starts_s.items()])
    return [visit for _way, visit in ways]


def _strings(solution: Solution, nearest: list[int], rng: random.Random) -> set[int]:
    """Return visits to take out: in several routes a run of visits that holds one near the seed."""
    routes = [[stop for stop in stops if stop >= 0] for stops in solution.routes]
    route_of = {stop: k for k, stops in enumerate(routes) for stop in stops}
    used = [stops for stops in routes if stops]
    longest = min(LONGEST_STRING, max(1, sum(map(len, used)) // len(used)))
    num_strings = rng.randint(1, max(1, int(4 * MEAN_REMOVED / (1 + longest) - 1)))
    done: set[int] = set()
    gone: set[int] = set()
    for visit in nearest:
        k = route_of[visit]
        if k in done:
            continue
        done.add(k)
        stops = routes[k]
        length = rng.randint(1, min(len(stops), longest))
        kept = rng.randint(1, 3) if length > 1 and rng.random() < 0.3 else 0
        at = stops.index(visit)
        span = min(len(stops), length + kept)
        first = max(0, min(at - rng.randint(0, span - 1), len(stops) - span))
        string = stops[first : first + span]
        if kept:
            hole = rng.randint(0, len(string) - 1)
            string = string[:hole] + string[hole + kept :]
        gone.update(string)
        if len(done) == num_strings:
            break
    return gone


def _without(evaluator: Evaluator, solution: Solution, gone: set[int], rng: random.Random) -> Solution:
    """Return the round without some visits; a route that cannot lose its own keeps them."""
    for collector, stops in enumerate(solution.routes):
        kept = tuple(stop for stop in stops if stop not in gone)
        if len(kept) == len(stops):
            continue
        if all(stop < 0 for stop in kept):
            kept = ()
        choices = [kept]
        loose = [p for p, stop in enumerate(kept[:-1]) if stop < 0]
        if loose and rng.random() < 0.3:
            position = rng.choice(loose)
            choices.insert(0, kept[:position] + kept[position + 1 :])
        if BREAK in kept and rng.random() < 0.2:
            choices.insert(0, tuple(stop for stop in kept if stop != BREAK))
        for choice in choices:
            timing = evaluator.timing(collector, choice)
            changed = None if timing is None else replace_route(evaluator, solution, collector, choice, timing)
            if changed is not None:
                solution = changed
                break
    return solution
