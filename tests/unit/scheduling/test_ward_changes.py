"""A change of ward has its price: who goes where is decided with it, and hand-overs, breaks and trays are no change."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from planner.domain.goals import EFFORT_PER_S, Part
from planner.domain.plan import Visit
from planner.domain.price_policy import PricePolicy
from planner.scheduling import schedule
from planner.scheduling.search.estimates import Estimator
from planner.scheduling.search.kernel import EFFORT, MAX_OPTIONS, find_places
from planner.scheduling.timing.instance import CollectorData, Instance, VisitData
from planner.scheduling.timing.solution import Evaluator, part_prices, part_values
from planner.scheduling.timing.timing import Stops
from planner.solving.params import SolveParams
from tests.reference.brute_force import optimum
from tests.reference.tiny import BEGIN_S, TinyOrder, TinyOutlet, TinyPerson, TinyRound, TinyVisit
from tests.reference.to_planner import to_planner
from tests.unit.scheduling.rounds_in_numbers import BASE, instance, station, visit

pytestmark = pytest.mark.slow

ROUTINE = TinyOrder(priority="routine")


def on(ward: int, node: int = 1) -> VisitData:
    return replace(visit(node), ward=ward)


def changes(numbers: Instance, *stops: int) -> int:
    timing = Evaluator(numbers).timing(0, stops)
    assert timing is not None
    return timing.ward_changes


def test_change_counts_from_visit_to_visit_across_handovers() -> None:
    numbers = instance([on(0), on(1), on(0)], [station(2)])
    assert changes(numbers, 0, 2, ~0) == 0
    assert changes(numbers, 0, 2, 1, ~0) == 1
    assert changes(numbers, 0, ~0, 1, ~0, 2, ~0) == 2


def test_tray_lies_on_no_ward() -> None:
    tray = replace(on(1), is_tray=True, service_s=0)
    assert changes(instance([tray, on(0), on(0)], [station(2)]), 0, 1, ~0, 2, ~0) == 0


def test_change_counts_from_the_ward_where_somebody_goes_on() -> None:
    tray = replace(on(1), is_tray=True, service_s=0)
    who = CollectorData(node=BASE, from_s=0, until_s=100_000, ward=1)
    numbers = instance([tray, on(0), on(1)], [station(2)], [who])
    assert changes(numbers, 0, ~0) == 0
    assert changes(numbers, 0, 2, 1, ~0) == 1
    assert changes(numbers, 0, 1, 2, ~0) == 2


def test_who_is_on_a_ward_ends_it_before_the_next() -> None:
    """One bed on each ward, a minute apart; what she carries was drawn on the one whose bed is named last."""
    places = ["BASE", "B0", "B1", "OUT0"]
    spans = ((BEGIN_S, BEGIN_S + 2 * 3600),)
    bed = TinyVisit(bed="B0", ward="E", lead_s=135, service_s=300, starts=spans, orders=(ROUTINE,))
    begun = ((BEGIN_S, BEGIN_S),)
    tray = TinyVisit(bed="BASE", ward="W", lead_s=-60, service_s=0, starts=begun, orders=(ROUTINE,), tray_of=0)
    tiny = TinyRound(
        walk_s={(a, b): 60 for a in places for b in places if a != b},
        visits=(bed, replace(bed, bed="B1", ward="W"), tray),
        outlets=(TinyOutlet(place="OUT0", kind="carried"),),
        people=(TinyPerson(place="BASE", from_s=BEGIN_S, until_s=BEGIN_S + 3 * 3600),),
    )
    plan = schedule(*to_planner(tiny), SolveParams(effort="quick")).plan
    assert [stop.place for stop in plan.routes[0].stops if isinstance(stop, Visit)] == ["BASE", "B1", "B0"]
    assert tuple(goal.value for goal in plan.goals) == optimum(tiny)


def test_change_counts_in_the_effort_at_its_price() -> None:
    numbers = instance([on(0), on(1), on(0)], [station(1)], prices=PricePolicy(ward_change_s=7))
    evaluator = Evaluator(numbers)
    right, wrong = evaluator.solution(((0, 2, 1, ~0),)), evaluator.solution(((0, 1, 2, ~0),))
    assert right is not None and wrong is not None
    assert wrong.values[2] - right.values[2] == EFFORT_PER_S * 7
    assert part_values(evaluator, wrong)[Part.WARD_CHANGES] == 2
    assert part_prices(numbers)[Part.WARD_CHANGES] == EFFORT_PER_S * 7


@pytest.mark.parametrize("seed", range(30))
def test_changes_of_a_visit_put_between_others_are_those_that_the_route_gains(seed: int) -> None:
    rng = random.Random(f"wards {seed}")
    visits = [on(rng.randrange(3)) for _ in range(6)]
    visits[0] = replace(visits[0], is_tray=rng.random() < 0.5)
    who = CollectorData(node=BASE, from_s=0, until_s=100_000, ward=rng.choice([None, 0, 1, 2]))
    numbers = instance(visits, [station(1)], [who], prices=PricePolicy(ward_change_s=7))
    free = replace(numbers, prices=PricePolicy(ward_change_s=0))
    stops = (0, *rng.sample(range(1, 5), 4), ~0)
    for gap in range(1, 6):
        longer = (*stops[:gap], 5, *stops[gap:])
        gained = changes(numbers, *longer) - changes(numbers, *stops)
        assert effort_in(numbers, stops, gap) - effort_in(free, stops, gap) == EFFORT_PER_S * 7 * gained


def effort_in(numbers: Instance, stops: Stops, gap: int) -> int:
    """Return what visit 5 counts in tier ``effort`` in a gap of a route, by the search's own pricing of places."""
    timed, best = Estimator(Evaluator(numbers)).timed(0, stops), np.empty((2, MAX_OPTIONS, 6), np.int64)
    assert timed is not None
    assert find_places(numbers.rules, 0, *timed, 5, (gap, gap), np.zeros(0, np.int64), best)[0] == 1
    return int(best[0, 0, EFFORT])


def test_two_people_keep_to_a_ward_each_where_nothing_hurries() -> None:
    """Four beds on each of two wards, every bed a minute from every other: the way alone parts nobody."""
    places = ["BASE", *(f"B{i}" for i in range(8)), "OUT0"]
    span = (BEGIN_S, BEGIN_S + 2 * 3600)
    beds = [
        TinyVisit(bed=f"B{i}", ward="EW"[i % 2], lead_s=135, service_s=300, starts=(span,), orders=(ROUTINE,))
        for i in range(8)
    ]
    tiny = TinyRound(
        walk_s={(a, b): 60 for a in places for b in places if a != b},
        visits=tuple(beds),
        outlets=(TinyOutlet(place="OUT0", kind="carried"),),
        people=(TinyPerson(place="BASE", from_s=BEGIN_S, until_s=BEGIN_S + 3 * 3600),) * 2,
    )
    problem, draws = to_planner(tiny)
    routes = schedule(problem, draws, SolveParams(effort="quick")).plan.routes
    wards = [{problem.patients[visit.patient_id].ward for visit in route.visits} for route in routes]
    assert sorted(map(sorted, wards)) == [["E"], ["W"]]
