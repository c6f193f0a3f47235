"""The goals are recomputed as the rule book defines them: each figure here is worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.checker import accounting
from planner.checker.facts import Facts
from planner.checker.windows import target_s
from planner.domain.catalogue import DoseRule
from planner.domain.orders import Priority
from planner.domain.plan import Plan, Route
from planner.domain.policy import Policy, RoundPolicy
from planner.domain.problem import Problem
from tests.builders import clock
from tests.unit.checker.clean import PLAN, PROBLEM, with_order, with_patient, with_test


def late(problem: Problem) -> int:
    return accounting.late(Facts(problem, PLAN))


@pytest.mark.parametrize(
    ("changes", "weight"),
    [
        ({}, 1),
        ({"priority": Priority.STAT}, 100),
        ({"priority": Priority.ASAP}, 30),
        ({"priority": Priority.URGENT}, 20),
        ({"collect_at_s": clock("06:00")}, 10),
        ({"collect_to_s": clock("06:00"), "priority": Priority.URGENT}, 20),
    ],
)
def test_order_left_out_weighs_by_priority_and_at_least_ten_when_timed(changes: dict, weight: int) -> None:
    assert accounting.uncollected(Facts(with_order("O8", **changes), PLAN)) == weight


def test_order_with_a_dose_rule_left_out_weighs_at_least_ten() -> None:
    problem = with_test("CORTAM", dose_rule=DoseRule(kind="trough"))
    assert accounting.uncollected(Facts(problem, PLAN)) == 10


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        # O2 is drawn at 18 455. Stat: target 18 000 + 900 = 18 900, met.
        ({"priority": Priority.STAT}, 0),
        # Ordered 05:00 exactly or before counts from the begin of the round; at 05:01, 18 060 + 900: met too.
        ({"priority": Priority.STAT, "ordered_s": 18_060}, 0),
        # Asked for until 05:05 = 18 300: 155 s late; routine weight 1, but timed: 2.
        ({"collect_to_s": 18_300}, 310),
        # The same and asap: weight 4; no priority target, because the order is timed.
        ({"collect_to_s": 18_300, "priority": Priority.ASAP}, 620),
        # At 04:30 = 16 200 with half an hour: 18 000, 455 s late, twice.
        ({"collect_at_s": 16_200}, 910),
        # One of a series: a quarter of an hour, 17 100: 1 355 s late, twice.
        ({"collect_at_s": 16_200, "series": "S"}, 2710),
        # Instant 04:30 and until 04:50 = 17 400: the smaller target, 1 055 s late, twice.
        ({"collect_at_s": 16_200, "collect_to_s": 17_400}, 2110),
    ],
)
def test_lateness_is_seconds_past_the_smallest_target_times_weight(changes: dict, expected: int) -> None:
    assert late(with_order("O2", **changes)) == expected


def test_stat_draw_late_by_a_second_costs_ten() -> None:
    """O7 is drawn at 19 135. Ordered at 05:03:54 = 18 234: target 19 134."""
    assert late(with_order("O7", priority=Priority.STAT, ordered_s=18_234)) == 10
    assert late(with_order("O7", priority=Priority.STAT, ordered_s=18_235)) == 0


def test_routine_order_without_a_time_has_no_target() -> None:
    assert target_s(Facts(PROBLEM, PLAN), PROBLEM.order("O1")) is None


@pytest.mark.parametrize(
    ("needed_by", "expected"),
    [
        ({}, 0),
        # Everything arrives at 22 200; ten orders less the one left out are nine.
        ({"*": 22_199}, 9),
        ({"*": 22_200}, 0),
        ({"W": 22_190}, 90),
        ({"W": 22_200, "*": 0}, 0),
        ({"OTHER": 0}, 0),
    ],
)
def test_delivery_counts_every_order_past_the_wards_need(needed_by: dict[str, int], expected: int) -> None:
    problem = replace(PROBLEM, policy=Policy(round=RoundPolicy(needed_by_s=needed_by)))
    assert accounting.delivery(Facts(problem, PLAN)) == expected


def test_delivery_is_weighed_by_priority_alone() -> None:
    """Asap weighs 4; a timed routine order weighs 1 here, not 2: 9 orders, one of them 4."""
    policy = Policy(round=RoundPolicy(needed_by_s={"*": 22_199}))
    problem = with_order("O2", with_order("O1", replace(PROBLEM, policy=policy), collect_to_s=20_000))
    problem = with_order("O2", problem, priority=Priority.ASAP)
    assert accounting.delivery(Facts(problem, PLAN)) == 12


def test_patient_on_a_ward_without_need_counts_nothing() -> None:
    policy = Policy(round=RoundPolicy(needed_by_s={"W": 22_199}))
    problem = with_patient("P2", replace(PROBLEM, policy=policy), ward="X")
    # O2 and O3 are P2's.
    assert accounting.delivery(Facts(problem, PLAN)) == 7


def test_empty_plan_has_nothing_but_its_uncollected_weight() -> None:
    facts = Facts(PROBLEM, Plan(routes=(Route(phlebotomist=0, stops=()),), unplanned=(), goals=()))
    assert [compute(facts) for _, _, compute in accounting.GOALS] == [10, 0, 0, 0, 0, 0, 0, 0, 0]


def test_goal_names_are_those_of_the_rule_book() -> None:
    names = ["uncollected", "late", "punctures", "delivery", "changes", "precautions", "arrival", "time", "finish"]
    assert [name for name, _, _ in accounting.GOALS] == names
