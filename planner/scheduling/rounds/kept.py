"""The round as the last sheet has it, as far as it can still be kept: what a replanned round starts from.

Everybody makes her promised visits in their order, with the hand-overs and the break that lie between; a visit that no
longer fits is left out, for the search to place. So the search never ends with less than what walking on would give.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from planner.domain.problem import Problem
from planner.scheduling.timing.insertion import empty_round, insert_all
from planner.scheduling.timing.instance import BREAK, Instance
from planner.scheduling.timing.solution import Evaluator, Solution
from planner.scheduling.timing.timing import Stops


def kept_round(problem: Problem, evaluator: Evaluator) -> Solution | None:
    """Return the promised round, with what was not promised put in where it harms least; None without a promise."""
    instance = evaluator.instance
    if problem.replan is None:
        return None
    routes = tuple(_kept_route(problem, evaluator, k) for k in range(len(instance.collectors)))
    solution = _settled(evaluator, routes)
    if solution is None:
        return None
    served = {stop for stops in solution.routes for stop in stops if stop >= 0}
    missing = [i for i in range(len(instance.visits)) if i not in served]
    missing.sort(key=lambda i: (-instance.visits[i].weight, instance.visits[i].windows[-1].latest_s, i))
    return insert_all(evaluator, solution, missing)


def _settled(evaluator: Evaluator, routes: tuple[Stops, ...]) -> Solution | None:
    """Return the round of some routes; where rules between two visits cannot be kept, without the later, or both."""
    instance = evaluator.instance
    pairs = [*instance.same_bed, *((gap.first, gap.second) for gap in instance.gaps)]
    for bound in (set[int](), {second for _first, second in pairs}, {visit for pair in pairs for visit in pair}):
        fewer = tuple(_only(stops, bound) for stops in routes)
        if (solution := evaluator.solution(fewer)) is not None:
            return solution
    return None


def _only(stops: Stops, without: Collection[int]) -> Stops:
    """Return a route without some visits; nothing, if no visit is left."""
    rest = tuple(stop for stop in stops if stop not in without)
    return rest if any(stop >= 0 for stop in rest) else ()


def _kept_route(problem: Problem, evaluator: Evaluator, collector: int) -> Stops:
    """Return one route: the trays, then promised stops, each visit only if the route can still be walked with it."""
    instance = evaluator.instance
    trays = [i for i, visit in enumerate(instance.visits) if visit.is_tray and collector in visit.able]
    stops = [(-1, stop) for stop in trays] + _pauses(problem, instance, collector)
    if not _works(evaluator, collector, stops):
        stops = _first_that_works(evaluator, collector, stops) or _given_away(evaluator, collector, trays)
    promised = [
        (visit.promise.position, i)
        for i, visit in enumerate(instance.visits)
        if visit.promise is not None and visit.promise.collector == collector and collector in visit.able
    ]
    for position, i in sorted(promised):
        at = next((n for n, (before, _stop) in enumerate(stops) if before > position), len(stops))
        trial = [*stops[:at], (position, i), *stops[at:]]
        if _works(evaluator, collector, trial):
            stops = trial
    if all(stop < 0 for _before, stop in stops):
        return ()
    return tuple(stop for _before, stop in stops)


def _pauses(problem: Problem, instance: Instance, collector: int) -> list[tuple[int, int]]:
    """Return (visits before, stop) of the promised hand-overs and the break."""
    assert problem.replan is not None
    found: list[tuple[int, int]] = []
    for pause in problem.replan.pauses:
        if pause.phlebotomist != collector:
            continue
        if pause.kind is None:
            if instance.collectors[collector].break_window is not None:
                found.append((pause.num_before, BREAK))
            continue
        pickups = [n for n, p in enumerate(problem.pickups) if (p.place, p.kind) == (pause.place, pause.kind)]
        found += [(pause.num_before, ~pickups[0])] if pickups else []
    return found


def _works(evaluator: Evaluator, collector: int, stops: Sequence[tuple[int, int]]) -> bool:
    return evaluator.timing(collector, tuple(stop for _before, stop in stops)) is not None


def _given_away(evaluator: Evaluator, collector: int, trays: Sequence[int]) -> list[tuple[int, int]]:
    """Return the trays with hand-overs that bring them in while they are good, where no promised hand-over does."""
    alone = insert_all(evaluator, empty_round(evaluator), trays)
    return [(-1, stop) for stop in alone.routes[collector]]


def _first_that_works(evaluator: Evaluator, collector: int, stops: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return the trays with the promised hand-overs that still fit, taken in their order; at worst nothing."""
    trays = [stop for stop in stops if stop[1] >= 0]
    for kept in range(len(stops) - len(trays), -1, -1):
        trial = [*trays, *stops[len(stops) - kept :]] if kept else []
        if not trial or _works(evaluator, collector, trial):
            return trial
    return []
