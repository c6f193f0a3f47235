"""What is worth saying of the visits of a plan: where a rule holds up a stat."""

from __future__ import annotations

from collections.abc import Iterator

from planner.domain.orders import Order
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.findings import Finding, Severity
from planner.visits.window_rules import dose_ends, is_held, is_stat


def visit_findings(problem: Problem, plan: Plan) -> list[Finding]:
    """Return what a person should know or decide about the visits to come."""
    orders = [
        problem.order(order_id)
        for route in plan.routes
        for visit in route.visits
        if visit.outcome is None
        for order_id in visit.order_ids
    ]
    return list(_held_stats(problem, orders))


def _held_stats(problem: Problem, orders: list[Order]) -> Iterator[Finding]:
    """Yield a finding for each stat that its dose rule holds back: a person decides whether to draw at once."""
    clock = problem.clock
    for order in orders:
        if not is_stat(order) or not is_held(problem.test_of(order), order):
            continue
        for ends in dose_ends(problem, order):
            if ends.earliest_s is not None and ends.earliest_s > problem.begin_s:
                message = (
                    f"order {order.id}, bed {problem.patient_of(order).bed}: stat {order.test} is held until "
                    f"{clock.format_clock(ends.earliest_s)}, because a level before that says nothing after the single "
                    f"dose on file. Decide: is that time certain? If not, or if taken over some time, draw at once"
                )
                yield Finding(code="stat-held", severity=Severity.WARNING, message=message, order_ids=(order.id,))
