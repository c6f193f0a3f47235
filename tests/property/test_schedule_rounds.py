"""Generated rounds with the real laboratory through the whole pipeline: never refused, nothing lost, repeatable."""

from __future__ import annotations

import os
import random
from dataclasses import replace

import pytest

from planner.domain.problem import Problem
from planner.pipeline import PlannedRound, plan_round
from planner.solving.params import SolveParams
from tests.benchmark.rounds import generated_problem

PARAMS = SolveParams(effort="quick", wall_limit_s=300.0)


def _problem(seed: int) -> Problem:
    """Return one of the rounds: 3 to 5 patients, one or two collectors, every third one too short of time."""
    return generated_problem(seed, 3 + seed % 3, 1 + seed % 2, room=0.35 if seed % 3 == 0 else 1.0)


NUM_ROUNDS = int(os.environ.get("RANDOM_ROUNDS", "24"))
"""More are planned where the environment asks for them, without proofs: the checker must refuse none."""


@pytest.mark.skipif(NUM_ROUNDS <= 24, reason="RANDOM_ROUNDS does not ask for more than the 24 planned below")
def test_checker_refuses_none_of_many() -> None:
    params = replace(PARAMS, proves=False)
    for seed in range(24, NUM_ROUNDS):
        plan_round(_problem(seed), params)  # a refused plan raises


@pytest.fixture(scope="module")
def planned() -> dict[int, PlannedRound]:
    """Twenty-four rounds planned; a plan that the checker refuses would raise here."""
    return {seed: plan_round(_problem(seed), PARAMS) for seed in range(24)}


def test_checker_refuses_none(planned: dict[int, PlannedRound]) -> None:
    assert len(planned) == 24


def test_every_order_is_in_one_visit_or_unplanned(planned: dict[int, PlannedRound]) -> None:
    for seed, outcome in planned.items():
        plan = outcome.plan
        served = [o for route in plan.routes for visit in route.visits for o in visit.order_ids]
        listed = served + [u.order_id for u in plan.unplanned]
        assert sorted(listed) == [o.id for o in _problem(seed).orders], seed


def test_rounds_are_of_many_kinds(planned: dict[int, PlannedRound]) -> None:
    plans = [outcome.plan for outcome in planned.values()]
    assert sum(plan.goals[0].value > 0 for plan in plans) > 2
    assert sum(len(route.stops) > 0 for plan in plans for route in plan.routes) > 26


def test_bounds_are_not_above_values(planned: dict[int, PlannedRound]) -> None:
    assert all(g.bound <= g.value for outcome in planned.values() for g in outcome.plan.goals)


@pytest.mark.parametrize("seed", [4, 9, 14, 19])
def test_order_of_rows_changes_nothing(planned: dict[int, PlannedRound], seed: int) -> None:
    problem = _problem(seed)
    rng = random.Random(seed)

    def mixed(items):
        listed = list(items)
        rng.shuffle(listed)
        return listed

    shuffled = replace(
        problem,
        patients=dict(mixed(problem.patients.items())),
        places=dict(mixed(problem.places.items())),
        corridors=tuple(mixed(problem.corridors)),
    )
    assert plan_round(shuffled, PARAMS).plan == planned[seed].plan


@pytest.mark.parametrize("seed", [3, 9, 15])
def test_one_more_resource_leaves_no_more_out(seed: int) -> None:
    # Short rounds of twelve visits. Seed 15: with couriers in between, orders of weight 12 were left out, not 10.
    problem = generated_problem(seed, 12, 2, room=0.4, every_rule=True)
    params = SolveParams(effort="normal", wall_limit_s=300.0, proves=False)
    couriers = tuple(
        replace(p, departures_s=tuple(sorted({*p.departures_s, *(d + 1200 for d in p.departures_s)})))
        for p in problem.pickups
    )
    least = plan_round(problem, params).plan.goals[0].value
    assert least > 0
    for more in (
        replace(problem, pickups=couriers),
        replace(problem, staff=(*problem.staff, problem.staff[-1])),
        replace(problem, staff=tuple(replace(who, until_s=who.until_s + 1200) for who in problem.staff)),
    ):
        assert plan_round(more, params).plan.goals[0].value <= least


@pytest.mark.parametrize("seed", [0, 6, 10, 16])
def test_one_more_collector_worsens_no_proven_tier(seed: int) -> None:
    # A fair share is that of all who are there: the same routes are shared less fairly beside somebody more.
    problem = _problem(seed)
    policy = replace(problem.policy, prices=replace(problem.policy.prices, share=0))
    problem = replace(problem, policy=policy)
    helped = plan_round(replace(problem, staff=(*problem.staff, problem.staff[0])), PARAMS).plan
    before = plan_round(problem, PARAMS).plan
    for upto in range(1, len(before.goals) + 1):
        if not all(g.is_proven for g in (*before.goals[:upto], *helped.goals[:upto])):
            break
        assert [g.value for g in helped.goals[:upto]] <= [g.value for g in before.goals[:upto]]
    else:
        upto = len(before.goals)
    assert upto > 1  # at least the first tier was proven and compared
