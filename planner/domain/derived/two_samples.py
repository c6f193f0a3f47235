"""Two samples of one patient for the blood bank: which orders ask for them, and who draws both.

A second sample is to catch wrong blood in the first tube: it is another puncture after another identification, and
many blood banks want another person for it (BSH guideline on pre-transfusion compatibility, 2012).
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from planner.domain.catalogue import Handling
from planner.domain.orders import Order
from planner.domain.plan import Plan, Visit
from planner.domain.problem import Problem
from planner.finding_codes import Code
from planner.findings import Finding, Severity

CODE: Code = "second-sample-by-one-person"


def are_two_samples(problem: Problem, one: Order, other: Order) -> bool:
    """Return whether two orders of one patient ask for two samples for the blood bank (rule ``second-sample``).

    Either for one transfusion test, or one of them for a test that is a second sample by its row (`SECOND_SAMPLE`).
    """
    handling = problem.test_of(one).handling, problem.test_of(other).handling
    if one.id == other.id or not all(Handling.STRICT_LABEL in codes for codes in handling):
        return False
    return one.test == other.test or any(Handling.SECOND_SAMPLE in codes for codes in handling)


def second_samples(problem: Problem, plan: Plan) -> Iterator[tuple[tuple[int, Visit], tuple[int, Visit]]]:
    """Yield each two visits that draw two samples of one patient, the earlier first, each with who makes it.

    Of two that were made nothing is said any more.
    """
    drawn = [
        (visit.patient_id, visit.draw_s, visit.draw_id, route.phlebotomist, visit, own)
        for route in plan.routes
        for visit in route.visits
        if (own := _for_blood_bank(problem, visit))
    ]
    for one, other in combinations(sorted(drawn, key=lambda entry: entry[:3]), 2):
        is_to_come = None in (one[4].outcome, other[4].outcome)
        if one[0] == other[0] and is_to_come and any(are_two_samples(problem, a, b) for a in one[5] for b in other[5]):
            yield one[3:5], other[3:5]


def _for_blood_bank(problem: Problem, visit: Visit) -> list[Order]:
    """Return the transfusion orders of a visit; one that is no longer in the round counts no more."""
    wanted = set(visit.order_ids)
    own = (order for order in problem.orders if order.id in wanted)
    return [order for order in own if Handling.STRICT_LABEL in problem.test_of(order).handling]


def two_sample_findings(problem: Problem, plan: Plan) -> list[Finding]:
    """Return a finding for each second sample by the person of the first, unless the policy allows that."""
    if problem.policy.transfusion.one_person_may_draw_both:
        return []
    return [
        _finding(problem, person, one, other)
        for (person, one), (second, other) in second_samples(problem, plan)
        if person == second
    ]


def _finding(problem: Problem, person: int, one: Visit, other: Visit) -> Finding:
    clock, who = problem.clock.format_clock, problem.staff[person].initials
    message = (
        f"bed {problem.place_name(other.place)}: {who} draws both samples for the blood bank, at {clock(one.draw_s)} "
        f"and {clock(other.draw_s)}. Send another person for the second, or decide that {who} may draw both; where the "
        "blood bank always allows it, set one_person_may_draw_both under [transfusion] in the policy"
    )
    ids = tuple(order.id for visit in (one, other) for order in _for_blood_bank(problem, visit))
    return Finding(code=CODE, severity=Severity.WARNING, message=message, order_ids=ids)
