"""Trays that hold less than a round brings: the search goes to a hand-over more often, and leaves nobody out for it."""

from __future__ import annotations

import random

import pytest

from planner.scheduling.compact.compact_start import compact_start
from planner.scheduling.search.estimates import Estimator
from planner.scheduling.search.recreate import first_round
from planner.scheduling.timing.instance import Instance, PickupData, SpecimenData
from planner.scheduling.timing.solution import Evaluator
from tests.unit.scheduling.rounds_in_numbers import courier, instance, station, visit

TWO_TUBES = SpecimenData(by_hand=False, limit_s=10**6, need_weight=1, num_tubes=2)


def long_day(tray_limit: int, outs: list[PickupData]) -> Instance:
    """Return 24 visits of 300 s, two tubes each, and a collector who has 100,000 s for them: some 8,000 s of work."""
    rng = random.Random(1)
    visits = [visit(rng.randrange(1, 30), specimens=(TWO_TUBES,)) for _ in range(24)]
    return instance(visits, outs, tray_limit=tray_limit, max_sends=24)


@pytest.mark.parametrize("outs", [[courier(3, 20_000, 40_000)], [station(3)], [station(3), courier(5, 9000, 18_000)]])
@pytest.mark.parametrize("tray_limit", [2, 3, 6, 30])
def test_first_round_leaves_nobody_out_for_a_full_tray(tray_limit: int, outs: list[PickupData]) -> None:
    # With a hand-over behind each visit the tray never holds more than two tubes, and all are over in time: 24 times
    # 300 s, 60 s to hand over and at most twice 270 s of walking are 21,600 s.
    placed = first_round(Estimator(Evaluator(long_day(tray_limit, outs))))
    assert placed.values[0] == 0


def test_compact_start_leaves_nobody_out_for_a_full_tray() -> None:
    placed = compact_start(Estimator(Evaluator(long_day(6, [courier(3, 40_000)]))), seed=1, removals=50)
    assert placed.values[0] == 0
