"""From numbers back to the nouns of the round: a plan with visits, hand-overs and tubes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.domain.draws import Draw, OrderWindow
from planner.domain.orders import OrderId
from planner.domain.plan import Break, Goal, Handover, Plan, PlannedTube, Route, Stop, Unplanned, Visit
from planner.domain.problem import Problem
from planner.scheduling.rounds.tray_loads import TrayLoad
from planner.scheduling.rounds.trays import lost_in_trays
from planner.scheduling.timing.instance import BREAK, Instance
from planner.scheduling.timing.solution import Solution
from planner.scheduling.timing.timing import Stops, Timing


def assemble(
    problem: Problem,
    instance: Instance,
    draws: Sequence[Draw],
    trays: Sequence[TrayLoad],
    solution: Solution,
    goals: tuple[Goal, ...],
    unplanned: Sequence[Unplanned],
) -> Plan:
    """Return the plan that a solution stands for; orders left out are in the order of their numbers."""
    routes = tuple(
        Route(phlebotomist=k, stops=_stops(problem, instance, draws, trays, k, stops, timing))
        for k, (stops, timing) in enumerate(zip(solution.routes, solution.timings, strict=True))
    )
    return Plan(
        routes=routes,
        unplanned=tuple(sorted([*unplanned, *lost_in_trays(problem, routes)], key=lambda u: u.order_id)),
        goals=goals,
        preferences_missed=_preferences_missed(draws, routes),
    )


def _stops(
    problem: Problem,
    instance: Instance,
    draws: Sequence[Draw],
    trays: Sequence[TrayLoad],
    collector: int,
    stops: Stops,
    timing: Timing,
) -> tuple[Stop, ...]:
    """Return the stops of one route: those made before the round was planned anew, then those to come."""
    past = problem.replan.past[collector].stops if problem.replan else ()
    begin_place = problem.replan.past[collector].place if problem.replan else problem.staff[collector].starts_at
    who = instance.collectors[collector]
    clock_s, node = who.from_s, who.node
    index_of = _indices(instance, stops, len(past))
    made: list[Stop] = list(past)
    for position, stop in enumerate(stops):
        start_s = timing.starts_s[position]
        takers = tuple(index_of[taker] for taker in timing.handovers[position])
        if stop >= 0 and instance.visits[stop].is_tray:
            load = trays[stop - len(draws)]
            at = next(n for n, old in enumerate(made) if isinstance(old, Visit) and old.draw_id == load.visit.draw_id)
            made[at] = _given_away(made[at], load, takers)
        elif stop >= 0:
            visit_data = instance.visits[stop]
            arrive_s = clock_s + instance.walk[node][visit_data.node]
            clock_s, node = start_s + visit_data.service_s, visit_data.node
            made.append(_visit(draws[stop], instance, stop, takers, arrive_s, start_s))
        elif stop == BREAK:
            place = made[-1].place if len(made) > len(past) else begin_place
            made.append(Break(place=place, arrive_s=clock_s, start_s=start_s, depart_s=start_s + who.break_s))
            clock_s = start_s + who.break_s
        else:
            pickup = instance.pickups[~stop]
            arrive_s = clock_s + instance.walk[node][pickup.node]
            clock_s, node = start_s + instance.handover_s, pickup.node
            made.append(_handover(problem, instance, stop, arrive_s, start_s))
    return tuple(made)


def _indices(instance: Instance, stops: Stops, num_past: int) -> dict[int, int]:
    """Return the index in the printed route of every position: specimens in a tray are no stop."""
    index_of: dict[int, int] = {}
    index = num_past
    for position, stop in enumerate(stops):
        index_of[position] = index
        index += not (stop >= 0 and instance.visits[stop].is_tray)
    return index_of


def _handover(problem: Problem, instance: Instance, stop: int, arrive_s: int, start_s: int) -> Handover:
    pickup = instance.pickups[~stop]
    end_s = start_s + instance.handover_s
    lab_arrival_s = pickup.lab_arrival_s(end_s)
    assert lab_arrival_s is not None
    return Handover(
        place=problem.pickups[~stop].place,
        kind=problem.pickups[~stop].kind,
        arrive_s=arrive_s,
        start_s=start_s,
        depart_s=end_s,
        departs_s=pickup.departs_s(end_s),
        lab_arrival_s=lab_arrival_s,
    )


def _given_away(stop: Stop, load: TrayLoad, takers: tuple[int, ...]) -> Visit:
    """Return a past visit with the hand-overs of the tubes that were in the tray."""
    assert isinstance(stop, Visit)
    taker_of = {tube: taker for group, taker in zip(load.groups(), takers, strict=True) for tube in group}
    return replace(stop, tubes=tuple(replace(p, handover=taker_of.get(p.tube, p.handover)) for p in stop.tubes))


def _visit(draw: Draw, instance: Instance, index: int, takers: tuple[int, ...], arrive_s: int, start_s: int) -> Visit:
    taker_of = {
        specimens.by_hand: taker for specimens, taker in zip(instance.visits[index].specimens, takers, strict=True)
    }
    return Visit(
        draw_id=draw.id,
        patient_id=draw.request.patient_id,
        place=draw.request.bed,
        order_ids=tuple(o.id for o in draw.request.orders),
        arrive_s=arrive_s,
        start_s=start_s,
        draw_s=start_s + draw.lead_s,
        depart_s=start_s + draw.service_s,
        tubes=tuple(
            PlannedTube(tube=tube, handover=None if tube.is_discard else taker_of[tube.by_hand])
            for tube in draw.tube_set.tubes
        ),
        needle=draw.tube_set.needle,
    )


def _preferences_missed(draws: Sequence[Draw], routes: Sequence[Route]) -> tuple[tuple[OrderId, str], ...]:
    windows: dict[OrderId, OrderWindow] = {w.order_id: w for draw in draws for w in draw.request.order_windows}
    return tuple(
        sorted(
            (order_id, preference.rule)
            for route in routes
            for visit in route.visits
            for order_id in visit.order_ids
            if order_id in windows
            for preference in windows[order_id].preferences
            if (preference.earliest_s is not None and visit.draw_s < preference.earliest_s)
            or (preference.latest_s is not None and visit.draw_s > preference.latest_s)
        )
    )
