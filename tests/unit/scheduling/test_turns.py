"""Pairs out of the order of isolation count only where both could stand the other way round in their windows."""

from __future__ import annotations

import random

import pytest

from planner.domain.goals import EFFORT_PER_S
from planner.domain.price_policy import PricePolicy
from planner.scheduling.timing.solution import Evaluator
from planner.scheduling.timing.turns import Turns
from tests.unit.scheduling.rounds_in_numbers import instance, station, visit

AIRBORNE, USUAL, PROTECTIVE = 4, 1, 0


@pytest.mark.parametrize(("last_s", "pairs"), [(329, 0), (330, 1)])
def test_pair_counts_only_if_the_other_could_be_seen_first(last_s: int, pairs: int) -> None:
    # The usual bed opens at 20, is over at 320, and it is 10 s to the airborne one, whose last start is last_s.
    visits = [visit(1, precaution=AIRBORNE, last_s=last_s), visit(2, precaution=USUAL, first_s=20)]
    numbers = instance(visits, [station(3)])
    assert numbers.turns.on([0, 1]) == pairs
    assert numbers.turns.on([1, 0]) == 0


def test_protective_after_airborne_is_no_usual_pair() -> None:
    visits = [visit(1, precaution=AIRBORNE), visit(2, precaution=PROTECTIVE, is_protective=True), visit(3)]
    numbers = instance(visits, [station(4)])
    assert (numbers.turns.on([0, 1, 2]), numbers.exposures.on([0, 1, 2])) == (1, 1)
    assert (numbers.turns.on([1, 2, 0]), numbers.exposures.on([1, 2, 0])) == (0, 0)


def test_pairs_count_in_the_effort_at_their_prices() -> None:
    visits = [visit(1, precaution=AIRBORNE), visit(1, precaution=PROTECTIVE, is_protective=True), visit(1)]
    prices = PricePolicy(isolation_s=7, protective_after_airborne_s=11)
    evaluator = Evaluator(instance(visits, [station(1)], prices=prices))
    right, wrong = evaluator.solution(((1, 2, 0, ~0),)), evaluator.solution(((0, 1, 2, ~0),))
    assert right is not None and wrong is not None
    assert wrong.values[2] - right.values[2] == EFFORT_PER_S * (7 + 11)


@pytest.mark.parametrize("seed", range(20))
def test_pairs_of_a_visit_put_between_others_are_those_that_the_route_gains(seed: int) -> None:
    rng = random.Random(f"turns {seed}")
    turns = Turns.of([rng.getrandbits(8) & ~(1 << i) for i in range(8)])
    order = rng.sample(range(8), 6)
    for visit_put in set(range(8)) - set(order):
        for gap in range(7):
            earlier, later = (sum(1 << i for i in part) for part in (order[:gap], order[gap:]))
            gained = turns.on([*order[:gap], visit_put, *order[gap:]]) - turns.on(order)
            assert turns.with_visit(visit_put, earlier, later) == gained
