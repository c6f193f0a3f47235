"""The planner against a brute force written from the rule book: same goals, and no bound above what is possible."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from planner.domain.goals import PARTS, Part, Tier
from planner.scheduling import schedule
from planner.solving.params import SolveParams
from tests.reference.brute_force import Vector, optimum
from tests.reference.tiers import pair_cost
from tests.reference.tiny import TinyRound, random_round
from tests.reference.to_planner import to_planner

SEEDS = range(60)
"""Rounds of up to four beds, without breaks (see `tests/reference/compare.py` for those)."""


@dataclass(frozen=True)
class Compared:
    """What the planner says of one round, and what is possible."""

    seed: int
    parts: dict[str, int]
    values: Vector
    bounds: Vector
    best: Vector


def compare(seed: int, max_visits: int = 4, with_breaks: bool = False) -> Compared:
    """Plan one generated round with little effort, and solve it by brute force."""
    tiny = random_round(seed, max_visits, with_breaks)
    problem, draws = to_planner(tiny)
    outcome = schedule(problem, draws, SolveParams(effort="quick"))
    assert outcome.trouble == ()
    assert tuple(g.name for g in outcome.plan.goals) == tuple(tier.value for tier in Tier)
    return Compared(
        seed=seed,
        parts={part.name: part.value for goal in outcome.plan.goals for part in goal.parts},
        values=tuple(g.value for g in outcome.plan.goals),
        bounds=tuple(g.bound for g in outcome.plan.goals),
        best=optimum(tiny),
    )


@pytest.fixture(scope="module")
def compared() -> list[Compared]:
    """All rounds, compared once."""
    return [compare(seed) for seed in SEEDS]


def test_rounds_are_of_many_kinds(compared: list[Compared]) -> None:
    # A comparison says little if every round is easy: each part is at stake in at least one round in twenty. (Second
    # punctures: tests/property/test_schedule_bound.py. Off time does not grow with time, as the brute forces ask:
    # tests/property/test_opponent.py.)
    apart = {Part.SECOND_PUNCTURES, Part.PROTECTIVE_AFTER_AIRBORNE, Part.OFF_TIME}
    for part in (part for tier in Tier for part in PARTS[tier] if part not in apart):
        assert sum(c.parts[part.value] > 0 for c in compared) >= len(compared) / 20, part
    # A protective bed behind an airborne one is nearly always avoided: it is at stake where a pair would count.
    assert sum(_has_exposed_pair(random_round(c.seed, 4, False)) for c in compared) >= len(compared) / 20


def _has_exposed_pair(tiny: TinyRound) -> bool:
    visits = range(len(tiny.visits))
    pairs = [(i, j) for i in visits for j in visits if (tiny.visits[i].turn, tiny.visits[j].turn) == (4, 0)]
    return any(pair_cost(tiny, i, j) > 0 for i, j in pairs)


def test_no_plan_is_better_than_possible(compared: list[Compared]) -> None:
    assert [c.seed for c in compared if c.values < c.best] == []


def test_left_out_and_service_are_always_the_best(compared: list[Compared]) -> None:
    assert [c.seed for c in compared if c.values[:2] != c.best[:2]] == []


def test_all_three_tiers_are_the_best_in_95_of_100_rounds(compared: list[Compared]) -> None:
    assert sum(c.values == c.best for c in compared) >= 0.95 * len(compared)


@pytest.mark.parametrize("tier", range(len(Tier)), ids=[tier.value for tier in Tier])
def test_no_bound_is_above_what_is_possible(compared: list[Compared], tier: int) -> None:
    # A bound speaks of rounds that have the same values in the tiers before it: only those are compared.
    comparable = [c for c in compared if c.values[:tier] == c.best[:tier]]
    assert [c.seed for c in comparable if c.bounds[tier] > c.best[tier]] == []


def test_what_is_called_proven_is_the_best(compared: list[Compared]) -> None:
    assert [c.seed for c in compared if c.values == c.bounds and c.values != c.best] == []
