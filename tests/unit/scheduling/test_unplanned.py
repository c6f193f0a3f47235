"""Why an order has no place in the round, from orders to the plan."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from planner.domain.orders import Order
from planner.domain.plan import Plan, Reason
from planner.domain.policy import Policy
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import clock, make_order, make_patient, make_phlebotomist, make_pickup, make_problem

PARAMS = SolveParams(effort="quick")


def planned(*orders: Order, **problem: Any) -> Plan:
    return plan_round(make_problem(orders, **problem), PARAMS).plan


def reasons(plan: Plan) -> dict[str, Reason]:
    return {u.order_id: u.reason for u in plan.unplanned}


def test_everything_has_a_place_in_a_plain_round() -> None:
    plan = planned(make_order("O1"), make_order("O2", "P2"))
    assert reasons(plan) == {}
    assert plan.goals[0].value == 0


def test_skill_that_nobody_has() -> None:
    plan = planned(make_order("O1"), patients=[make_patient(needs=frozenset({"child"}))])
    assert reasons(plan) == {"O1": Reason.NO_SKILL}


def test_stability_that_no_handover_can_keep() -> None:
    # On ice 30 min; the only courier leaves at 09:00, takes 40 min: 30 min cannot be kept whenever it is drawn.
    late = make_pickup(departures_s=(clock("09:00"),), transit_s=2400)
    plan = planned(make_order("O1", test="LACT"), pickups=[late])
    assert reasons(plan) == {"O1": Reason.NO_HANDOVER}


def test_two_timed_draws_at_once_leave_the_lighter_one_out() -> None:
    # Both start at 06:00 exactly (fasting end and stated begin), ten positions apart; one collector.
    at = {"collect_from_s": clock("06:02:15"), "collect_to_s": clock("06:02:15")}
    policy = replace(Policy(), windows=replace(Policy().windows, timed_give_up_s=0))
    plan = planned(
        make_order("O1", **at), make_order("O2", "P2", **at), make_order("O3", "P2", "BMP", **at), policy=policy
    )
    assert reasons(plan) == {"O1": Reason.NO_TIME}
    assert plan.goals[0].value == 10  # a timed order weighs 10


def test_window_that_nobody_reaches_in_a_shift() -> None:
    # AB is on from 05:00 to 05:20; CD, who could draw at 08:00, lacks the skill.
    staff = [
        make_phlebotomist("AB", until_s=clock("05:20"), skills=frozenset({"child"})),
        make_phlebotomist("CD", from_s=clock("07:00")),
    ]
    plan = planned(
        make_order("O1", collect_from_s=clock("08:00")),
        patients=[make_patient(needs=frozenset({"child"}))],
        staff=staff,
    )
    assert reasons(plan) == {"O1": Reason.NO_TIME}


def test_orders_are_listed_by_number_whatever_the_reason() -> None:
    plan = planned(
        make_order("O1", test="VANCT"),
        make_order("O2", "P2", collect_at_s=clock("12:00")),
        make_order("O3", "P3"),
        patients=[make_patient(), make_patient("P2", "B2"), make_patient("P3", "B3", needs=frozenset({"child"}))],
    )
    assert list(reasons(plan).items()) == [
        ("O1", Reason.DOSE_TIME_MISSING),
        ("O2", Reason.OTHER_ROUND),
        ("O3", Reason.NO_SKILL),
    ]
    # The trough counts 10, the order of another round nothing, the routine one 1.
    assert plan.goals[0].value == 11
