"""Rounds gone on with, trays and promises and all, against a brute force over every way to go on."""

from __future__ import annotations

import pytest

from planner.scheduling import schedule
from planner.solving.params import SolveParams
from tests.reference.brute_force import Vector, optimum
from tests.reference.tiny import random_round, with_trays
from tests.reference.to_planner import to_planner

SEEDS = range(1000, 1040)
"""Up to three beds to come; see `tests/reference/compare.py` for rounds that have not begun."""


@pytest.fixture(scope="module")
def compared() -> list[tuple[int, Vector, Vector]]:
    """Seed, the planner's goals, the best there are; rounds whose trays cannot be in time are left out."""
    found = []
    for seed in SEEDS:
        tiny = with_trays(random_round(seed, 3, with_breaks=False), seed)
        if all(visit.tray_of is None for visit in tiny.visits):
            continue
        try:
            best = optimum(tiny)
        except LookupError:
            continue
        plan = schedule(*to_planner(tiny), SolveParams(effort="quick")).plan
        found.append((seed, tuple(goal.value for goal in plan.goals), best))
    return found


def test_enough_rounds_carry_something(compared: list[tuple[int, Vector, Vector]]) -> None:
    assert len(compared) >= 20


def test_no_plan_is_better_than_possible(compared: list[tuple[int, Vector, Vector]]) -> None:
    assert [(seed, mine, best) for seed, mine, best in compared if mine < best] == []


def test_first_three_goals_are_always_the_best(compared: list[tuple[int, Vector, Vector]]) -> None:
    assert [(seed, mine, best) for seed, mine, best in compared if mine[:3] != best[:3]] == []


def test_all_nine_goals_are_the_best_in_95_of_100(compared: list[tuple[int, Vector, Vector]]) -> None:
    assert sum(mine == best for _seed, mine, best in compared) >= 0.95 * len(compared)
