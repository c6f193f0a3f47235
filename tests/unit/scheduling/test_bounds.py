"""What simple counting claims is true of the round, and exact where the round is that simple."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from itertools import permutations, product

import pytest

from planner.domain.goals import Part, Tier
from planner.domain.price_policy import PricePolicy
from planner.scheduling.exact.bounds import least_arrival, least_finish, least_time_s, least_value
from planner.scheduling.timing.instance import CollectorData, Instance
from planner.scheduling.timing.solution import Evaluator, Solution, part_values
from tests.unit.scheduling.rounds_in_numbers import carried, courier, instance, specimen, station, visit

COUNTED: dict[Part, Callable[[Instance], int]] = {
    Part.ARRIVAL: least_arrival,
    Part.TIME: least_time_s,
    Part.FINISH: least_finish,
}
"""What is counted of the effort, part by part."""


def value(evaluator: Evaluator, solution: Solution, part: Part) -> int:
    return part_values(evaluator, solution)[part]


@pytest.mark.parametrize("pickup", [station(2), courier(2, 1000, 5000)])
def test_counting_is_exact_for_one_bed(pickup) -> None:
    numbers = instance([visit(1)], [pickup])
    evaluator = Evaluator(numbers)
    solution = evaluator.solution(((0, ~0),))
    assert solution is not None
    assert [count(numbers) for count in COUNTED.values()] == [value(evaluator, solution, part) for part in COUNTED]
    assert tuple(least_value(numbers, tier, True) for tier in Tier) == solution.values


@pytest.mark.parametrize("tier", Tier)
def test_nothing_is_claimed_when_visits_are_left_out(tier: Tier) -> None:
    numbers = instance([visit(1), visit(1)], [station(2)], same_patient=((0, 1),))
    assert least_value(numbers, tier, False) == 0


def test_every_visit_beyond_a_patients_first_counts_its_price() -> None:
    # Three visits of one patient, two of another, one of a third: two and one beyond the first.
    numbers = instance([visit(1)] * 6, [station(2)], same_patient=((0, 1, 2), (3, 5)), prices=PricePolicy(puncture_s=7))
    assert least_value(numbers, Tier.SERVICE, True) == 3 * 7


def test_what_is_urgent_counts_at_least_what_it_would_alone() -> None:
    # Brought at 10 + 300 + 10 + 60 + 180 = 560 and at 580, each as if it were the only one: 60 s and 30 s past.
    urgent = [replace(specimen(), to_lab=((due_s, 10),)) for due_s in (500, 550)]
    numbers = instance([visit(1, specimens=(urgent[0],)), visit(3, specimens=(urgent[1],))], [station(2)])
    assert least_value(numbers, Tier.SERVICE, True) == 10 * (60 + 30)


def test_bed_at_the_start_costs_no_walk() -> None:
    # The first bed is where she starts, 900 s from the other bed and its station: 900 + 60. Counting claims that
    # the first bed is entered from somewhere else: 900 + 900 + 60.
    numbers = instance([visit(0), visit(9)], [station(9)], step_s=100)
    evaluator = Evaluator(numbers)
    solution = evaluator.solution(((0, 1, ~0),))
    assert solution is not None
    assert least_time_s(numbers) <= value(evaluator, solution, Part.TIME)


def test_arrivals_wait_their_turn() -> None:
    # Three beds at 10, 20 and 30 s, 300 s each, carried from node 0: alone each could be in at 10 + 300 + 10 + 60,
    # 20 more and 40 more. One collector: she needs 10 + 300 a bed (each is 10 s from another), so the k-th specimens
    # leave after 310 k, and are in 10 + 60 later: 380 + 690 + 1000.
    numbers = instance([visit(1), visit(2), visit(3)], [carried(0)])
    assert least_arrival(numbers) == 380 + 690 + 1000


def test_walking_is_at_least_a_tree_over_beds_and_starts() -> None:
    # Beds at nodes 1, 2, 8, 9 of a line, 10 s a node; entering each from the next would cost 10 s four times. The
    # tree goes from 0 to 9: 90 s, then 10 s from bed 9 to the pickup at 10, and 60 s of hand-over.
    numbers = instance([visit(1), visit(2), visit(8), visit(9)], [carried(10)])
    assert least_time_s(numbers) == 90 + 10 + 60


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(30))
def test_no_round_is_below_the_bounds(seed: int) -> None:
    rng = random.Random(f"bounds {seed}")
    beds = [
        visit(
            rng.randrange(1, 6), (0, rng.randrange(900, 4000)), service_s=rng.randrange(60, 400), able=frozenset({0, 1})
        )
        for _ in range(4)
    ]
    pickups = rng.choice(
        [[carried(0)], [station(3)], [courier(2, 700, 1500, 9000)], [station(3), courier(6, 2000, 9000)]]
    )
    people = tuple(CollectorData(node=rng.randrange(7), from_s=rng.randrange(300), until_s=9000) for _ in range(2))
    numbers = instance(beds, pickups, people, max_sends=4)
    size = len(numbers.walk)
    walk = tuple(tuple(0 if a == b else rng.randrange(1, 90) for b in range(size)) for a in range(size))
    numbers = replace(numbers, walk=walk)
    evaluator, best, least = Evaluator(numbers), {}, 10**12
    for order in permutations(range(4)):
        for cut in range(5):
            for ways in product(*[_with_handovers(part, len(pickups)) for part in (order[:cut], order[cut:])]):
                found = evaluator.solution(ways)
                for part in COUNTED if found else ():
                    best[part] = min(best.get(part, 10**9), value(evaluator, found, part))
                if found:
                    least = min(least, found.values[2])
    assert best, "a round that nobody can make checks nothing"
    assert all(count(numbers) <= best[part] for part, count in COUNTED.items())
    assert least_value(numbers, Tier.EFFORT, True) <= least


def _with_handovers(order: tuple[int, ...], num_pickups: int) -> list[tuple[int, ...]]:
    """Return the routes that give away after any of the visits, and surely after the last."""
    routes: list[tuple[int, ...]] = [()]
    for n, stop in enumerate(order):
        endings = [(~p,) for p in range(num_pickups)] + ([()] if n + 1 < len(order) else [])
        routes = [(*route, stop, *ending) for route in routes for ending in endings]
    return routes
