"""Cheapest insertion: puts a visit, with a hand-over behind it where one is needed, where it harms the goals least."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from planner.scheduling.timing.instance import BREAK, Instance, VisitData
from planner.scheduling.timing.solution import Evaluator, Solution, Values
from planner.scheduling.timing.timing import Stops, Timing, fits, stop_service_s


def insert_visit(
    evaluator: Evaluator, solution: Solution, visit: int, collectors: Collection[int] | None = None
) -> Solution | None:
    """Return the best round that also holds the visit, the order of the others being kept; None when none can.

    A hand-over (or, for two kinds of specimens, two) is put behind the visit only where it cannot stand alone.
    ``collectors``: only on the routes of these.
    """
    best: Solution | None = None
    able = evaluator.instance.visits[visit].able
    for collector in sorted(able if collectors is None else able & set(collectors)):
        for head, tail in _reached_in_time(evaluator, solution, collector, visit):
            for candidate in _with_visit(evaluator, collector, head, visit, tail):
                timing = evaluator.timing(collector, candidate)
                if timing is None:
                    continue
                changed = replace_route(
                    evaluator, solution, collector, candidate, timing, best.values if best else None
                )
                if changed is not None and (best is None or changed.values < best.values):
                    best = changed
    return best


def _reached_in_time(
    evaluator: Evaluator, solution: Solution, collector: int, visit: int
) -> Iterator[tuple[Stops, Stops]]:
    """Return the route cut in two at every position at which the visit could start before its window ends."""
    instance, stops = evaluator.instance, solution.routes[collector]
    data, who = instance.visits[visit], instance.collectors[collector]
    node, ready_s = who.node, who.from_s
    for position in range(len(stops) + 1):
        if position:
            stop = stops[position - 1]
            if stop != BREAK:
                node = instance.visits[stop].node if stop >= 0 else instance.pickups[~stop].node
            start_s = solution.timings[collector].starts_s[position - 1]
            ready_s = start_s + stop_service_s(instance, collector, stop)
        if ready_s + instance.walk[node][data.node] > data.windows[-1].latest_s:
            return
        yield stops[:position], stops[position:]


def _with_visit(evaluator: Evaluator, collector: int, head: Stops, visit: int, tail: Stops) -> Iterator[Stops]:
    """Return the route with the visit between head and tail, alone or with what it needs behind it."""
    instance = evaluator.instance
    lacks_break = instance.collectors[collector].break_window is not None and BREAK not in head + tail
    breaks: list[tuple[Stops, Stops]] = [((), ()), ((BREAK,), ()), ((), (BREAK,))] if lacks_break else [((), ())]
    pickups = range(len(instance.pickups))
    for before, behind in breaks:
        plain = (*head, *before, visit, *behind, *tail)
        yield plain
        if evaluator.timing(collector, plain) is not None or not fits(instance, collector, plain):
            continue
        for p in pickups:
            yield (*head, *before, visit, *behind, ~p, *tail)
        if len(instance.visits[visit].specimens) > 1:
            yield from ((*head, *before, visit, *behind, ~p, ~q, *tail) for p in pickups for q in pickups if p != q)


def replace_route(
    evaluator: Evaluator,
    solution: Solution,
    collector: int,
    stops: Stops,
    timing: Timing,
    below: Values | None = None,
) -> Solution | None:
    """Return the solution with one route changed; None when rules between two visits cannot be kept then.

    ``below``: None too where the round is sure to be worse (see `Evaluator.settled`).
    """
    routes = (*solution.routes[:collector], stops, *solution.routes[collector + 1 :])
    alone = (*solution.alone[:collector], timing, *solution.alone[collector + 1 :])
    return evaluator.settled(routes, alone, below)


def insert_all(evaluator: Evaluator, solution: Solution, visits: Sequence[int]) -> Solution:
    """Insert the visits one by one in the given order; those that fit nowhere stay out."""
    for visit in visits:
        solution = insert_visit(evaluator, solution, visit) or solution
    return solution


def first_solution(evaluator: Evaluator) -> Solution:
    """Return a first round: every visit in turn (`urgent_first`) where it harms least."""
    return insert_all(evaluator, empty_round(evaluator), urgent_first(evaluator.instance))


def empty_round(evaluator: Evaluator) -> Solution:
    """Return the round in which nobody goes out."""
    empty = evaluator.solution(((),) * len(evaluator.instance.collectors))
    assert empty is not None
    return empty


def urgent_first(instance: Instance) -> list[int]:
    """Return the visits in the order to insert them: heaviest orders first, then those whose window closes first."""
    visits = instance.visits
    return sorted(range(len(visits)), key=lambda i: (-_urgency(visits[i]), visits[i].windows[-1].latest_s, i))


def _urgency(visit: VisitData) -> int:
    """Return the order of magnitude (bits) of a visit's weight per window second, so that near equals stay in order."""
    room_s = 1 + sum(w.latest_s - w.earliest_s for w in visit.windows)
    return (visit.weight * 100_000 // room_s).bit_length()
