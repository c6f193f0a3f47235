"""Compact rounds: all visits within their windows with the least walking and waiting, whatever else is wanted.

A start for the search: on rounds of several collectors it lies far better than what visits put in one by one give.
Everything is left aside that does not fit into arrays (couriers, stability, gaps, breaks): a route is a begin,
visits with windows, and a way out with one hand-over. What comes out is timed exactly afterwards.

Strings of neighbouring visits are taken out and put back where they cost least, accepted with annealing: Christiaens
and Vanden Berghe (Slack induction by string removals for vehicle routing problems, 2020).
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from planner.scheduling.layout import Beds, Layout

STRINGS = 10
"""About so many visits are taken out at a time, in strings of at most so many."""

BLINK = 0.02
"""How often the best gap of a visit is overlooked."""

LEAST_HEAT, MOST_HEAT = 5.0, 200.0
"""The first temperature, in typical ways from a bed to one near it: see `_first_heat`."""

LAST_HEAT = 0.05
"""The last temperature, in typical ways."""

ABSENCE = 20
"""A visit left out weighs on the way like so many times the first temperature; in the end its weight counts alone."""

TIME, WALKING = (1, 1), (0, 1)
"""What a second costs until the routes are over, and a second of walking. Walking counts a second time beside
time, so that not all gaps before a wait look alike."""


@dataclass(frozen=True, slots=True)
class Walks:
    """Visits by collector, those left out, the seconds until the routes are over (their sum), and of walking."""

    routes: tuple[tuple[int, ...], ...]
    absent: tuple[int, ...]
    time_s: int
    walking_s: int


def compact_walks(
    beds: Beds,
    *,
    seed: int,
    removals: int,
    prices: tuple[int, int] = TIME,
    start: Walks | None = None,
    should_stop: Callable[[], bool] = lambda: False,
) -> Walks:
    """Return routes that leave out the least weight, and of those the ones with the least time or walking.

    Parameters
    ----------
    beds
        What is to be visited.
    seed, removals
        Same seed and so many removals: same routes.
    prices
        `TIME`, or `WALKING` alone.
    start
        Routes to begin with.
    should_stop
        Asked before each removal.
    """
    if not beds.num_visits:
        return Walks(((),) * len(beds.begin_s), (), 0, 0)
    rng = random.Random(seed)
    layout = Layout(beds, prices)
    near = _neighbours(beds)
    way_s = _typical_way_s(beds, near)
    first_heat = way_s * _first_heat(removals / beds.num_visits)
    if start is not None:
        layout.set_routes(start.routes)
    best = current = _put_back(layout, set(range(beds.num_visits)) - set(layout.home), rng)
    state = layout.state()
    for done in range(removals):
        if should_stop():
            break
        heat = first_heat * (LAST_HEAT * way_s / first_heat) ** (done / removals)
        gone = _strings(layout, near, rng)
        layout.take_out(gone)
        found = _put_back(layout, gone.union(current.absent), rng)
        worse = _price(prices, found, ABSENCE * first_heat) - _price(prices, current, ABSENCE * first_heat)
        if worse > -heat * math.log(1 - rng.random()):
            layout.go_back(state)
            continue
        current, state = found, layout.state()
        if _rank(beds, prices, found) < _rank(beds, prices, best):
            best = found
    return best


def _first_heat(removals_a_visit: float) -> float:
    """Return how hot to begin: a long search hot, for it then ends with fewer routes; a short one must cool in time.

    From few trials on rounds of 120, among which seeds differ as much: with 40 removals a visit and all rules, 13 left
    fewer out than 30 and 60; with 150 a visit and nothing but windows and walking, 200 ended shorter than 60.
    """
    return min(MOST_HEAT, max(LEAST_HEAT, removals_a_visit**2 / 120))


def _rank(beds: Beds, prices: tuple[int, int], walks: Walks) -> tuple[int, int]:
    """Return what routes are compared by in the end: weight left out, then time, or walking where that is all."""
    return sum(beds.weight[v] for v in walks.absent), walks.time_s if prices[0] else walks.walking_s


def _price(prices: tuple[int, int], walks: Walks, absence: float) -> float:
    return prices[0] * walks.time_s + prices[1] * walks.walking_s + absence * len(walks.absent)


def _neighbours(beds: Beds) -> list[list[int]]:
    """Return the visits by their way from each, itself first."""
    num = beds.num_visits
    both = np.minimum(beds.way_s[:num, :num], beds.way_s[:num, :num].T)
    np.fill_diagonal(both, -1)
    return [[int(v) for v in np.argsort(row, kind="stable")] for row in both]


def _typical_way_s(beds: Beds, near: Sequence[Sequence[int]]) -> float:
    """Return the mean way to the third neighbour."""
    ways = [int(beds.way_s[v, others[min(3, len(others) - 1)]]) for v, others in enumerate(near)]
    return max(1.0, sum(ways) / max(1, len(ways)))


def _strings(layout: Layout, near: Sequence[Sequence[int]], rng: random.Random) -> set[int]:
    """Return the visits of some strings of routes around a visit."""
    served, used = len(layout.home), sum(bool(r) for r in layout.routes)
    if not served:
        return set()
    most = min(STRINGS, max(1, round(served / used)))
    num_strings = int(rng.uniform(1, max(1.0, 4 * STRINGS / (1 + most) - 1) + 1))
    gone: set[int] = set()
    for v in near[rng.randrange(len(near))]:
        if v in gone or v not in layout.home:
            continue
        route = layout.routes[layout.home[v]]
        length = rng.randint(1, min(most, len(route)))
        place = route.index(v)
        first = rng.randint(max(0, place - length + 1), min(place, len(route) - length))
        gone.update(route[first : first + length])
        num_strings -= 1
        if not num_strings:
            break
    return gone


def _put_back(layout: Layout, absent: set[int], rng: random.Random) -> Walks:
    """Insert what is left out, in an order that changes; what has no room stays out."""
    order = sorted(absent)
    rng.shuffle(order)
    windows, out_s = layout.beds.windows, layout.beds.way_s[:, layout.way_out]
    way = rng.randrange(6)
    if way == 0:
        order.sort(key=lambda v: windows[v][-1][1])
    elif way == 1:
        order.sort(key=lambda v: windows[v][0][0])
    elif way == 2:
        order.sort(key=lambda v: windows[v][-1][1] - windows[v][0][0])
    elif way == 3:
        order.sort(key=lambda v: -int(out_s[v]))
    left = [v for v in order if not layout.insert(v, rng.random() < BLINK)]
    routes = tuple(tuple(route) for route in layout.routes)
    return Walks(routes, tuple(sorted(left)), sum(layout.time_s), sum(layout.walking_s))
