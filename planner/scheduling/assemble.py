"""From numbers back to the nouns of the round: a plan with visits, hand-overs and tubes."""

from __future__ import annotations

from collections.abc import Sequence

from planner.domain.draws import Draw, OrderWindow
from planner.domain.orders import OrderId
from planner.domain.plan import Break, Goal, Handover, Plan, PlannedTube, Route, Stop, Unplanned, Visit
from planner.domain.problem import Problem
from planner.scheduling.instance import BREAK, Instance
from planner.scheduling.solution import GOALS, Solution
from planner.scheduling.timing import Stops, Timing


def assemble(
    problem: Problem,
    instance: Instance,
    draws: Sequence[Draw],
    solution: Solution,
    bounds: Sequence[int],
    unplanned: Sequence[Unplanned],
) -> Plan:
    """Return the plan that a solution stands for; orders left out are in the order of their numbers."""
    routes = tuple(
        Route(phlebotomist=k, stops=_stops(problem, instance, draws, k, stops, timing))
        for k, (stops, timing) in enumerate(zip(solution.routes, solution.timings, strict=True))
    )
    goals = tuple(
        Goal(name=name, unit=unit, value=value, bound=bound)
        for (name, unit), value, bound in zip(GOALS, solution.values, bounds, strict=True)
    )
    return Plan(
        routes=routes,
        unplanned=tuple(sorted(unplanned, key=lambda u: u.order_id)),
        goals=goals,
        preferences_missed=_preferences_missed(draws, routes),
    )


def _stops(
    problem: Problem, instance: Instance, draws: Sequence[Draw], collector: int, stops: Stops, timing: Timing
) -> tuple[Stop, ...]:
    who = instance.collectors[collector]
    clock_s, node = who.from_s, who.node
    made: list[Stop] = []
    for position, stop in enumerate(stops):
        start_s = timing.starts_s[position]
        if stop >= 0:
            visit_data = instance.visits[stop]
            arrive_s = clock_s + instance.walk[node][visit_data.node]
            clock_s, node = start_s + visit_data.service_s, visit_data.node
            made.append(_visit(draws[stop], instance, stop, timing.handovers[position], arrive_s, start_s))
        elif stop == BREAK:
            place = made[-1].place if made else problem.staff[collector].starts_at
            made.append(Break(place=place, arrive_s=clock_s, start_s=start_s, depart_s=start_s + who.break_s))
            clock_s = start_s + who.break_s
        else:
            pickup = instance.pickups[~stop]
            arrive_s = clock_s + instance.walk[node][pickup.node]
            clock_s, node = start_s + instance.handover_s, pickup.node
            lab_arrival_s = pickup.lab_arrival_s(clock_s)
            assert lab_arrival_s is not None
            made.append(
                Handover(
                    place=problem.pickups[~stop].place,
                    kind=problem.pickups[~stop].kind,
                    arrive_s=arrive_s,
                    start_s=start_s,
                    depart_s=clock_s,
                    departs_s=pickup.departs_s(clock_s),
                    lab_arrival_s=lab_arrival_s,
                )
            )
    return tuple(made)


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
            for preference in windows[order_id].preferences
            if (preference.earliest_s is not None and visit.draw_s < preference.earliest_s)
            or (preference.latest_s is not None and visit.draw_s > preference.latest_s)
        )
    )
