"""A round from 22:00 to 06:00: clock times that lie over 12 h before it are those of the next day."""

from __future__ import annotations

import pytest

from planner.checker.facts import Facts
from planner.checker.windows import clock_span, fasting_span
from planner.domain.catalogue import ClockRule
from planner.domain.draws import OrderWindow
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.visits.windows import window_of
from tests.builders import clock, make_catalogue, make_order, make_patient, make_phlebotomist, make_problem, make_test

H = 3600


def night(**test: object) -> Problem:
    return make_problem(
        [make_order(test="X", fasting=True)],
        [make_patient()],
        catalogue=make_catalogue(extra_tests=[make_test("X", **test)]),
        staff=[make_phlebotomist(from_s=clock("22:00"), until_s=30 * H)],
    )


def facts(problem: Problem) -> Facts:
    from tests.unit.checker.clean import PLAN

    empty = Plan(routes=(), unplanned=(), goals=PLAN.goals)
    return Facts(problem, empty)


def test_breakfast_is_the_next_mornings() -> None:
    problem = night()
    found = window_of(problem, problem.orders[0])
    assert isinstance(found, OrderWindow)
    # breakfast at 08:00 of the next day lies after the round, which ends at 06:00
    assert (found.latest.at_s, found.latest.rule) == (30 * H, "round")
    assert fasting_span(facts(problem), problem.orders[0]).latest_s == 32 * H


@pytest.mark.parametrize(
    ("from_text", "to_text", "expected_h"),
    [("02:00", "04:00", (26, 28)), ("22:30", "23:30", (22.5, 23.5)), ("08:00", "23:00", (8, 23))],
)
def test_clock_rule_after_midnight_is_the_next_days(
    from_text: str, to_text: str, expected_h: tuple[float, float]
) -> None:
    rule = ClockRule(from_s=clock(from_text), to_s=clock(to_text), is_required=True)
    problem = night(clock_rule=rule)
    found = window_of(problem, problem.orders[0])
    assert isinstance(found, OrderWindow)
    from_s, to_s = (h * H for h in expected_h)
    assert (found.earliest.at_s, found.latest.at_s) == (max(from_s, 22 * H), to_s)
    span = clock_span(facts(problem), rule)
    assert (span.earliest_s, span.latest_s) == (from_s, to_s)
