"""Compact rounds: all visits within their windows with the least walking and waiting, whatever else is wanted.

A start for the search: on rounds of several collectors it lies far better than what visits put in one by one give.
Everything is left aside that does not fit into arrays (couriers, stability, gaps, breaks): a route is a begin,
visits with windows, and a way out with one hand-over. What comes out is timed exactly afterwards.

Strings of neighbouring visits are taken out and put back where they cost least, accepted with annealing: Christiaens
and Vanden Berghe (Slack induction by string removals for vehicle routing problems, 2020).
`planner.scheduling.compact.kernel` does so in machine code, some fifty thousand times a second for 120 visits.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from planner.scheduling.compact.beds import Beds, Ground, Routes, ground_of
from planner.scheduling.compact.kernel import FREE_S, LATEST_S, Annealing, anneal

FIRST_HEAT, LAST_HEAT = 30.0, 0.5
"""The first and the last temperature, in typical ways from a bed to one near it."""

ABSENCE = 20
"""A visit left out weighs on the way like so many times the first temperature; in the end its weight counts alone."""

TIME, WALKING = (1, 1), (0, 1)
"""What a second costs until the routes are over, and a second of walking. Walking counts a second time beside
time, so that not all gaps before a wait look alike."""

LEG = 1000
"""So many removals are made between two questions whether to stop."""


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
    should_stop
        Asked before each leg of `LEG` removals.
    """
    if not beds.num_visits:
        return Walks(((),) * len(beds.begin_s), (), 0, 0)
    ground = ground_of(beds)
    current, trial, best = (empty_routes(ground) for _ in range(3))
    way_s = _typical_way_s(ground)
    annealing = Annealing(*prices, ABSENCE * FIRST_HEAT * way_s, FIRST_HEAT * way_s, LAST_HEAT * way_s, removals)
    state = np.array([random.Random(seed).randrange(1, 2**64)], dtype=np.uint64)
    for done in range(0, removals, LEG):
        if should_stop():
            break
        anneal(ground, current, trial, best, annealing, done, min(done + LEG, removals), state)
    return _walks(best)


def empty_routes(ground: Ground) -> Routes:
    """Return routes without visits."""
    num, people = len(ground.weight), len(ground.shifts_s)
    routes = Routes(
        stops=np.zeros((people, num), dtype=np.int64),
        home=np.full(num, -1, dtype=np.int64),
        totals=np.zeros((3, people), dtype=np.int64),
        gaps=np.zeros((4, people, num + 1), dtype=np.int64),
    )
    routes.gaps[FREE_S, :, 0], routes.gaps[LATEST_S, :, 0] = ground.shifts_s.T
    return routes


def _walks(routes: Routes) -> Walks:
    sizes, time_s, walking_s = routes.totals
    return Walks(
        tuple(tuple(stops[:size].tolist()) for stops, size in zip(routes.stops, sizes, strict=True)),
        tuple(np.flatnonzero(routes.home < 0).tolist()),
        int(time_s.sum()),
        int(walking_s.sum()),
    )


def _typical_way_s(ground: Ground) -> float:
    """Return the mean way to the third neighbour."""
    third = ground.near[:, min(3, len(ground.near) - 1)]
    return max(1.0, float(ground.way_s[np.arange(len(third)), third].mean()))
