"""The arrays price every gap as a plain loop over the stops does."""

from __future__ import annotations

import random
from collections.abc import Sequence

import numpy as np
import pytest

from planner.scheduling.layout import NEVER, Beds, Layout

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


@pytest.mark.parametrize("prices", [(1, 0), (0, 1), (3, 2)])
@pytest.mark.parametrize("seed", range(15))
def test_every_gap_is_priced_as_walked(seed: int, prices: tuple[int, int]) -> None:
    beds, rng = random_beds(seed), random.Random(seed)
    layout = Layout(beds, prices)
    checked = 0
    for v in rng.sample(range(beds.num_visits), beds.num_visits):
        added = layout.prices(v)
        for k, route in enumerate(layout.routes):
            before = walked(beds, k, route)
            assert before == (layout.time_s[k], layout.walking_s[k])
            for gap in range(len(route) + 1):
                after = walked(beds, k, [*route[:gap], v, *route[gap:]])
                if added[k, gap] < NEVER:
                    assert after is not None
                    assert added[k, gap] == sum(p * (b - a) for p, a, b in zip(prices, before, after, strict=True))
                    checked += 1
                elif after is not None:  # the arrays do not push a later visit into its next window
                    assert any(len(beds.windows[w]) > 1 for w in route[gap:])
            assert (added[k, len(route) + 1 :] == NEVER).all()
        layout.insert(v)
    assert checked > 10


def test_second_best_gap_is_taken_when_the_best_is_overlooked() -> None:
    beds = random_beds(1)
    plain, other = Layout(beds, (1, 1)), Layout(beds, (1, 1))
    plain.insert(0)
    other.insert(0, skips_best=True)
    assert plain.routes != other.routes


def test_going_back_restores_prices_and_routes() -> None:
    beds = random_beds(3)
    layout = Layout(beds, (1, 1))
    for v in range(4):
        layout.insert(v)
    state, routes, prices = layout.state(), [[*r] for r in layout.routes], layout.prices(5)
    layout.take_out({0, 2})
    for v in (5, 6, 0):
        layout.insert(v)
    layout.go_back(state)
    assert layout.routes == routes
    assert (layout.prices(5)[:, : prices.shape[1]] == prices).all()
    assert layout.home == {v: k for k, route in enumerate(routes) for v in route}
