"""Compact routes are the best there are on small rounds, keep windows, and repeat themselves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import permutations, product

import pytest

from planner.scheduling.compact.beds import Beds
from planner.scheduling.compact.compact import TIME, WALKING, compact_walks
from planner.scheduling.compact.compact_start import compact_start
from planner.scheduling.search.estimates import Estimator
from planner.scheduling.timing.instance import BREAK, CollectorData, GapData
from planner.scheduling.timing.solution import Evaluator
from tests.unit.scheduling.rounds_in_numbers import carried, courier, instance, specimen, visit
from tests.unit.scheduling.test_kernel import random_beds, walked


def all_routes(beds: Beds) -> Iterator[list[list[int]]]:
    """Yield all ways to deal out visits, each route in all orders, visits left out last."""
    people = len(beds.begin_s)
    for dealt in product(range(people + 1), repeat=beds.num_visits):
        hands = [[v for v, k in enumerate(dealt) if k == hand] for hand in range(people)]
        yield from (list(map(list, routes)) for routes in product(*[permutations(hand) for hand in hands]))


def rank(beds: Beds, routes: list[list[int]], counts: int) -> tuple[int, int] | None:
    """Return (weight left out, time or walking), None when a route cannot be walked."""
    ends = [walked(beds, k, route) for k, route in enumerate(routes)]
    if None in ends:
        return None
    made = {v for route in routes for v in route}
    left_out = sum(w for v, w in enumerate(beds.weight) if v not in made)
    return left_out, sum(end[counts] for end in ends if end)


@pytest.mark.parametrize("prices", [TIME, WALKING])
@pytest.mark.parametrize("seed", range(12))
def test_no_routes_are_better_by_brute_force(seed: int, prices: tuple[int, int]) -> None:
    beds = random_beds(seed, num_visits=5)
    beds = replace(beds, windows=tuple(w[:1] for w in beds.windows))
    counts = 0 if prices == TIME else 1
    found = compact_walks(beds, seed=1, removals=400, prices=prices)
    best = min(r for routes in all_routes(beds) if (r := rank(beds, routes, counts)) is not None)
    assert rank(beds, [list(route) for route in found.routes], counts) == best


def test_same_seed_gives_same_routes() -> None:
    beds = random_beds(4, num_visits=12)
    assert compact_walks(beds, seed=7, removals=200) == compact_walks(beds, seed=7, removals=200)


def test_nobody_to_visit() -> None:
    beds = random_beds(1, num_visits=0)
    assert compact_walks(beds, seed=1, removals=5).routes == ((), ())


def test_specimen_that_cannot_wait_is_given_away_on_the_way() -> None:
    # Bed 1 is 10 s from the pickup at node 0, its blood is good for 500 s from the start of 300 s; bed 40 lies 390 s
    # further on: without a hand-over between them it would be 300 + 390 + 300 + 400 s old.
    numbers = instance([visit(1, specimens=(specimen(500),)), visit(40)], [carried(0)])
    start = compact_start(Estimator(Evaluator(numbers)), seed=1, removals=50)
    assert start.values[0] == 0
    (stops,) = start.routes
    assert stops.count(~0) == 2 or stops[-2:] == (0, ~0)


def test_break_that_is_owed_is_taken() -> None:
    people = [CollectorData(node=0, from_s=0, until_s=9000, break_s=900, break_window=visit(0, (500, 1500)).windows[0])]
    numbers = instance([visit(n) for n in range(1, 7)], [courier(0, 9000)], people)
    start = compact_start(Estimator(Evaluator(numbers)), seed=1, removals=50)
    assert start.values[0] == 0
    assert BREAK in start.routes[0]


def test_bound_visits_keep_their_gap() -> None:
    # The second draw is due 3000 s after the first, at the same bed; compact routes know nothing of it.
    beds = [visit(1), visit(1), visit(5), visit(9)]
    gaps = (GapData(first=0, second=1, least_s=3000, most_s=3600),)
    numbers = instance(beds, [carried(0)], gaps=gaps)
    start = compact_start(Estimator(Evaluator(numbers)), seed=1, removals=50)
    assert start.values[0] == 0
    start_s = dict(zip(start.routes[0], start.timings[0].starts_s, strict=True))
    assert 3000 <= start_s[1] - start_s[0] <= 3600


def test_who_may_be_on_time_is_planned_on_time() -> None:
    # Straight on the way would be 1, 2, ... and bed 6, due at 400, at the end of the walk.
    beds = [visit(1), visit(2), visit(3), visit(6, targets=((400, 1),))]
    start = compact_start(Estimator(Evaluator(instance(beds, [carried(0)]))), seed=1, removals=50)
    assert start.values[:2] == (0, 0)
