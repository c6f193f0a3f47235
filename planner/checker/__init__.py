"""The independent checker: recomputes a plan from its problem and the rule book, and says what does not agree.

It is written from planner/RULES.md and shares the nouns of the domain with the planner, but no arithmetic.
"""

from __future__ import annotations

from planner.checker import (
    accounting,
    container_rules,
    delivery_rules,
    draw_order_rules,
    order_rules,
    past_rules,
    route_rules,
    series_rules,
    visit_rules,
    window_rules,
)
from planner.checker.broken import Rule
from planner.checker.facts import Facts
from planner.checker.names import unknown_name
from planner.checker.shape import plan_shape
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.findings import Report

__all__ = ["PRELIMINARY_RULES", "RULES", "check_plan"]

PRELIMINARY_RULES = (plan_shape, unknown_name)
"""What must hold before anything can be computed: every value of its type, every name in the problem."""

RULES: tuple[Rule, ...] = (
    *order_rules.RULES,
    *window_rules.RULES,
    *visit_rules.RULES,
    *container_rules.RULES,
    *draw_order_rules.RULES,
    *route_rules.RULES,
    *delivery_rules.RULES,
    *series_rules.RULES,
    *past_rules.RULES,
    *accounting.RULES,
)
"""Every rule, one function each. The finding code of a rule is its function's name with hyphens."""


def check_plan(problem: Problem, plan: Plan, *, judges_goals: bool = True) -> Report:
    """Return what is wrong with a plan: one finding for each place at which a rule is broken.

    ``judges_goals``: False for a plan whose file is of a version with other goals; every other rule is asked.

    Nothing in the plan is trusted: times, volumes, tubes and goals are recomputed from the problem. When a value has
    the wrong type, or a name is not in the problem, those findings come back alone, because nothing can be computed
    from such a plan.
    """
    report = Report()
    for preliminary in PRELIMINARY_RULES:
        for broken in preliminary(problem, plan):
            broken.add_to(report, preliminary)
        if len(report):
            return report
    facts = Facts(problem, plan)
    for rule in RULES if judges_goals else (rule for rule in RULES if rule not in accounting.RULES):
        for broken in rule(facts):
            broken.add_to(report, rule)
    return report
