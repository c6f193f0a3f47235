"""A route's earliest schedule against a reference that tries every way of giving specimens away."""

from __future__ import annotations

import random

import pytest

from planner.scheduling.rounds.numbers import build_instance
from planner.scheduling.timing.instance import BREAK
from planner.scheduling.timing.timing import time_route
from tests.reference.brute_force import Stop, Vector
from tests.reference.order_of_stops import best_giving, random_stops
from tests.reference.tiny import random_round
from tests.reference.to_planner import to_planner

Pair = tuple[int, Vector | None, Vector | None]


def _stop(stop: Stop) -> int:
    """Return the planner's number of a stop of the reference."""
    what, n, _given = stop
    return {"bed": n, "rest": BREAK, "out": ~n}[what]


def _compare(seed: int) -> Pair | None:
    tiny = random_round(seed, max_visits=4)
    person = tiny.people[0]
    stops = random_stops(random.Random(seed), tiny, person)
    given = [n for what, n, _given in stops if what == "out"]
    if len(given) > 6 or max(given.count(n) for n in given) > tiny.max_sends:
        return None
    problem, draws = to_planner(tiny)
    timing = time_route(build_instance(problem, draws), 0, tuple(_stop(s) for s in stops))
    ours = None
    if timing is not None:
        num_beds = sum(what == "bed" for what, _n, _given in stops)
        arrivals_s = timing.arrival + num_beds * problem.start_s
        prices = tiny.prices
        delivery, wait = timing.delivery + prices.to_lab * timing.to_lab, timing.pulls
        ours = (timing.late, delivery, arrivals_s, wait, timing.finish_s)
    return seed, ours, best_giving(tiny, person, stops)


@pytest.fixture(scope="module")
def pairs() -> list[Pair]:
    """(Seed, ours, the least possible) of routes in a random order of stops."""
    return [pair for seed in range(1100) if (pair := _compare(seed)) is not None]


def test_routes_are_of_both_kinds(pairs: list[Pair]) -> None:
    assert sum(least is not None for _seed, _ours, least in pairs) > 200
    assert sum(least is None for _seed, _ours, least in pairs) > 200


def test_schedule_of_a_route_is_the_least_possible(pairs: list[Pair]) -> None:
    assert [seed for seed, ours, least in pairs if ours is not None and ours != least] == []


def test_route_that_can_be_timed_is_timed(pairs: list[Pair]) -> None:
    assert [seed for seed, ours, least in pairs if ours is None and least is not None] == []
