"""Narrowed windows and dropped arcs lose no route that makes all visits, and say when there is none."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise, permutations

import pytest

from planner.scheduling.exact.tighten import tighten
from planner.scheduling.timing.instance import CollectorData, GapData, Instance
from planner.scheduling.timing.solution import Evaluator
from planner.scheduling.timing.timing import time_route
from tests.unit.scheduling.rounds_in_numbers import carried, instance, visit


def random_instance(seed: int) -> Instance:
    """Return five beds with narrow windows and ways that need not keep the triangle inequality."""
    rng = random.Random(seed)
    beds = []
    for node in range(1, 6):
        first_s = rng.randrange(0, 120)
        beds.append(visit(node, (first_s, first_s + rng.randrange(20, 140)), service_s=rng.choice([0, 5])))
    numbers = instance(
        beds, [carried(0)], [CollectorData(node=0, from_s=0, until_s=260)], handover_s=0, max_sends=rng.choice([1, 2])
    )
    size = len(numbers.walk)
    walk = tuple(tuple(0 if a == b else rng.randrange(1, 50) for b in range(size)) for a in range(size))
    return replace(numbers, walk=walk)


@pytest.mark.parametrize("seed", range(60))
def test_every_route_that_makes_all_visits_is_kept(seed: int) -> None:
    numbers = random_instance(seed)
    tight = tighten(numbers, 0, numbers.max_sends)
    begin = len(numbers.visits)
    found = 0
    for order in permutations(range(begin)):
        timing = time_route(numbers, 0, (*order, ~0))
        if timing is None:
            continue
        found += 1
        assert {(begin, order[0]), *pairwise(order)} <= tight.arcs
        assert order[-1] in tight.last
        for stop, start_s in zip(order, timing.starts_s, strict=False):
            assert tight.earliest_s[stop] <= start_s <= tight.latest_s[stop]
        assert not any(b in tight.before[a] for n, a in enumerate(order) for b in order[n + 1 :])
    assert tight.is_possible or not found


@pytest.mark.parametrize("seed", range(40))
def test_every_route_that_keeps_a_gap_is_kept(seed: int) -> None:
    rng = random.Random(f"gap {seed}")
    least_s = rng.randrange(1, 60)
    gap = GapData(first=rng.randrange(2), second=rng.randrange(2, 5), least_s=least_s, most_s=least_s + 40)
    numbers = replace(random_instance(seed), gaps=(gap,))
    tight, evaluator = tighten(numbers, 0, numbers.max_sends), Evaluator(numbers)
    assert gap.first in tight.before[gap.second]
    found = 0
    for order in permutations(range(len(numbers.visits))):
        kept = evaluator.solution(((*order, ~0),))
        if kept is None:
            continue
        found += 1
        assert {(len(numbers.visits), order[0]), *pairwise(order)} <= tight.arcs
        for stop, start_s in zip(order, kept.timings[0].starts_s, strict=False):
            assert tight.earliest_s[stop] <= start_s <= tight.latest_s[stop]
    assert tight.is_possible or not found


def test_gap_narrows_both_its_visits() -> None:
    # 1,800 to 2,400 s between the draws: the second opens with the first's 20 s of way + 1,800; the first closes
    # with the second's end 3,000 - 1,800, the second with that of the first + 2,400, which its own window undercuts.
    beds = [visit(2, (0, 5000)), visit(1, (0, 3000))]
    gap = GapData(first=0, second=1, least_s=1800, most_s=2400)
    tight = tighten(instance(beds, [carried(0)], max_sends=1, gaps=(gap,)), 0, 1)
    assert tight.earliest_s[:2] == [20, 1820]
    assert tight.latest_s[:2] == [1200, 3000]


def test_rounds_are_of_both_kinds() -> None:
    # Were all rounds impossible, or nothing narrowed, the test above would say little.
    tights = [tighten(random_instance(seed), 0, 1) for seed in range(60)]
    assert 10 <= sum(t.is_possible for t in tights) <= 58
    assert sum(len(t.arcs) < 25 for t in tights if t.is_possible) >= 10


def test_bed_that_closes_first_comes_first() -> None:
    # Bed 0 opens at 100, bed 1 closes at 105 and is 10 s + 300 s of service away: bed 1 comes first, and bed 0 opens
    # only when it is over: 20 s to bed 1, 300 s there, 10 s back.
    numbers = instance([visit(1, (100, 900)), visit(2, (0, 105))], [carried(0)], max_sends=1)
    tight = tighten(numbers, 0, 1)
    assert 1 in tight.before[0]
    assert (0, 1) not in tight.arcs
    assert tight.earliest_s[:2] == [330, 20]
