"""A plan as the search knows it: its stops to come by number, and the round that they make of other draws."""

from __future__ import annotations

from collections.abc import Sequence

from planner.domain.draws import Draw
from planner.domain.plan import Break, Plan, Visit
from planner.domain.problem import Problem
from planner.scheduling.timing.insertion import insert_all
from planner.scheduling.timing.instance import BREAK, Instance
from planner.scheduling.timing.solution import Evaluator, Solution
from planner.scheduling.timing.timing import Stops


def planned_stops(
    problem: Problem, plan: Plan, draws: Sequence[Draw], instance: Instance, collector: int
) -> tuple[Stops, Stops]:
    """Return what is in a collector's tray, and the stops to come of the route; visits of other draws are left out."""
    index_of = {draw.id: i for i, draw in enumerate(draws)}
    outlet = {(p.place, p.kind): ~n for n, p in reversed(list(enumerate(problem.pickups)))}
    num_past = len(problem.replan.past[collector].stops) if problem.replan else 0
    stops = next((r.stops for r in plan.routes if r.phlebotomist == collector), ())[num_past:]
    trays = tuple(i for i, visit in enumerate(instance.visits) if visit.is_tray and collector in visit.able)
    coming: list[int] = []
    for stop in stops:
        if isinstance(stop, Visit):
            coming += [index_of[stop.draw_id]] if stop.draw_id in index_of else []
        else:
            coming.append(BREAK if isinstance(stop, Break) else outlet[stop.place, stop.kind])
    return trays, tuple(coming)


def round_from_plan(problem: Problem, plan: Plan, draws: Sequence[Draw], evaluator: Evaluator) -> Solution | None:
    """Return the round of a plan with other draws: what is new goes where it harms least; None where it does not work.

    A route that cannot be made as it was is walked without what does not fit, taken in its order.
    """
    instance = evaluator.instance
    routes = tuple(_route(problem, plan, draws, evaluator, k) for k in range(len(instance.collectors)))
    solution = evaluator.solution(routes)
    if solution is None:
        return None
    served = {stop for stops in routes for stop in stops if stop >= 0}
    missing = [i for i in range(len(instance.visits)) if i not in served]
    missing.sort(key=lambda i: (-instance.visits[i].weight, instance.visits[i].windows[-1].latest_s, i))
    return insert_all(evaluator, solution, missing)


def _route(problem: Problem, plan: Plan, draws: Sequence[Draw], evaluator: Evaluator, collector: int) -> Stops:
    trays, coming = planned_stops(problem, plan, draws, evaluator.instance, collector)
    if not any(stop >= 0 for stop in (*trays, *coming)):
        return ()
    whole = (*trays, *coming)
    if evaluator.timing(collector, whole) is not None:
        return whole
    kept: Stops = (*trays, *(stop for stop in coming if stop < 0))
    if evaluator.timing(collector, kept) is None:
        return ()
    for position, stop in enumerate(coming):
        if stop >= 0:
            behind = sum(other < 0 for other in coming[position:])
            trial = (*kept[: len(kept) - behind], stop, *kept[len(kept) - behind :])
            kept = trial if evaluator.timing(collector, trial) is not None else kept
    return kept
