"""One change to a clean round yields exactly the code of the rule that it breaks, for every rule."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from planner.checker import PRELIMINARY_RULES, RULES, check_plan
from planner.checker.broken import code_of
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.finding_codes import CHECKER_CODES
from tests.unit.checker import order_changes, past_changes, route_changes, tube_changes
from tests.unit.checker.clean import PLAN, PROBLEM

CHANGES = [*order_changes.CHANGES.all, *tube_changes.CHANGES.all, *route_changes.CHANGES.all, *past_changes.CHANGES.all]
TO_DECIDE = {"second-sample-by-one-person"}
"""Rules of which a person decides: the plan stands, with a warning."""
ALL_RULES = (*PRELIMINARY_RULES, *RULES)


def test_hand_made_plan_keeps_every_rule() -> None:
    assert [str(finding) for finding in check_plan(PROBLEM, PLAN)] == []


@pytest.mark.parametrize(("code", "make"), [pytest.param(c, m, id=f"{c}: {says}") for c, says, m in CHANGES])
def test_one_change_yields_exactly_its_code(code: str, make: Callable[[], tuple[Problem, Plan]]) -> None:
    problem, plan = make()
    report = check_plan(problem, plan)
    assert set(report.codes()) == {code}, [str(finding) for finding in report]
    assert report.is_clean is (code in TO_DECIDE)


def test_every_rule_is_broken_by_some_change() -> None:
    assert {code_of(rule) for rule in ALL_RULES} == {code for code, _, _ in CHANGES}


def test_every_rule_has_one_code_and_every_code_a_rule() -> None:
    assert sorted(code_of(rule) for rule in ALL_RULES) == sorted(CHECKER_CODES)


def test_every_rule_says_what_it_asks() -> None:
    assert [rule.__name__ for rule in ALL_RULES if not (rule.__doc__ or "").strip()] == []


@pytest.mark.slow
def test_messages_name_nobody() -> None:
    for _, _, make in CHANGES:
        for finding in check_plan(*make()):
            assert not any(name in finding.message for name in ("Family", "Given", "Name "))
