"""The arrays price every gap as a plain loop over the stops does, and never put a visit where it has no room."""

from __future__ import annotations

import random
from collections.abc import Sequence

import numpy as np
import pytest

from planner.scheduling.compact.beds import Beds, Ground, Numbers, Routes, ground_of
from planner.scheduling.compact.compact import empty_routes
from planner.scheduling.compact.kernel import (
    FREE_S,
    LATEST_S,
    NEVER,
    SIZE,
    TIME_S,
    WALKING_S,
    Chance,
    insert,
    lay_out,
    near_routes,
    price,
    take_strings,
)

Route = Sequence[int]


def random_beds(seed: int, num_visits: int = 7, num_people: int = 2) -> Beds:
    """Return beds of which some have two windows, and some may be visited by one collector only."""
    rng = random.Random(f"beds {seed}")
    size = num_visits + num_people + 1
    windows = []
    for _ in range(num_visits):
        first_s = rng.randrange(0, 600)
        one = (first_s, first_s + rng.randrange(100, 900))
        later_s = one[1] + rng.randrange(50, 400)
        windows.append((one, (later_s, later_s + 300)) if rng.random() < 0.3 else (one,))
    return Beds(
        way_s=np.array([[0 if a == b else rng.randrange(1, 90) for b in range(size)] for a in range(size)]),
        stay_s=np.array([rng.randrange(20, 120) for _ in range(num_visits)]),
        windows=tuple(windows),
        weight=tuple(rng.randrange(1, 4) for _ in range(num_visits)),
        able=np.array([[True] * num_people if rng.random() < 0.7 else [True, False] for _ in range(num_visits)]),
        begin_s=(0, 60),
        until_s=(1500, 1400),
    )


def walked(beds: Beds, k: int, route: Route) -> tuple[int, int] | None:
    """Return (seconds until the route is over, seconds of walking), stop by stop; None when it breaks a rule."""
    if not route:
        return 0, 0
    clock_s, here, walking_s = beds.begin_s[k], beds.num_visits + k, 0
    for v in route:
        clock_s, walking_s = clock_s + int(beds.way_s[here, v]), walking_s + int(beds.way_s[here, v])
        window = next((w for w in beds.windows[v] if clock_s <= w[1]), None)
        if window is None or not beds.able[v][k]:
            return None
        clock_s, here = max(clock_s, window[0]) + int(beds.stay_s[v]), v
    out_s = int(beds.way_s[here, -1])
    if clock_s + out_s > beds.until_s[k]:
        return None
    return clock_s + out_s - beds.begin_s[k], walking_s + out_s


def stops_of(routes: Routes) -> list[list[int]]:
    return [stops[:size].tolist() for stops, size in zip(routes.stops, routes.totals[SIZE], strict=True)]


def chance_of(seed: int) -> Chance:
    return np.array([seed + 1], dtype=np.uint64)


def put(ground: Ground, routes: Routes, v: int, prices: tuple[int, int], blink: float, state: Chance) -> bool:
    added = np.zeros((len(ground.shifts_s), len(ground.weight) + 1), dtype=np.int64)
    price(ground, routes, v, prices, everybody(ground), added)
    return insert(ground, routes, v, everybody(ground), added, blink, state) >= 0


def everybody(ground: Ground) -> Numbers:
    return np.arange(len(ground.shifts_s))


@pytest.mark.parametrize("prices", [(1, 0), (0, 1), (3, 2)])
@pytest.mark.parametrize("seed", range(15))
def test_every_gap_is_priced_as_walked(seed: int, prices: tuple[int, int]) -> None:
    beds, rng = random_beds(seed), random.Random(seed)
    ground = ground_of(beds)
    routes, added, checked = empty_routes(ground), np.zeros((2, beds.num_visits + 1), dtype=np.int64), 0
    for v in rng.sample(range(beds.num_visits), beds.num_visits):
        price(ground, routes, v, prices, everybody(ground), added)
        for k, route in enumerate(stops_of(routes)):
            before = walked(beds, k, route)
            assert before == (routes.totals[TIME_S, k], routes.totals[WALKING_S, k])
            for gap in range(len(route) + 1):
                after = walked(beds, k, [*route[:gap], v, *route[gap:]])
                if added[k, gap] < NEVER:
                    assert after is not None
                    assert added[k, gap] == sum(p * (b - a) for p, a, b in zip(prices, before, after, strict=True))
                    checked += 1
                elif after is not None:  # the arrays do not push a later visit into its next window
                    assert any(len(beds.windows[w]) > 1 for w in route[gap:])
        put(ground, routes, v, prices, 0.0, chance_of(seed))
    assert checked > 10


@pytest.mark.parametrize("most", [1, 2, 4, 9])
def test_routes_near_a_visit_are_those_of_its_neighbours(most: int) -> None:
    """Eight beds in a row, 10 s apart: bed v is on route v // 2, the fifth and the sixth person have none."""
    ways_s = np.array([[10 * abs(a - b) for b in range(15)] for a in range(15)])
    beds = Beds(
        way_s=ways_s,
        stay_s=np.full(8, 10),
        windows=(((0, 9000),),) * 8,
        weight=(1,) * 8,
        able=np.ones((8, 6), dtype=np.bool_),
        begin_s=(0,) * 6,
        until_s=(9000,) * 6,
    )
    ground = ground_of(beds)
    routes, near, added = empty_routes(ground), np.zeros(6, np.int64), np.zeros((6, 9), dtype=np.int64)
    for v in range(8):
        only = np.array([v // 2])
        price(ground, routes, v, (1, 1), only, added)
        assert insert(ground, routes, v, only, added, 0.0, chance_of(1)) == v // 2
    expected = {1: [1, 4], 2: [0, 1, 4], 4: [0, 1, 2, 3, 4], 9: [0, 1, 2, 3, 4, 5]}
    assert near[: near_routes(ground, routes, 2, most, near)].tolist() == expected[most]


@pytest.mark.parametrize("seed", range(6))
def test_visits_are_only_where_they_may_be_and_nowhere_twice(seed: int) -> None:
    beds = random_beds(seed, num_visits=12)
    ground, state = ground_of(beds), chance_of(seed)
    routes, gone = empty_routes(ground), np.zeros(12, dtype=np.int64)
    for v in range(12):
        put(ground, routes, v, (1, 1), 0.0, state)
    for _ in range(200):
        served = {v for route in stops_of(routes) for v in route}
        num = take_strings(ground, routes, gone, np.zeros(2, np.bool_), state)
        left = {v for route in stops_of(routes) for v in route}
        assert len(set(gone[:num])) == num
        assert served == left | set(gone[:num].tolist())
        assert not left & set(gone[:num].tolist())
        for v in gone[:num]:
            put(ground, routes, int(v), (1, 1), 0.2, state)
        for k, route in enumerate(stops_of(routes)):
            assert walked(beds, k, route) == (routes.totals[TIME_S, k], routes.totals[WALKING_S, k])
            assert all(routes.home[v] == k for v in route)


def test_a_visit_reached_too_late_is_not_timed_by_the_windows_of_the_next() -> None:
    # Straight on to bed 1 it is 500 s, by way of bed 0 it is 20: no map has such ways, but what the compiled code reads
    # must not depend on that. Bed 1 is open until 100, bed 2 from 5000 to 6000. Reached at 500, left at 510.
    way_s = np.full((5, 5), 10)
    way_s[3, 1] = 500
    beds = Beds(
        way_s=way_s,
        stay_s=np.array([10, 10, 10]),
        windows=(((0, 1000),), ((0, 100),), ((5000, 6000),)),
        weight=(1, 1, 1),
        able=np.ones((3, 1), dtype=np.bool_),
        begin_s=(0,),
        until_s=(9000,),
    )
    ground = ground_of(beds)
    routes = empty_routes(ground)
    routes.stops[0, 0], routes.totals[SIZE, 0] = 1, 1
    lay_out(ground, routes, 0)
    assert routes.gaps[FREE_S, 0, 1] == 510
    assert routes.gaps[LATEST_S, 0, 0] == 100


def test_overlooked_gap_is_not_the_one_taken() -> None:
    ground = ground_of(random_beds(1))
    routes = empty_routes(ground)
    assert not put(ground, routes, 0, (1, 1), 1.0, chance_of(1))
    assert stops_of(routes) == [[], []]
    assert put(ground, routes, 0, (1, 1), 0.0, chance_of(1))
