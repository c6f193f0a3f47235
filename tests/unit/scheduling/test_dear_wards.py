"""Visits of a ward find to one another: moved one by one at the own price of a change of ward they do not.

With all work at the own price the five-ward example had some 16 changes of ward, and 8 % more effort.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.domain.goals import Part
from planner.library.loading import load
from planner.prepared import prepare_round
from planner.scheduling.rounds.numbers import build_instance
from planner.scheduling.rounds.trays import settled_trays
from planner.scheduling.search.dear_wards import gather_by_ward, is_worth_gathering
from planner.scheduling.search.estimates import Estimator
from planner.scheduling.search.recreate import first_round
from planner.scheduling.search.search import improve
from planner.scheduling.timing.instance import CollectorData, Instance
from planner.scheduling.timing.solution import Evaluator, Solution, part_values
from planner.solving.params import SolveParams
from tests.unit.scheduling.rounds_in_numbers import courier, instance, visit

ROOT = Path(__file__).resolve().parents[3]

WORK = 400
"""Routes timed for each visit."""


@pytest.fixture(scope="module")
def five_wards() -> Instance:
    problem = load(ROOT / "inputs" / "fernbrook").problem
    return build_instance(problem, prepare_round(problem, SolveParams()).draws, settled_trays(problem))


def searched(numbers: Instance, seed: int, *, gathers: bool) -> Solution:
    evaluator = Evaluator(numbers)
    start, work = first_round(Estimator(evaluator)), WORK * len(numbers.visits)
    if gathers:
        start, work = gather_by_ward(evaluator, start, seed=seed, work=work, should_stop=lambda: False)
    return improve(evaluator, start, seed=seed, work=work)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1])
def test_same_work_finds_fewer_changes_of_ward_and_less_effort(five_wards: Instance, seed: int) -> None:
    plain, gathered = (searched(five_wards, seed, gathers=gathers) for gathers in (False, True))
    assert gathered.values[:2] == plain.values[:2]
    assert gathered.values[2] < 0.97 * plain.values[2]
    changes = [part_values(Evaluator(five_wards), found)[Part.WARD_CHANGES] for found in (plain, gathered)]
    assert changes[1] < changes[0]


def test_work_that_is_left_and_the_work_done_are_the_work_given() -> None:
    people = [CollectorData(node=0, from_s=0, until_s=20_000)]
    evaluator = Evaluator(instance([visit(1), visit(2)], [courier(5, 9_000)], people))
    _round, left = gather_by_ward(
        evaluator, first_round(Estimator(evaluator)), seed=1, work=100, should_stop=lambda: True
    )
    assert left == 40


def test_one_ward_is_not_gathered() -> None:
    people = [CollectorData(node=0, from_s=0, until_s=20_000)]
    assert not is_worth_gathering(instance([visit(1), visit(2)], [courier(5, 9_000)], people))
