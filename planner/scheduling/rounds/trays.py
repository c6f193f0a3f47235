"""Which specimens in the trays can still be brought in while they are good, and what becomes of the others."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from planner.domain.plan import Handover, Reason, Route, Unplanned, Visit
from planner.domain.problem import Problem
from planner.scheduling.rounds.numbers import build_instance
from planner.scheduling.rounds.tray_loads import TrayLoad, tray_loads
from planner.scheduling.timing.insertion import first_solution
from planner.scheduling.timing.solution import Evaluator


def settled_trays(problem: Problem) -> tuple[TrayLoad, ...]:
    """Return what is in the trays and can be given away: all of it in time, but for the tubes marked too old.

    A load that its collector cannot give away at all is left out.
    """
    by_collector: dict[int, list[TrayLoad]] = {}
    for load in tray_loads(problem):
        by_collector.setdefault(load.collector, []).append(load)
    return tuple(load for loads in by_collector.values() for load in _settled(problem, loads))


def _settled(problem: Problem, loads: list[TrayLoad]) -> list[TrayLoad]:
    """Return one collector's loads: as they are, else without limits that cannot be kept, else none."""
    if _can_give(problem, loads):
        return loads
    aged = [
        replace(load, too_old=frozenset(t for t in load.tubes if not _can_give(problem, [replace(load, tubes=(t,))])))
        for load in loads
    ]
    if _can_give(problem, aged):
        return aged
    old = [replace(load, too_old=frozenset(load.tubes)) for load in loads]
    return old if _can_give(problem, old) else []


def _can_give(problem: Problem, loads: Sequence[TrayLoad]) -> bool:
    """Return whether a collector who does nothing else can give all of the loads away in time."""
    instance = build_instance(problem, (), loads)
    found = first_solution(Evaluator(instance))
    return sum(stop >= 0 for stops in found.routes for stop in stops) == len(loads)


def lost_in_trays(problem: Problem, routes: Iterable[Route]) -> list[Unplanned]:
    """Return the orders that were drawn, and whose specimens do not reach the laboratory while they are good."""
    lost: dict[str, Unplanned] = {}
    past = {visit.draw_id for visit in problem.replan.visits} if problem.replan else set()
    assumed = problem.replan.assumed if problem.replan else frozenset()
    for route in routes:
        for visit in route.visits:
            if visit.draw_id not in past:
                continue
            for planned in visit.tubes:
                detail = _lost(problem, route, visit, planned.tube.stability_s, planned.handover)
                if planned.tube.is_discard or not detail:
                    continue
                if visit.draw_id in assumed:
                    detail = f"if it was made as planned, which nobody reported: {detail}"
                for order_id in planned.tube.order_ids:
                    if order_id in visit.order_ids:
                        lost.setdefault(order_id, _unplanned(problem, order_id, detail))
    return list(lost.values())


def _lost(problem: Problem, route: Route, visit: Visit, stability_s: int | None, handover: int | None) -> str:
    """Return why a tube is lost; empty when it is not."""
    clock, who = problem.clock, problem.staff[route.phlebotomist]
    drawn = clock.format_clock(visit.draw_s)
    if handover is None:
        return f"drawn at {drawn}, still in the tray of {who.initials}, who gives nothing away any more; fetch it"
    stop = route.stops[handover]
    assert isinstance(stop, Handover)
    if stability_s is None or stop.lab_arrival_s - visit.draw_s <= stability_s:
        return ""
    return (
        f"drawn at {drawn}, in the laboratory not before {clock.format_clock(stop.lab_arrival_s)}, but good for "
        f"{stability_s // 60} min only; phone the laboratory, and have it recollected if they refuse it"
    )


def _unplanned(problem: Problem, order_id: str, detail: str) -> Unplanned:
    order = next(o for o in problem.orders if o.id == order_id)
    return Unplanned.of(order, Reason.DRAWN_IN_VAIN, detail, bed=problem.patients[order.patient_id].bed)
