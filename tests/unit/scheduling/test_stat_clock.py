"""A stat is drawn before routine beds on the way to it, and its blood goes to the laboratory at once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.checker import check_plan
from planner.domain.goals import Part
from planner.domain.orders import OrderId, Priority
from planner.domain.plan import Handover, Plan, Route
from planner.domain.policy import Policy, WindowPolicy
from planner.domain.price_policy import PricePolicy
from planner.domain.problem import Problem
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from planner.visits.to_laboratory import dues_of_drawn_s
from tests.builders import clock, make_order, make_patient, make_phlebotomist, make_pickup, make_problem
from tests.three_wards import load_tables, three_ward_tables

pytestmark = pytest.mark.slow

PARAMS = SolveParams(effort="quick")


def planned(problem: Problem) -> Plan:
    plan = plan_round(problem, PARAMS).plan
    assert check_plan(problem, plan).is_clean
    return plan


def drawn_and_brought_s(plan: Plan, order_id: str) -> tuple[int, int]:
    """Return when an order is drawn, and when the last of its tubes is in the laboratory."""
    for route in plan.routes:
        for visit in route.visits:
            if order_id in visit.order_ids:
                return visit.draw_s, max(_brought_s(route, t.handover) for t in visit.tubes if t.handover is not None)
    raise LookupError(order_id)


def _brought_s(route: Route, position: int) -> int:
    stop = route.stops[position]
    assert isinstance(stop, Handover)
    return stop.lab_arrival_s


def order_of_draws(plan: Plan) -> list[str]:
    return [order_id for route in plan.routes for visit in route.visits for order_id in visit.order_ids]


def beds_on_the_way(policy: Policy) -> Problem:
    """A stat at the far end of the corridor, beside the pickups; routine beds lie on the way there."""
    stat = make_order("S", "P4", "CBC", priority=Priority.STAT)
    return make_problem([*(make_order(f"O{n}", f"P{n}", "CBC") for n in (1, 2, 3)), stat], policy=policy)


def test_stat_is_drawn_and_brought_before_a_routine_bed_on_the_way() -> None:
    # Its target is 05:15: two routine beds of five minutes fit in before. B4 is 40 s from the base, 135 s of lead.
    plan = planned(beds_on_the_way(Policy()))
    draw_s, brought_s = drawn_and_brought_s(plan, "S")
    assert draw_s == clock("05:00") + 40 + 135
    assert brought_s - draw_s <= Policy().windows.stat_to_lab_s
    assert (plan.part(Part.STAT_TO_LAB).value, plan.part(Part.STAT_WAIT).value) == (0, 0)


def test_what_puts_the_stat_first_are_its_two_prices() -> None:
    # Without them it stands behind beds on the way: the walk is shorter, and 05:15 is kept.
    plan = planned(beds_on_the_way(Policy(prices=PricePolicy(to_lab=0, stat_wait_pct=0))))
    assert plan.part(Part.LATE).value == 0
    assert order_of_draws(plan)[0] != "S"


def test_stat_that_waits_for_a_courier_is_drawn_first_all_the_same() -> None:
    # All goes at 06:00. Counted from the draw, one made at 05:14 would be nearer to the laboratory than one at 05:02.
    problem = replace(beds_on_the_way(Policy()), pickups=(make_pickup(),))
    plan = planned(problem)
    draw_s, brought_s = drawn_and_brought_s(plan, "S")
    first_s = clock("05:00") + 40 + 135
    assert (draw_s, brought_s) == (first_s, clock("06:10"))
    assert plan.part(Part.STAT_TO_LAB).value == 10 * (clock("06:10") - first_s - 600)


def test_stat_of_a_stated_time_is_not_pulled_before_it() -> None:
    orders = [
        make_order("S", "P4", "CBC", priority=Priority.STAT, collect_at_s=clock("05:40")),
        *(make_order(f"O{n}", f"P{n}", "CBC") for n in (1, 2, 3)),
    ]
    plan = planned(make_problem(orders))
    assert plan.part(Part.STAT_TO_LAB).value == 0
    assert order_of_draws(plan)[-1] == "S"


@pytest.mark.parametrize("number", ["H0101", "K0201", "R0301"])
def test_stat_goes_first_on_each_of_three_wards_with_beds_of_one_name(number: str, tmp_path: Path) -> None:
    # One of the three people goes straight to it; another one to the stat that is there anyhow.
    tables = three_ward_tables()
    patient = tables["patients"][[row["patient_number"] for row in tables["patients"]].index(number)]
    stat = {"order_number": "S", "patient_number": patient["patient_number"], "test": "POT", "priority": "stat"}
    tables["orders"].append(stat)
    problem = load_tables(tables, tmp_path)
    plan = planned(problem)
    first = [route.visits[0].order_ids for route in plan.routes if route.visits]
    assert sum("S" in order_ids for order_ids in first) == 1
    assert plan.part(Part.STAT_WAIT).value == 0


def test_asap_may_wait_until_its_target_and_then_be_on_its_way() -> None:
    # Target 06:00, 30 min on the way: 06:30. The only courier brings it in at 06:10, or, from 06:40 on, 20 min late.
    def past(departs: str) -> int:
        asap = make_order("A", "P1", "CBC", priority=Priority.ASAP)
        return (
            planned(make_problem([asap], pickups=[make_pickup(departures_s=(clock(departs),))]))
            .part(Part.STAT_TO_LAB)
            .value
        )

    assert (past("06:00"), past("06:40")) == (0, 4 * 20 * 60)


def test_what_is_drawn_already_counts_from_its_draw() -> None:
    policy = Policy(windows=WindowPolicy(stat_to_lab_s=300, asap_to_lab_s=900))
    orders = tuple(
        make_order(priority.value, "P1", priority=priority)
        for priority in (Priority.STAT, Priority.ASAP, Priority.ROUTINE)
    )
    assert dues_of_drawn_s(policy, orders, 1000) == {OrderId("stat"): 1300, OrderId("asap"): 1900}


def test_second_person_makes_no_stat_wait() -> None:
    # Two stats at the two ends of the corridor, two people: each draws one at once.
    orders = [
        make_order("S", "P1", "CBC", priority=Priority.STAT),
        make_order("T", "P30", "CBC", priority=Priority.STAT),
    ]
    patients = [make_patient("P1", "B1"), make_patient("P30", "B30")]
    problem = make_problem(orders, patients, staff=[make_phlebotomist("AB"), make_phlebotomist("CD")])
    assert planned(problem).part(Part.STAT_WAIT).value == 0
