"""Rounds that are measured can be made: the checker accepts the walk they are built around, and plans are no worse."""

from __future__ import annotations

import pytest

from planner.checker import check_plan
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.benchmark.rounds import BEGIN_S, round_and_walk
from tests.benchmark.walked import feasible_round

SIZES = ((6, 1), (12, 2), (30, 2))


@pytest.mark.slow
@pytest.mark.parametrize(("num_visits", "num_people"), SIZES)
@pytest.mark.parametrize("every_rule", [False, True])
def test_checker_accepts_the_walk(num_visits: int, num_people: int, every_rule: bool) -> None:
    for seed in range(1, 9):
        problem, plan = feasible_round(seed, num_visits, num_people, every_rule=every_rule)
        assert not plan.unplanned
        assert check_plan(problem, plan).errors == (), seed


@pytest.mark.slow
@pytest.mark.parametrize(("num_visits", "num_people"), [(70, 5), (350, 18)])
def test_checker_accepts_the_walk_of_a_large_round(num_visits: int, num_people: int) -> None:
    problem, plan = feasible_round(1, num_visits, num_people)
    assert len(problem.patients) > 0.99 * num_visits  # few orders had to go
    assert not plan.unplanned
    assert check_plan(problem, plan).errors == ()


@pytest.mark.parametrize(("num_visits", "num_people"), [(30, 2), pytest.param(350, 18, marks=pytest.mark.slow)])
def test_first_bed_of_a_walk_is_reached(num_visits: int, num_people: int) -> None:
    walked = round_and_walk(1, num_visits, num_people)
    base = walked.problem.staff[0].starts_at
    for patient_id, step in walked.walk.items():
        bed = walked.problem.patients[patient_id].bed
        assert step.at_s >= BEGIN_S + walked.problem.walking.between(base, bed)


@pytest.mark.slow
@pytest.mark.parametrize(("num_visits", "num_people", "seeds"), [(12, 2, (1, 2, 3)), (30, 2, (1, 2)), (70, 5, (1,))])
def test_plan_leaves_nothing_out_and_is_no_later_than_the_walk(
    num_visits: int, num_people: int, seeds: tuple[int, ...]
) -> None:
    for seed in seeds:
        problem, walk = feasible_round(seed, num_visits, num_people)
        plan = plan_round(problem, SolveParams(wall_limit_s=600.0, proves=False)).plan
        assert [goal.value for goal in plan.goals[:2]] <= [goal.value for goal in walk.goals[:2]], seed
        assert not plan.unplanned, seed
