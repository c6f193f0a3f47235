"""A level that no time before the next dose suits: the checker lets nobody leave it to another round, or draw it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.checker import check_plan
from planner.domain.catalogue import DoseRule
from planner.domain.plan import Reason
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import clock, make_catalogue, make_order, make_patient, make_problem, make_test

POST_6H = DoseRule(kind="post_dose", from_s=6 * 3600)
TROUGH = DoseRule(kind="trough", to_s=1800)


@pytest.mark.parametrize(
    ("times", "rule"),
    [
        ({"last_dose_s": clock("04:00"), "next_dose_s": clock("05:30")}, POST_6H),
        ({"collect_at_s": clock("10:00"), "next_dose_s": clock("09:45")}, TROUGH),
    ],
)
def test_checker_refuses_to_leave_it_to_another_round(times: dict[str, int], rule: DoseRule) -> None:
    catalogue = make_catalogue(extra_tests=[make_test("X", dose_rule=rule)])
    problem = make_problem([make_order(test="X", **times)], [make_patient()], catalogue=catalogue)
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    assert [u.reason for u in plan.unplanned] == [Reason.NO_COMMON_WINDOW]
    assert list(check_plan(problem, plan)) == []
    left = replace(plan, unplanned=(replace(plan.unplanned[0], reason=Reason.OTHER_ROUND),))
    assert "other-round" in {finding.code for finding in check_plan(problem, left)}


def test_checker_refuses_a_trough_asked_for_after_the_dose() -> None:
    catalogue = make_catalogue(extra_tests=[make_test("X", dose_rule=TROUGH)])
    order = make_order(test="X", collect_at_s=clock("06:00"), next_dose_s=clock("06:05"))
    problem = make_problem([order], [make_patient()], catalogue=catalogue)
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    assert "window-dose" not in {finding.code for finding in check_plan(problem, plan)}
    wrong = replace(problem, orders=(replace(order, next_dose_s=clock("06:00")),))
    broken = [finding.message for finding in check_plan(wrong, plan) if finding.code == "window-dose"]
    assert any("no time before its next dose is valid" in message for message in broken)
