"""What is worth saying of the visits of a plan: stats that a rule holds up, orders that share a draw or never do."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from planner.domain.merges import merges_of
from planner.domain.orders import Order
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.domain.two_samples import are_two_samples
from planner.findings import Finding, Severity
from planner.visits.notes import note_findings
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
    return [
        *_held_stats(problem, orders),
        *note_findings(problem, orders),
        *_merges(problem, plan),
        *_second_samples(problem, orders),
    ]


def _held_stats(problem: Problem, orders: list[Order]) -> Iterator[Finding]:
    """Yield a finding for each stat that its dose rule holds back: a person decides whether to draw at once."""
    clock = problem.clock
    for order in orders:
        if not is_stat(order) or not is_held(problem.test_of(order), order):
            continue
        for ends in dose_ends(problem, order):
            if ends.earliest_s is not None and ends.earliest_s > problem.begin_s:
                message = (
                    f"order {order.id}, bed {_bed(problem, order)}: stat {order.test} is held until "
                    f"{clock.format_clock(ends.earliest_s)}, because a level before that says nothing after the single "
                    f"dose on file. Decide: is that time certain? If not, or if taken over some time, draw at once"
                )
                yield Finding(code="stat-held", severity=Severity.WARNING, message=message, order_ids=(order.id,))


def _merges(problem: Problem, plan: Plan) -> Iterator[Finding]:
    for merge in merges_of(problem, plan):
        order = problem.order(merge.order_ids[0])
        message = (
            f"bed {_bed(problem, order)}: one draw of {merge.test} serves orders {', '.join(merge.order_ids)}; state a "
            "time in each order if two results are wanted"
        )
        yield Finding(code="orders-merged", severity=Severity.NOTE, message=message, order_ids=merge.order_ids)


def _second_samples(problem: Problem, orders: list[Order]) -> Iterator[Finding]:
    """Yield a finding for each pair of samples for the blood bank: two punctures, two identifications."""
    in_turn = sorted(orders, key=lambda order: (order.patient_id, order.test, order.id))
    for one, other in combinations(in_turn, 2):
        if one.patient_id == other.patient_id and are_two_samples(problem, one, other):
            message = (
                f"bed {_bed(problem, one)}: orders {one.id} and {other.id} are two samples for the blood bank, in "
                "two punctures, each after its own identification. Ask the blood bank whether another person must draw "
                "the second"
            )
            yield Finding(
                code="second-sample-planned", severity=Severity.WARNING, message=message, order_ids=(one.id, other.id)
            )


def _bed(problem: Problem, order: Order) -> str:
    return problem.place_name(problem.patient_of(order).bed)
