"""A search written apart, with its own clock and any grouping of a patient's orders, against the planner's."""

from __future__ import annotations

import pytest

from planner.domain.goals import Part
from tests.benchmark.opponents import Match, match

TRIES = 4_000
"""So few find no good plan; `tests/benchmark/opponents.py` plays in earnest. Here both are held to count alike."""


@pytest.fixture(scope="module")
def matches() -> list[Match]:
    """Rounds of up to twelve patients with every rule."""
    return [match(seed, (6, 9, 12)[seed % 3], "quick", TRIES) for seed in range(12)]


def test_what_the_opponent_calls_a_round_the_checker_accepts_and_counts_alike(matches: list[Match]) -> None:
    assert [one.met.contradictions for one in matches if one.met.contradictions] == []


def test_rounds_are_served_with_other_visits_too(matches: list[Match]) -> None:
    served = [sum(len(route.visits) for route in one.met.plan.routes) for one in matches]
    assert sum(num >= one.visits - 2 for num, one in zip(served, matches, strict=True)) >= 9
    off_s = [one.met.plan.part(Part.OFF_TIME).value for one in matches]
    assert sum(s > 0 for s in off_s) >= 4


def test_opponent_is_nowhere_better_in_what_comes_first_nor_than_a_proof(matches: list[Match]) -> None:
    assert [one.seed for one in matches if one.is_better_above or one.beats_proof] == []
