"""Simulated mornings in small: no rule broken, no order lost, what happened stays, never worse than walking on."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from tests.benchmark.rounds import generated_problem
from tests.mornings.morning import PARAMS, Morning, simulate
from tests.mornings.rates import Rates

SEEDS = range(4)


@pytest.fixture(scope="module")
def mornings() -> list[Morning]:
    """Four mornings of four or five patients in which ten times as much goes wrong as is published; two with proofs.

    A plan that the checker refuses would raise here.
    """
    rates = Rates().times(10)
    return [
        simulate(
            seed, generated_problem(seed, 4 + seed % 2, 1 + seed % 2), rates, replace(PARAMS, proves=bool(seed // 2))
        )
        for seed in SEEDS
    ]


def test_nothing_is_lost_changed_or_worse_than_walking_on(mornings: list[Morning]) -> None:
    assert [fault for morning in mornings for fault in morning.faults] == []


def test_mornings_are_of_many_kinds(mornings: list[Morning]) -> None:
    heard = sum((m.heard for m in mornings), Counter[str]())
    ends = sum((m.ends for m in mornings), Counter[str]())
    assert heard["stat"] >= 4
    assert len(heard) >= 7
    assert {"collected", "cancelled", "postponed"} <= {end for end, count in ends.items() if count}
    assert sum(m.compared for m in mornings) >= 0.6 * sum(len(m.seconds) for m in mornings)
