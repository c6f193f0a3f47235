"""Cheapest insertion: puts a visit, with a hand-over behind it where one is needed, where it harms the goals least."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.scheduling.instance import BREAK
from planner.scheduling.solution import Evaluator, Solution
from planner.scheduling.timing import Stops, Timing, stop_service_s


def insert_visit(evaluator: Evaluator, solution: Solution, visit: int) -> Solution | None:
    """Return the best round that also holds the visit, the order of the others being kept; None when none can."""
    best: Solution | None = None
    for collector, stops in enumerate(solution.routes):
        if collector not in evaluator.instance.visits[visit].able:
            continue
        for candidate in _candidates(evaluator, collector, stops, solution.timings[collector], visit):
            timing = evaluator.timing(collector, candidate)
            if timing is None:
                continue
            changed = replace_route(evaluator, solution, collector, candidate, timing)
            if changed is not None and (best is None or changed.values < best.values):
                best = changed
    return best


def _candidates(evaluator: Evaluator, collector: int, stops: Stops, timing: Timing, visit: int) -> Iterator[Stops]:
    """Return the route with the visit at every position that it can reach in time, alone or with a hand-over."""
    instance = evaluator.instance
    data = instance.visits[visit]
    who = instance.collectors[collector]
    lacks_break = who.break_s > 0 and BREAK not in stops
    node, ready_s = who.node, who.from_s
    for position in range(len(stops) + 1):
        if position:
            stop = stops[position - 1]
            if stop != BREAK:
                node = instance.visits[stop].node if stop >= 0 else instance.pickups[~stop].node
            ready_s = timing.starts_s[position - 1] + stop_service_s(instance, collector, stop)
        if ready_s + instance.walk[node][data.node] > data.windows[-1].latest_s:
            return
        head, tail = stops[:position], stops[position:]
        added: list[Stops] = [(visit, ~pickup) for pickup in range(len(instance.pickups))]
        if tail:
            added.append((visit,))
        if len(data.specimens) > 1:
            added += [
                (visit, ~p, ~q) for p in range(len(instance.pickups)) for q in range(len(instance.pickups)) if p != q
            ]
        for stops_added in added:
            yield (*head, *stops_added, *tail)
            if lacks_break:
                yield (*head, BREAK, *stops_added, *tail)
                yield (*head, visit, BREAK, *stops_added[1:], *tail)


def replace_route(
    evaluator: Evaluator, solution: Solution, collector: int, stops: Stops, timing: Timing
) -> Solution | None:
    """Return the solution with one route changed; None when two visits of one patient would then overlap."""
    routes = (*solution.routes[:collector], stops, *solution.routes[collector + 1 :])
    timings = (*solution.timings[:collector], timing, *solution.timings[collector + 1 :])
    if not evaluator.keeps_one_at_the_bed(routes, timings):
        return None
    return Solution(routes, timings, evaluator.values(routes, timings))


def insert_all(evaluator: Evaluator, solution: Solution, visits: Sequence[int]) -> Solution:
    """Insert the visits one by one in the given order; those that fit nowhere stay out."""
    for visit in visits:
        solution = insert_visit(evaluator, solution, visit) or solution
    return solution


def first_solution(evaluator: Evaluator) -> Solution:
    """Return a first round: heaviest orders first, then those whose window closes first."""
    instance = evaluator.instance
    empty = evaluator.solution(((),) * len(instance.collectors))
    assert empty is not None
    order = sorted(
        range(len(instance.visits)),
        key=lambda i: (-_urgency(evaluator, i), instance.visits[i].windows[-1].latest_s, i),
    )
    return insert_all(evaluator, empty, order)


def _urgency(evaluator: Evaluator, visit: int) -> int:
    """Return the order of magnitude (bits) of a visit's weight per window second, so that near equals stay in order."""
    data = evaluator.instance.visits[visit]
    room_s = 1 + sum(w.latest_s - w.earliest_s for w in data.windows)
    return (data.weight * 100_000 // room_s).bit_length()
