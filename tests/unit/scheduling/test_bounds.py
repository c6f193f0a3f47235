"""What simple counting claims is true of the round, and exact where the round is that simple."""

from __future__ import annotations

import pytest

from planner.scheduling.bounds import least_value
from planner.scheduling.solution import GOALS, Evaluator, Solution
from tests.unit.scheduling.rounds_in_numbers import courier, instance, station, visit

NAMES = ("punctures", "arrival", "time", "finish")


def value(solution: Solution, name: str) -> int:
    return dict(zip((goal for goal, _unit in GOALS), solution.values, strict=True))[name]


@pytest.mark.parametrize("pickup", [station(2), courier(2, 1000, 5000)])
def test_counting_is_exact_for_one_bed(pickup) -> None:
    numbers = instance([visit(1)], [pickup])
    solution = Evaluator(numbers).solution(((0, ~0),))
    assert solution is not None
    assert [least_value(numbers, name, True) for name in NAMES[:2]] == [value(solution, name) for name in NAMES[:2]]
    # Walking to the bed and the hand-over are counted, the way to the pickup is not: 10 + 60 of 80.
    assert least_value(numbers, "time", True) == 70
    assert least_value(numbers, "finish", True) == value(solution, "finish")


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_claimed_when_visits_are_left_out(name: str) -> None:
    assert least_value(instance([visit(1)], [station(2)]), name, False) == 0


def test_bed_at_the_start_costs_no_walk() -> None:
    # The first bed is where she starts, 900 s from the other bed and its station: 900 + 60. Counting claims that
    # the first bed is entered from somewhere else: 900 + 900 + 60.
    numbers = instance([visit(0), visit(9)], [station(9)], step_s=100)
    solution = Evaluator(numbers).solution(((0, 1, ~0),))
    assert solution is not None
    assert least_value(numbers, "time", True) <= value(solution, "time")
