"""The search does the work that it is given and no more, however few visits are left."""

from __future__ import annotations

import pytest

from planner.scheduling.search import search
from planner.scheduling.search.estimates import Estimator
from planner.scheduling.search.recreate import first_round
from planner.scheduling.timing.instance import CollectorData
from planner.scheduling.timing.solution import Evaluator
from tests.unit.scheduling.rounds_in_numbers import courier, instance, visit


@pytest.mark.slow
@pytest.mark.parametrize("num_visits", [1, 4])
def test_no_more_rounds_are_tried_than_work_is_given(num_visits: int, monkeypatch: pytest.MonkeyPatch) -> None:
    # Four visits of two people, two couriers: nearly every round tried is made of routes that are remembered from
    # rounds tried before, and costs no timing. Counted in timings alone the search tried thousands of rounds.
    people = [CollectorData(node=0, from_s=0, until_s=20_000), CollectorData(node=9, from_s=0, until_s=20_000)]
    visits = [visit(node, able=frozenset({0, 1})) for node in range(1, num_visits + 1)]
    numbers = instance(visits, [courier(5, 3_000, 6_000, 9_000), courier(6, 4_000, 8_000)], people)
    tried = 0
    other = search._other

    def counted(*args: object) -> object:
        nonlocal tried
        tried += 1
        return other(*args)

    monkeypatch.setattr(search, "_other", counted)
    evaluator = Evaluator(numbers)
    search.improve(evaluator, first_round(Estimator(evaluator)), seed=1, work=120 * num_visits)
    assert 0 < tried <= search.TRIES_A_TIMING * 120 * num_visits
