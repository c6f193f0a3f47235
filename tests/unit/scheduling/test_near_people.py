"""In rounds of many people a visit is put back with those who are near; with anybody before it is left out."""

from __future__ import annotations

import random

import pytest

from planner.scheduling.search import recreate
from planner.scheduling.search.estimates import Estimator, Options
from planner.scheduling.search.recreate import NEAR_ROUTES, put_back
from planner.scheduling.timing.instance import CollectorData
from planner.scheduling.timing.solution import Evaluator, Solution
from planner.scheduling.timing.timing import Stops
from tests.unit.scheduling.rounds_in_numbers import courier, instance, visit

PEOPLE = NEAR_ROUTES + 2
LAST = PEOPLE
"""The visit to be put back: at the bed beside that of person 0; every other person makes one visit further on."""


def put_last_back(monkeypatch: pytest.MonkeyPatch, first_until_s: int, num_people: int) -> tuple[Solution, set[int]]:
    """Return the round with the last visit, and whom the search asked for it."""
    monkeypatch.setattr(recreate, "NEAR_VISITS", 2)
    monkeypatch.setattr(recreate, "ANYBODY", 0.0)
    everybody = frozenset(range(PEOPLE))
    visits = [visit(10 * k + 1, able=everybody) for k in range(PEOPLE)] + [visit(1, able=frozenset(range(num_people)))]
    people = [CollectorData(node=0, from_s=0, until_s=first_until_s if k == 0 else 20_000) for k in range(PEOPLE)]
    evaluator = Evaluator(instance(visits, [courier(1, 600, 3_000, 9_000)], people))
    begun = evaluator.solution(tuple((k, ~0) for k in range(PEOPLE)))
    assert begun is not None
    estimator = Estimator(evaluator)
    asked: set[int] = set()

    def options(number: int, collector: int, stops: Stops) -> Options:
        asked.add(collector)
        return Estimator.options(estimator, number, collector, stops)

    monkeypatch.setattr(estimator, "options", options)
    return put_back(estimator, begun, [LAST], random.Random(1)), asked


def test_those_who_are_near_are_asked_first(monkeypatch: pytest.MonkeyPatch) -> None:
    solution, asked = put_last_back(monkeypatch, 20_000, PEOPLE)
    assert asked == {0}
    assert LAST in solution.routes[0]


def test_anybody_is_asked_where_the_near_have_no_room(monkeypatch: pytest.MonkeyPatch) -> None:
    solution, asked = put_last_back(monkeypatch, 400, PEOPLE)  # 10 s of way, 300 at the bed, 60 to hand over
    assert asked == set(range(PEOPLE))
    assert LAST not in solution.routes[0]
    assert any(LAST in stops for stops in solution.routes)


def test_all_are_asked_where_few_are_able(monkeypatch: pytest.MonkeyPatch) -> None:
    _solution, asked = put_last_back(monkeypatch, 20_000, NEAR_ROUTES)
    assert asked == set(range(NEAR_ROUTES))
