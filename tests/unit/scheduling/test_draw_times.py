"""Parts ``last-minutes`` and ``off-time``: draws stay clear of a hard end, and come near to what is wished for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.checker import check_plan
from planner.domain.goals import Part
from planner.domain.orders import Order, Priority
from planner.domain.plan import Plan
from planner.domain.policy import Policy
from planner.domain.price_policy import PricePolicy
from planner.domain.problem import Problem
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import clock, make_order, make_patient, make_problem

pytestmark = pytest.mark.slow

PARAMS = SolveParams(effort="quick")
NO_PULL = Policy(prices=PricePolicy(last_minutes_pct=0, off_time_pct=0))
LEAD_S = 135
"""Identify and prepare."""


def planned(problem: Problem) -> Plan:
    plan = plan_round(problem, PARAMS).plan
    assert check_plan(problem, plan).is_clean
    assert plan.unplanned == ()
    return plan


def draw_s(plan: Plan, order_id: str) -> int:
    (found,) = [v.draw_s for route in plan.routes for v in route.visits if order_id in v.order_ids]
    return found


def value(plan: Plan, part: Part) -> int:
    return plan.part(part).value


def with_trough(next_dose: str, policy: Policy | None = None) -> Problem:
    """A trough in the third bed of the way; the usual order of beds draws it at 05:12:45."""
    orders = [make_order(f"O{n}", f"P{n}") for n in (1, 2, 4)]
    trough = make_order("T", "P3", "VANCT", next_dose_s=clock(next_dose))
    return make_problem([*orders, trough], policy=policy or Policy())


def test_trough_is_not_drawn_in_the_last_minutes_where_an_order_of_beds_avoids_it() -> None:
    # From 04:45 to 05:15; the last ten minutes begin at 05:05.
    assert clock("05:15") - draw_s(planned(with_trough("05:15", NO_PULL)), "T") < 180
    plan = planned(with_trough("05:15"))
    assert draw_s(plan, "T") == clock("05:00") + 30 + LEAD_S
    assert value(plan, Part.LAST_MINUTES) == 0


def test_last_minutes_count_by_the_second_and_only_the_last() -> None:
    problem = with_trough("05:15", NO_PULL)
    priced = replace(problem, policy=Policy())
    plan = planned(problem)
    past_s = draw_s(plan, "T") - clock("05:05")
    assert past_s > 0
    assert value(plan, Part.LAST_MINUTES) == past_s
    found = check_plan(priced, plan)  # the same seconds at another price
    assert set(found.codes()) == {"goal-value"}


def test_span_shorter_than_the_last_minutes_counts_from_its_begin() -> None:
    # collect_from and collect_to bind a dose-ruled draw hard: 05:10 to 05:14. A wait of 70 s is the soonest.
    order = make_order(
        "T", "P1", "VANCT", collect_from_s=clock("05:10"), collect_to_s=clock("05:14"), next_dose_s=clock("05:20")
    )
    plan = planned(make_problem([order]))
    assert draw_s(plan, "T") == clock("05:10")
    assert value(plan, Part.LAST_MINUTES) == 0


def stated(policy: Policy | None = None, **changes: object) -> Problem:
    """Six beds in a row; the first states 05:25."""
    orders: list[Order] = [make_order(f"O{n}", f"P{n}") for n in range(2, 7)]
    first = replace(make_order("O1", collect_at_s=clock("05:25")), **changes)
    return make_problem([first, *orders], policy=policy or Policy())


def test_stated_time_pulls_within_its_tolerance() -> None:
    # 04:55 to 05:55 is on time; the usual order draws it first, 23 minutes too early.
    early_s = clock("05:25") - draw_s(planned(stated(NO_PULL)), "O1")
    plan = planned(stated())
    off_s = abs(clock("05:25") - draw_s(plan, "O1"))
    assert early_s > 20 * 60
    assert off_s < 5 * 60
    assert value(plan, Part.OFF_TIME) == off_s


def test_stat_wishes_for_no_later_time() -> None:
    plan = planned(stated(priority=Priority.STAT))
    assert value(plan, Part.OFF_TIME) == 0
    assert draw_s(plan, "O1") < clock("05:05")


def fasted(last_ate: str, policy: Policy | None = None, next_meal: str = "08:00") -> Problem:
    """Six beds; the test of the first prefers a fast of twelve hours."""
    ate = make_patient("P1", "B1", last_ate_s=clock(last_ate) - 86_400, next_meal_s=clock(next_meal))
    others = [make_patient(f"P{n}", f"B{n}") for n in range(2, 7)]
    orders = [make_order("O1", test="LIPID"), *(make_order(f"O{n}", f"P{n}") for n in range(2, 7))]
    return make_problem(orders, [ate, *others], policy=policy or Policy())


def test_fast_that_becomes_whole_later_in_the_round_is_waited_for_by_the_order_of_beds() -> None:
    # Whole at 05:12: asked at 05:02 the answer is sure to be no.
    before, after = planned(fasted("17:12", NO_PULL)), planned(fasted("17:12"))
    assert draw_s(before, "O1") < clock("05:12") <= draw_s(after, "O1")
    assert [rule for _order, rule in before.preferences_missed] == ["fasting"]
    assert after.preferences_missed == ()
    assert value(after, Part.OFF_TIME) == 0


@pytest.mark.parametrize(("last_ate", "next_meal"), [("23:30", "12:00"), ("20:00", "07:30")])
def test_fast_that_the_round_cannot_meet_pulls_nowhere(last_ate: str, next_meal: str) -> None:
    """Whole at 11:30, after everybody has gone; and at 08:00, after the meal."""
    plan = planned(fasted(last_ate, next_meal=next_meal))
    assert value(plan, Part.OFF_TIME) == 0
    assert draw_s(plan, "O1") == draw_s(planned(fasted(last_ate, NO_PULL, next_meal)), "O1")


def test_equal_wishes_of_one_visit_count_once() -> None:
    problem = fasted("18:00")
    twice = make_problem([*problem.orders, make_order("O9", test="LIPID")], problem.patients.values())
    alone = replace(problem, orders=problem.orders[:1])
    twins = replace(twice, orders=tuple(o for o in twice.orders if o.patient_id == "P1"))
    assert value(planned(alone), Part.OFF_TIME) == value(planned(twins), Part.OFF_TIME) > 0
