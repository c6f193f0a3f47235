"""What it takes to make one visit before all others: for each phlebotomist, how soon, and what then falls behind.

The rest of the plan is kept in its order; what no longer fits into her route is put where it harms least, with anybody;
what then fits nowhere is left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from planner.domain.draws import Draw, DrawId
from planner.domain.goals import Part
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.scheduling.rounds.from_plan import planned_stops
from planner.scheduling.rounds.numbers import build_instance
from planner.scheduling.rounds.trays import settled_trays
from planner.scheduling.timing.insertion import insert_all
from planner.scheduling.timing.instance import BREAK, NO_LIMIT_S
from planner.scheduling.timing.solution import Evaluator, Solution, part_values
from planner.scheduling.timing.timing import Stops

Item = tuple[int, int]
"""Place in the planned route (-1: before all of it), and the stop."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PutFirst:
    """One visit made before all others by one phlebotomist (an index into the staff).

    ``dropped`` are visits of the plan that then have no place, ``later`` those that come so many seconds further past
    a target than in the plan. ``lab_arrival_s`` is when its last specimen is in the laboratory, ``is_too_old`` that it
    has not kept until then, ``moved`` how many more promised stops move than in the plan (part ``changes``).
    """

    phlebotomist: int
    draw_s: int
    lab_arrival_s: int
    is_too_old: bool
    dropped: tuple[DrawId, ...]
    later: Mapping[DrawId, int]
    moved: int = 0


def put_first(problem: Problem, plan: Plan, draws: Sequence[Draw], wanted: DrawId) -> tuple[PutFirst, ...]:
    """Return the ways to make a visit first, one for each phlebotomist who can, the soonest draw first.

    Where no hand-over brings its specimens in while they are good, the ways are those without that limit.
    """
    index = next(i for i, draw in enumerate(draws) if draw.id == wanted)
    instance = build_instance(problem, draws, settled_trays(problem))
    ways = list(_ways(problem, plan, draws, Evaluator(instance), index, is_too_old=False))
    if not ways:
        visit = instance.visits[index]
        keeping = tuple(replace(s, limit_s=NO_LIMIT_S) for s in visit.specimens)
        visits = (*instance.visits[:index], replace(visit, specimens=keeping), *instance.visits[index + 1 :])
        evaluator = Evaluator(replace(instance, visits=visits))
        ways = list(_ways(problem, plan, draws, evaluator, index, is_too_old=True))
    return tuple(sorted(ways, key=lambda way: (way.draw_s, len(way.dropped), way.phlebotomist)))


def _ways(
    problem: Problem, plan: Plan, draws: Sequence[Draw], evaluator: Evaluator, index: int, *, is_too_old: bool
) -> Iterator[PutFirst]:
    instance = evaluator.instance
    routes = [tuple(chain(*planned_stops(problem, plan, draws, instance, k))) for k in range(len(instance.collectors))]
    planned = evaluator.solution(tuple(routes))
    moves = 0 if planned is None else part_values(evaluator, planned)[Part.CHANGES]
    lateness = _lateness(draws, {v.draw_id: v.draw_s for route in plan.routes for v in route.visits})
    for collector in sorted(instance.visits[index].able):
        solution = _with_first(evaluator, routes, collector, index)
        if solution is None:
            continue
        start_s = {
            stop: timing.starts_s[n]
            for stops, timing in zip(solution.routes, solution.timings, strict=True)
            for n, stop in enumerate(stops)
            if 0 <= stop < len(draws)
        }
        now_late = _lateness(draws, {draws[i].id: at_s + draws[i].lead_s for i, at_s in start_s.items()})
        place = solution.routes[collector].index(index)
        timing = solution.timings[collector]
        takers = timing.handovers[place]
        yield PutFirst(
            phlebotomist=collector,
            draw_s=start_s[index] + draws[index].lead_s,
            lab_arrival_s=max(_arrival_s(evaluator, solution.routes[collector], timing.starts_s, t) for t in takers),
            is_too_old=is_too_old,
            dropped=tuple(
                draws[stop].id
                for stops in routes
                for stop in stops
                if 0 <= stop < len(draws) and stop != index and stop not in start_s
            ),
            later={
                draw_id: late_s - lateness.get(draw_id, 0)
                for draw_id, late_s in now_late.items()
                if late_s > lateness.get(draw_id, 0) and draw_id != draws[index].id
            },
            moved=max(0, part_values(evaluator, solution)[Part.CHANGES] - moves),
        )


def _with_first(evaluator: Evaluator, routes: Sequence[Stops], collector: int, index: int) -> Solution | None:
    """Return the round with a visit put before all others of one collector; None when she cannot make it at all."""
    others = [tuple(s for s in stops if s != index) for stops in routes]
    rest = list(enumerate(others[collector]))
    items = _head(evaluator, collector, rest, index)
    if items is None:
        return None
    start_s = _start_s(evaluator, collector, items, index)
    left: list[int] = []
    for place, stop in rest:
        if stop < 0 or evaluator.instance.visits[stop].is_tray:
            continue
        trial = sorted([*items, (place, stop)], key=lambda item: item[0])
        if _start_s(evaluator, collector, trial, index) == start_s:
            items = trial
        else:
            left.append(stop)
    others[collector] = tuple(stop for _place, stop in items)
    solution = evaluator.solution(tuple(others))
    return None if solution is None else insert_all(evaluator, solution, left)


def _head(evaluator: Evaluator, collector: int, rest: Sequence[Item], index: int) -> list[Item] | None:
    """Return the tray, the visit and the planned hand-overs, so that the draw is soonest; None when nothing works.

    Where those do not do, hand-overs right behind the visit are tried, beside the planned ones and in their stead.
    """
    visits, outlets = evaluator.instance.visits, range(len(evaluator.instance.pickups))
    begin = [(-1, stop) for _place, stop in rest if stop >= 0 and visits[stop].is_tray] + [(-1, index)]
    pauses = [(place, stop) for place, stop in rest if stop < 0]
    breaks = [(place, stop) for place, stop in pauses if stop == BREAK]
    behind = [(), *((p,) for p in outlets), *((p, q) for p in outlets for q in outlets if p != q)]
    trials = [[*begin, *((-1, ~p) for p in now), *later] for later in (pauses, breaks) for now in behind]
    working = [(s, n) for n, trial in enumerate(trials) if (s := _start_s(evaluator, collector, trial, index)) >= 0]
    return trials[min(working)[1]] if working else None


def _start_s(evaluator: Evaluator, collector: int, items: Sequence[Item], index: int) -> int:
    """Return when a visit begins on a route; -1 when the route cannot be walked."""
    stops = tuple(stop for _place, stop in items)
    timing = evaluator.timing(collector, stops)
    return -1 if timing is None else timing.starts_s[stops.index(index)]


def _lateness(draws: Sequence[Draw], drawn_s: Mapping[DrawId, int]) -> dict[DrawId, int]:
    """Return by how many seconds each visit misses the target that it misses most."""
    return {
        draw.id: max((max(0, drawn_s[draw.id] - target_s) for target_s, _weight in draw.targets), default=0)
        for draw in draws
        if draw.id in drawn_s
    }


def _arrival_s(evaluator: Evaluator, stops: Stops, starts_s: Sequence[int], taker: int) -> int:
    """Return when what is given away at a stop is in the laboratory."""
    end_s = starts_s[taker] + evaluator.instance.handover_s
    arrival_s = evaluator.instance.pickups[~stops[taker]].lab_arrival_s(end_s)
    assert arrival_s is not None
    return arrival_s
