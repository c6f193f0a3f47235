"""What is said of the visits of a plan."""

from __future__ import annotations

from typing import Any

from planner.cli.reading import asks_for_person
from planner.domain.catalogue import DoseRule
from planner.domain.orders import Priority
from planner.pipeline import PlannedRound, plan_round
from planner.solving.params import SolveParams
from tests.builders import clock, make_catalogue, make_order, make_problem, make_test

HELD = DoseRule(kind="post_dose", from_s=4 * 3600, holds_stat=True)


def planned(**order: Any) -> PlannedRound:
    """Return the round of one order for the test X, which is held for four hours from a stated dose."""
    problem = make_problem(
        [make_order(test="X", **order)], catalogue=make_catalogue(extra_tests=[make_test("X", dose_rule=HELD)])
    )
    return plan_round(problem, SolveParams(effort="quick"))


def test_stat_that_its_rule_holds_needs_a_decision() -> None:
    outcome = planned(priority=Priority.STAT, last_dose_s=clock("02:00"))
    (finding,) = [f for f in outcome.findings if f.code == "stat-held"]
    assert "06:00" in finding.message
    assert finding.order_ids == ("O1",)
    assert asks_for_person(outcome.plan.unplanned, outcome.findings)


def test_nothing_is_said_of_a_stat_that_is_not_held() -> None:
    for order in (
        {"priority": Priority.STAT},  # no time is stated: drawn now
        {"priority": Priority.STAT, "last_dose_s": clock("00:30")},  # the four hours are over
        {"priority": Priority.ROUTINE, "last_dose_s": clock("02:00")},
    ):
        outcome = planned(**order)
        assert "stat-held" not in [f.code for f in outcome.findings]
        assert not asks_for_person(outcome.plan.unplanned, outcome.findings)
