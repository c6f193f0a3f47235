"""An order of a series is explained after its draw too: its place among the draws stays what it was."""

from __future__ import annotations

import pytest

from planner.domain.orders import OrderId
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.explaining.reasons import Explained, explain
from planner.pipeline import plan_round
from planner.replanning.next_problem import next_problem
from planner.solving.params import Effort, SolveParams
from planner.visits.series import gap_before, gap_from_made, has_draw_before
from tests.builders import make_order, make_problem

PARAMS = SolveParams(effort=Effort.QUICK, proves=False)


@pytest.fixture(scope="module")
def all_drawn() -> tuple[Problem, Plan]:
    """A series of two draws, both made by the instant of the second revision, and an order of no series."""
    orders = [make_order(n, test="TNT", series="S") for n in ("O1", "O2")]
    problem = make_problem([*orders, make_order("O3", "P2")])
    plan = plan_round(problem, PARAMS).plan
    last_s = max(visit.depart_s for route in plan.routes for visit in route.visits)
    following = next_problem(problem, plan, parent=1, now_s=last_s + 60)
    assert not following.refused and not following.problem.open_orders
    return following.problem, plan_round(following.problem, PARAMS).plan


def explained(problem: Problem, plan: Plan, order_id: str) -> Explained:
    found = explain(problem, plan, OrderId(order_id))
    assert found is not None
    return found


@pytest.mark.slow
def test_each_draw_made_of_a_series_is_explained(all_drawn: tuple[Problem, Plan]) -> None:
    for order_id in ("O1", "O2", "O3"):
        made = explained(*all_drawn, order_id).made
        assert made is not None and OrderId(order_id) in made.visit.order_ids


@pytest.mark.slow
def test_draw_made_keeps_its_gap_from_the_one_before_it_and_none_from_itself(all_drawn: tuple[Problem, Plan]) -> None:
    problem, _plan = all_drawn
    (first_s, first), (second_s, second) = sorted((at_s, order) for order, at_s in problem.drawn_orders if order.series)
    assert not has_draw_before(problem, first)
    assert gap_before(problem, first) is None
    assert gap_from_made(problem, first) is None, "the draw itself and those behind it do not bind it"
    assert has_draw_before(problem, second)
    found = gap_from_made(problem, second)
    assert found is not None
    made_s, gap = found
    assert made_s == first_s
    # The plan kept the gap: by the rule the second was drawn where the explanation says it had to be.
    assert first_s + gap.least_s <= second_s <= first_s + gap.most_s


def test_order_that_the_round_does_not_know_is_a_plain_error(all_drawn: tuple[Problem, Plan]) -> None:
    problem, _plan = all_drawn
    with pytest.raises(ValueError, match="O9"):
        has_draw_before(problem, make_order("O9", test="TNT", series="S"))
