"""Ward rounds stripped to what routing solvers can say, solved by them and by our search in the same run and time.

Run: python tests/benchmark/side_by_side.py [size ...] [--seeds N] [--limit-s S]; needs the extra `bench`.

The round: wards on floors (a lift between), beds along corridors, hard windows around a walk that somebody could
make, all collectors alike, from a fixed second at the base to one courier's pickup. All specimens leave with one
courier after everybody's shift, so that what is left to make small is part `time`: walking, waiting, and a hand-over
of 60 s a collector who goes out. Everybody's routes are timed again by our own timing, so all figures are of one
kind. PyVRP and OR-Tools are given that objective (duration of the routes, a fixed cost a route). VROOM knows no cost
of waiting: it minimises walking with the windows kept, and is timed like the others afterwards. Everything runs on
one core.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from planner.domain.orders import TimeWindow
from planner.domain.price_policy import PricePolicy
from planner.scheduling.compact.compact import compact_walks
from planner.scheduling.compact.compact_start import beds_of
from planner.scheduling.search.estimates import Estimator
from planner.scheduling.search.search import improve
from planner.scheduling.timing.instance import NO_LIMIT_S, CollectorData, Instance, PickupData, SpecimenData, VisitData
from planner.scheduling.timing.solution import Evaluator
from planner.scheduling.timing.timing import Stops, time_route

BEGIN_S = 5 * 3600
HANDOVER_S = 60
BEDS_PER_WARD = 24
BASE, PICKUP = 0, 1
LIMITS_S = {15: 5.0, 30: 10.0, 60: 15.0, 120: 25.0}
PACE = 5_000
"""So many removals tell how many fit into the time."""


def stripped_round(seed: int, num_visits: int) -> Instance:
    """Return a round of one collector for each 20 beds; the same seed gives the same round."""
    rng = random.Random(f"stripped {seed} {num_visits}")
    num_people = max(1, num_visits // 20)
    num_wards = -(-num_visits * 5 // 4 // BEDS_PER_WARD)
    spots = [(0, 0, 0), (0, 20, 0)]
    beds = [(w, b) for w in range(num_wards) for b in range(BEDS_PER_WARD)]
    for ward, bed in rng.sample(beds, num_visits):
        spots.append((ward // 2, 30 + 90 * (ward % 2) + 6 * (bed // 2), 3 if bed % 2 else -3))
    walk = tuple(tuple(_walk_s(a, b) for b in spots) for a in spots)
    until_s, windows, service_s = _windows(rng, walk, num_visits, num_people)
    specimens = (SpecimenData(by_hand=False, limit_s=NO_LIMIT_S, need_weight=0),)
    return Instance(
        start_s=BEGIN_S,
        walk=walk,
        visits=tuple(
            VisitData(
                node=2 + i,
                service_s=service_s[i],
                windows=(TimeWindow(earliest_s=windows[i][0], latest_s=windows[i][1]),),
                targets=(),
                weight=1,
                specimens=specimens,
                need_by_s=None,
                able=frozenset(range(num_people)),
            )
            for i in range(num_visits)
        ),
        pickups=(PickupData(node=PICKUP, takes_hand=True, departures_s=(until_s,), transit_s=600),),
        collectors=(CollectorData(node=BASE, from_s=BEGIN_S, until_s=until_s),) * num_people,
        handover_s=HANDOVER_S,
        max_sends=6,
        prices=PricePolicy(arrival_pct=0, finish_pct=0, share=0),
    )


def _walk_s(a: tuple[int, int, int], b: tuple[int, int, int]) -> int:
    """Return seconds at a metre each: along the corridor, across it, and by the lift at its begin between floors."""
    if a[0] == b[0]:
        return abs(a[1] - b[1]) + abs(a[2] - b[2])
    return a[1] + abs(a[2]) + b[1] + abs(b[2]) + 25 + 10 * abs(a[0] - b[0])


def _windows(
    rng: random.Random, walk: tuple[tuple[int, ...], ...], num_visits: int, num_people: int
) -> tuple[int, list[tuple[int, int]], list[int]]:
    """Return the end of the shifts, windows and stays, put around a walk of everybody that keeps them."""
    clock_s, place = [BEGIN_S] * num_people, [BASE] * num_people
    windows, service_s = [], []
    order = sorted(range(num_visits), key=lambda i: (walk[BASE][2 + i], i))
    kept = {}
    for n, i in enumerate(order):
        who = n * num_people // num_visits if rng.random() < 0.85 else rng.randrange(num_people)
        start_s = clock_s[who] + walk[place[who]][2 + i]
        stay_s = rng.randrange(8, 17) * 30
        clock_s[who], place[who] = start_s + stay_s, 2 + i
        wish = rng.random()
        if wish < 0.15:
            kept[i] = (start_s - rng.randrange(900), start_s + 300), stay_s
        elif wish < 0.45:
            kept[i] = (start_s - rng.randrange(1800), start_s + rng.randrange(600, 2400)), stay_s
        else:
            kept[i] = (BEGIN_S, BEGIN_S + 5 * 3600), stay_s
    for i in range(num_visits):
        (first_s, last_s), stay_s = kept[i]
        windows.append((max(BEGIN_S, first_s), last_s))
        service_s.append(stay_s)
    return max(clock_s) + 1200, windows, service_s


def measured(instance: Instance, routes: list[list[int]]) -> tuple[int, int]:
    """Return (visits left out or against a rule, part `time`) of routes of visits, by our own timing."""
    time_s = served = 0
    for visits in routes:
        stops: Stops = (*visits, ~0) if visits else ()
        timing = time_route(instance, 0, stops)
        if timing is None:
            return len(instance.visits), 0
        served += len(visits)
        time_s += timing.time_s if visits else 0
    return len(instance.visits) - served, time_s


def by_us(instance: Instance, limit_s: float) -> list[list[int]]:
    """Compact routes, as many removals as the time allows; then the search of whole rounds on its last tenth."""
    beds = beds_of(instance)
    compact_walks(beds, seed=1, removals=1)  # loads the machine code, as the others' is loaded before they start
    began = time.monotonic()
    compact_walks(beds, seed=1, removals=PACE)
    removals_a_s = PACE / (time.monotonic() - began)

    def is_over(share: float) -> bool:
        return time.monotonic() - began > share * limit_s

    removals = round(0.85 * limit_s * removals_a_s)
    walks = compact_walks(beds, seed=2, removals=removals, should_stop=lambda: is_over(0.9))
    estimator = Estimator(Evaluator(instance))
    start = estimator.evaluator.solution(tuple((*route, ~0) if route else () for route in walks.routes))
    assert start is not None, "these rounds have nothing that compact routes leave aside"
    work = 60 * len(instance.visits)
    best = improve(estimator.evaluator, start, seed=1, work=work, estimator=estimator, should_stop=lambda: is_over(1))
    return [[stop for stop in stops if stop >= 0] for stops in best.routes]


def by_pyvrp(instance: Instance, limit_s: float) -> list[list[int]]:
    """PyVRP: duration of the routes and a hand-over for each."""
    from pyvrp import Model
    from pyvrp.stop import MaxRuntime

    model = Model()
    spots = [model.add_location(x=0, y=0) for _ in instance.walk]
    begin, end = model.add_depot(spots[BASE]), model.add_depot(spots[PICKUP])
    for visit in instance.visits:
        (window,) = visit.windows
        model.add_client(
            spots[visit.node],
            service_duration=visit.service_s,
            tw_early=window.earliest_s,
            tw_late=window.latest_s,
        )
    for a, row in enumerate(instance.walk):
        for b, seconds in enumerate(row):
            if a != b:
                model.add_edge(spots[a], spots[b], distance=0, duration=seconds)
    model.add_vehicle_type(
        num_available=len(instance.collectors),
        start_depot=begin,
        end_depot=end,
        fixed_cost=HANDOVER_S,
        tw_early=BEGIN_S,
        start_late=BEGIN_S,
        tw_late=instance.collectors[0].until_s - HANDOVER_S,
        unit_distance_cost=0,
        unit_duration_cost=1,
    )
    result = model.solve(MaxRuntime(limit_s), seed=1, collect_stats=False, display=False)
    if not result.is_feasible():
        return []
    return [[task.idx for task in route.schedule() if task.is_client()] for route in result.best.routes()]


def by_ortools(instance: Instance, limit_s: float) -> list[list[int]]:
    """OR-Tools routing: guided local search on the span of the time dimension and a hand-over for each route."""
    from ortools.constraint_solver import pywrapcp, routing_enums_pb2

    people = len(instance.collectors)
    manager = pywrapcp.RoutingIndexManager(len(instance.walk), people, [BASE] * people, [PICKUP] * people)
    routing = pywrapcp.RoutingModel(manager)
    stay_s = [0, HANDOVER_S, *(v.service_s for v in instance.visits)]

    def step_s(a: int, b: int) -> int:
        here, there = manager.IndexToNode(a), manager.IndexToNode(b)
        return stay_s[here] + instance.walk[here][there]

    index = routing.RegisterTransitCallback(step_s)
    routing.SetArcCostEvaluatorOfAllVehicles(routing.RegisterTransitCallback(lambda _a, _b: 0))
    until_s = instance.collectors[0].until_s
    routing.AddDimension(index, until_s, until_s, False, "time")
    dimension = routing.GetDimensionOrDie("time")
    dimension.SetSpanCostCoefficientForAllVehicles(1)
    routing.SetFixedCostOfAllVehicles(HANDOVER_S)
    for person in range(people):
        dimension.CumulVar(routing.Start(person)).SetValue(BEGIN_S)
        dimension.CumulVar(routing.End(person)).SetMax(until_s - HANDOVER_S)
    for visit in instance.visits:
        (window,) = visit.windows
        dimension.CumulVar(manager.NodeToIndex(visit.node)).SetRange(window.earliest_s, window.latest_s)
    parameters = pywrapcp.DefaultRoutingSearchParameters()
    parameters.first_solution_strategy = routing_enums_pb2.FirstSolutionStrategy.PARALLEL_CHEAPEST_INSERTION
    parameters.local_search_metaheuristic = routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    parameters.time_limit.FromMilliseconds(int(1000 * limit_s))
    solution = routing.SolveWithParameters(parameters)
    routes = []
    for person in range(people if solution else 0):
        at, route = routing.Start(person), []
        while not routing.IsEnd(at):
            at = solution.Value(routing.NextVar(at))
            if not routing.IsEnd(at):
                route.append(manager.IndexToNode(at) - 2)
        routes.append(route)
    return routes


def by_vroom(instance: Instance, limit_s: float) -> list[list[int]]:
    """VROOM at its highest exploration, as often as the time allows (it is soon done, and repeats itself): once."""
    import numpy as np
    import vroom

    problem = vroom.Input()
    problem.set_durations_matrix(profile="car", matrix_input=np.array(instance.walk, dtype=np.uint32))
    until_s = instance.collectors[0].until_s - HANDOVER_S
    for k in range(len(instance.collectors)):
        problem.add_vehicle(vroom.Vehicle(k, start=BASE, end=PICKUP, time_window=vroom.TimeWindow(BEGIN_S, until_s)))
    for i, visit in enumerate(instance.visits):
        windows = [vroom.TimeWindow(w.earliest_s, w.latest_s) for w in visit.windows]
        problem.add_job(vroom.Job(i, location=visit.node, default_service=visit.service_s, time_windows=windows))
    solution = problem.solve(exploration_level=5, nb_threads=1)
    routes: dict[int, list[int]] = {}
    for _row, step in solution.routes.iterrows():
        if step["type"] == "job":
            routes.setdefault(int(step["vehicle_id"]), []).append(int(step["id"]))
    return list(routes.values())


SOLVERS: dict[str, Callable[[Instance, float], list[list[int]]]] = {
    "ours": by_us,
    "PyVRP": by_pyvrp,
    "OR-Tools": by_ortools,
    "VROOM": by_vroom,
}


def main() -> None:
    """Print a row for each round: left out and time of everybody, and ours over the best of the others."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sizes", nargs="*", type=int, default=sorted(LIMITS_S))
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--limit-s", type=float)
    options = parser.parse_args()
    print(f"{'visits':>6} {'seed':>4} {'limit s':>7}", *(f"{name:>14}" for name in SOLVERS), f"{'ours/best':>10}")
    for size in options.sizes:
        ratios = []
        for seed in range(1, options.seeds + 1):
            instance = stripped_round(seed, size)
            limit_s = options.limit_s or LIMITS_S.get(size, 10.0)
            found = {name: measured(instance, solve(instance, limit_s)) for name, solve in SOLVERS.items()}
            others = min(values for name, values in found.items() if name != "ours")
            ours = found["ours"]
            ratios.append(ours[1] / others[1] if ours[0] == others[0] else float(ours[0] > others[0]) * 9.99)
            cells = [f"{values[1]:>8} ({values[0]:>2})" for values in found.values()]
            print(
                f"{size:>6} {seed:>4} {limit_s:>7.0f}", *(f"{c:>14}" for c in cells), f"{ratios[-1]:>10.4f}", flush=True
            )
        print(f"{size:>6} mean of ours/best {sum(ratios) / len(ratios):.4f}, worst {max(ratios):.4f}\n")


if __name__ == "__main__":
    main()
