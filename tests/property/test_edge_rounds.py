"""Rounds that stress what is rare: the checker passes every plan, no order is lost, every reason is true."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import pytest

from planner.domain.plan import Plan, Reason, Unplanned
from planner.domain.problem import Problem
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.property.edge_rounds import edge_round

PARAMS = SolveParams(effort="quick", wall_limit_s=300.0, proves=False)

NUM_ROUNDS = int(os.environ.get("EDGE_ROUNDS", "24"))
"""The deep sweep asks for 300."""

VERIFIED = (Reason.NO_HANDOVER, Reason.NO_SKILL, Reason.TRAY_TOO_SMALL)
"""Reasons that speak of the order alone: no plan of the order alone draws it."""


@pytest.fixture(scope="module")
def planned() -> dict[int, tuple[Problem, Plan]]:
    """Return the rounds with their plans; a plan that the checker refuses would raise here."""
    rounds = {seed: edge_round(seed) for seed in range(NUM_ROUNDS)}
    return {seed: (problem, plan_round(problem, PARAMS).plan) for seed, problem in rounds.items()}


def test_no_order_is_unaccounted_for(planned: dict[int, tuple[Problem, Plan]]) -> None:
    for seed, (problem, plan) in planned.items():
        served = [o for route in plan.routes for visit in route.visits for o in visit.order_ids]
        listed = Counter([*served, *(u.order_id for u in plan.unplanned)])
        assert listed == Counter(order.id for order in problem.orders), seed


def test_reason_that_speaks_of_the_order_alone_holds_for_it_alone(planned: dict[int, tuple[Problem, Plan]]) -> None:
    for seed, problem, entry in _spoken_of(planned):
        alone = replace(problem, orders=tuple(o for o in problem.orders if o.id == entry.order_id))
        again = plan_round(alone, PARAMS).plan
        assert [u.order_id for u in again.unplanned] == [entry.order_id], (seed, entry)


def test_rounds_hold_what_they_are_made_for(planned: dict[int, tuple[Problem, Plan]]) -> None:
    problems = [problem for problem, _plan in planned.values()]
    reasons = Counter(u.reason for _problem, plan in planned.values() for u in plan.unplanned)
    assert reasons[Reason.BLOOD_LIMIT]
    assert any(reasons[reason] for reason in VERIFIED)
    assert sum(bool(plan.routes) for _problem, plan in planned.values()) == len(problems)
    assert {problem.start_s // 3600 for problem in problems} >= {5, 13, 22}
    assert any(len({p.ward for p in problem.patients.values()}) > 1 for problem in problems)


def _spoken_of(planned: dict[int, tuple[Problem, Plan]]) -> Iterator[tuple[int, Problem, Unplanned]]:
    for seed, (problem, plan) in planned.items():
        for entry in plan.unplanned:
            is_shift = entry.reason is Reason.NO_TIME and "within the shift" in entry.detail
            if entry.reason in VERIFIED or is_shift:
                yield seed, problem, entry
