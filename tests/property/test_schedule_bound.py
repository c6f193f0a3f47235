"""Rounds whose visits are bound to one another, and whose trays are small, against a search of all pairs of routes."""

from __future__ import annotations

import pytest

from planner.scheduling import schedule
from planner.solving.params import SolveParams
from tests.reference.joint import optimum, random_bound_round
from tests.reference.to_planner import to_planner

Compared = tuple[int, tuple[int, ...], tuple[int, ...], tuple[int, ...], tuple[str, ...]]
"""Seed, the planner's goals and bounds, the best there are, the solver's trouble."""


@pytest.fixture(scope="module")
def compared() -> list[Compared]:
    """Rounds of up to three beds in which something binds (`tests/reference/compare.py bound` for more of them)."""
    found = []
    for seed in range(60):
        tiny = random_bound_round(seed, 3)
        if tiny.tray_limit is None and all(visit.patient is None for visit in tiny.visits):
            continue
        outcome = schedule(*to_planner(tiny), SolveParams(effort="quick"))
        goals = outcome.plan.goals
        values, bounds = tuple(g.value for g in goals), tuple(g.bound for g in goals)
        found.append((seed, values, bounds, optimum(tiny), outcome.trouble))
    assert len(found) >= 40
    return found


def test_no_plan_is_better_than_possible(compared: list[Compared]) -> None:
    assert [seed for seed, values, _bounds, best, _trouble in compared if values < best] == []


def test_left_out_and_service_are_always_the_best(compared: list[Compared]) -> None:
    assert [seed for seed, values, _bounds, best, _trouble in compared if values[:2] != best[:2]] == []


def test_all_three_tiers_are_the_best_in_95_of_100(compared: list[Compared]) -> None:
    assert sum(values == best for _seed, values, _bounds, best, _trouble in compared) >= 0.95 * len(compared)


def test_no_bound_is_above_what_is_possible(compared: list[Compared]) -> None:
    for seed, values, bounds, best, _trouble in compared:
        told = [goal for goal in range(len(best)) if values[:goal] == best[:goal] and bounds[goal] > best[goal]]
        assert told == [], seed


def test_the_exact_model_knows_every_round_in_hand(compared: list[Compared]) -> None:
    assert [(seed, trouble) for seed, _values, _bounds, _best, trouble in compared if trouble] == []
