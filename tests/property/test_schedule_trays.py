"""Rounds gone on with, trays and promises and all, against a brute force over every way to go on."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from planner.scheduling import schedule
from planner.solving.params import SolveParams
from tests.reference.brute_force import Vector, optimum
from tests.reference.tiny import TinyRound, random_round, with_trays
from tests.reference.to_planner import to_planner

Compared = tuple[int, Vector, Vector]
"""Seed, the planner's goals, the best there are."""


def _compare(seeds: range, wanted: Callable[[TinyRound], bool], *, with_breaks: bool) -> list[Compared]:
    """Compare rounds of up to three beds to come; those whose trays cannot be in time are left out."""
    found = []
    for seed in seeds:
        tiny = with_trays(random_round(seed, 3, with_breaks), seed)
        if not wanted(tiny):
            continue
        try:
            best = optimum(tiny)
        except LookupError:
            continue
        plan = schedule(*to_planner(tiny), SolveParams(effort="quick")).plan
        found.append((seed, tuple(goal.value for goal in plan.goals), best))
    return found


def _carries(tiny: TinyRound) -> bool:
    return any(visit.tray_of is not None for visit in tiny.visits)


def _carries_before_a_break(tiny: TinyRound) -> bool:
    """Return whether somebody who carries something has a break to take: before she gives it away, or after."""
    return any(visit.tray_of is not None and tiny.people[visit.tray_of].rest for visit in tiny.visits)


@pytest.fixture(scope="module", params=["trays", "trays and a break"])
def compared(request: pytest.FixtureRequest) -> list[Compared]:
    """At least twenty rounds; see `tests/reference/compare.py` for more of them, and for rounds not yet begun."""
    if request.param == "trays":
        found = _compare(range(1000, 1040), _carries, with_breaks=False)
    else:
        found = _compare(range(2000, 2130), _carries_before_a_break, with_breaks=True)
    assert len(found) >= 20
    return found


def test_no_plan_is_better_than_possible(compared: list[Compared]) -> None:
    assert [(seed, mine, best) for seed, mine, best in compared if mine < best] == []


def test_left_out_and_service_are_always_the_best(compared: list[Compared]) -> None:
    assert [(seed, mine, best) for seed, mine, best in compared if mine[:2] != best[:2]] == []


def test_all_three_tiers_are_the_best_in_95_of_100(compared: list[Compared]) -> None:
    assert sum(mine == best for _seed, mine, best in compared) >= 0.95 * len(compared)
