"""Visits decided with the routes: one puncture where two gain nothing, some orders where all together have no room."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.orders import Precaution
from planner.domain.plan import Plan, Reason
from planner.domain.policy import Policy
from planner.pipeline import plan_round
from planner.prepared import OrderWindows, prepare_round, with_tubes
from planner.regrouping import Regrouping
from planner.scheduling import schedule
from planner.solving.params import SolveParams
from planner.visits.parts import with_parts
from tests.builders import clock, make_order, make_patient, make_phlebotomist, make_problem

PARAMS = SolveParams(effort="quick")


def visits(plan: Plan) -> list[tuple[str, ...]]:
    return [visit.order_ids for route in plan.routes for visit in route.visits]


def test_airborne_patient_is_not_punctured_twice_back_to_back() -> None:
    # 05:24 to 05:26 lies in both windows: once these were two visits, the gown put on twice.
    orders = [
        make_order("O1", collect_from_s=clock("05:20"), collect_to_s=clock("05:26")),
        make_order("O2", test="BMP", collect_from_s=clock("05:24"), collect_to_s=clock("05:50")),
    ]
    problem = make_problem(orders, [make_patient(precautions=frozenset({Precaution.AIRBORNE}))])
    assert visits(plan_round(problem, PARAMS).plan) == [("O1", "O2")]


@pytest.mark.slow
def test_split_that_no_longer_pays_is_undone() -> None:
    problem = make_problem([make_order("O1"), make_order("O2", test="BMP"), make_order("O3", "P2")])
    whole = prepare_round(problem, PARAMS)
    first = whole.requests[0]
    split = with_parts(whole.requests, first.id, [[order] for order in first.orders])
    other = with_tubes(problem, OrderWindows.of_round(problem), split, PARAMS)
    plan = schedule(problem, other.draws, PARAMS).plan
    assert len(visits(plan)) == 3
    regrouping = Regrouping(problem, PARAMS, other, plan)
    assert regrouping.run()
    assert sorted(visits(regrouping.plan)) == [("O1", "O2"), ("O3",)]


def test_draws_of_one_series_stay_apart() -> None:
    orders = [make_order(f"O{n}", test="TNT", series="T", collect_at_s=clock(f"05:{n}0")) for n in (2, 4)]
    assert len(visits(plan_round(make_problem(orders), PARAMS).plan)) == 2


@pytest.mark.slow
def test_visit_without_room_is_planned_in_part() -> None:
    # One visit takes 300 s. AB works 05:00 to 05:14: two visits and a hand-over fit, but P1 has an order that may be
    # drawn at 05:11 only, when P2's timed draw is due too. P1's other order has room before.
    at = {"collect_from_s": clock("05:09"), "collect_to_s": clock("05:09:30")}
    policy = replace(Policy(), windows=replace(Policy().windows, timed_give_up_s=0))
    orders = [
        make_order("O1", test="BMP"),
        make_order("O2", **at),
        make_order("O3", "P2", "BMP", **at),
        make_order("O4", "P2", "CBC", **at),
    ]
    problem = make_problem(orders, staff=[make_phlebotomist(until_s=clock("05:30"))], policy=policy)
    plan = plan_round(problem, PARAMS).plan
    assert {u.order_id: u.reason for u in plan.unplanned} == {"O2": Reason.NO_TIME}
    assert sorted(visits(plan)) == [("O1",), ("O3", "O4")]
