"""The planner against a brute force written from the rule book: same goals, and no bound above what is possible."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from planner.scheduling import schedule
from planner.scheduling.timing.solution import GOALS
from planner.solving.params import SolveParams
from tests.reference.brute_force import Vector, optimum
from tests.reference.tiny import random_round
from tests.reference.to_planner import to_planner

SEEDS = range(60)
"""Rounds of up to four beds, without breaks (see `tests/reference/compare.py` for those)."""


@dataclass(frozen=True)
class Compared:
    """What the planner says of one round, and what is possible."""

    seed: int
    values: Vector
    bounds: Vector
    best: Vector


def compare(seed: int, max_visits: int = 4, with_breaks: bool = False) -> Compared:
    """Plan one generated round with little effort, and solve it by brute force."""
    tiny = random_round(seed, max_visits, with_breaks)
    problem, draws = to_planner(tiny)
    outcome = schedule(problem, draws, SolveParams(effort="quick"))
    assert outcome.trouble == ()
    assert tuple(g.name for g in outcome.plan.goals) == tuple(name for name, _unit in GOALS)
    return Compared(
        seed=seed,
        values=tuple(g.value for g in outcome.plan.goals),
        bounds=tuple(g.bound for g in outcome.plan.goals),
        best=optimum(tiny),
    )


@pytest.fixture(scope="module")
def compared() -> list[Compared]:
    """All rounds, compared once."""
    return [compare(seed) for seed in SEEDS]


def test_rounds_are_of_many_kinds(compared: list[Compared]) -> None:
    # A comparison says little if every round is easy: each goal is at stake in at least one round in twenty.
    for goal, (name, _unit) in enumerate(GOALS):
        assert sum(c.best[goal] > 0 for c in compared) >= len(compared) / 20, name


def test_no_plan_is_better_than_possible(compared: list[Compared]) -> None:
    assert [c.seed for c in compared if c.values < c.best] == []


def test_collecting_punctuality_and_punctures_are_always_the_best(compared: list[Compared]) -> None:
    assert [c.seed for c in compared if c.values[:3] != c.best[:3]] == []


def test_all_nine_goals_are_the_best_in_95_of_100_rounds(compared: list[Compared]) -> None:
    assert sum(c.values == c.best for c in compared) >= 0.95 * len(compared)


@pytest.mark.parametrize("goal", range(len(GOALS)), ids=[name for name, _unit in GOALS])
def test_no_bound_is_above_what_is_possible(compared: list[Compared], goal: int) -> None:
    # A bound speaks of rounds that have the same values in the goals before it: only those are compared.
    comparable = [c for c in compared if c.values[:goal] == c.best[:goal]]
    assert [c.seed for c in comparable if c.bounds[goal] > c.best[goal]] == []


def test_what_is_called_proven_is_the_best(compared: list[Compared]) -> None:
    assert [c.seed for c in compared if c.values == c.bounds and c.values != c.best] == []
