"""What is asked at the bed about one order: the instants from which its rules count, and what a stat goes without."""

from __future__ import annotations

from collections.abc import Iterator

from planner.domain.catalogue import DoseKind, Handling, LabTest
from planner.domain.doses import dose_base_s
from planner.domain.draws import Asked, Question
from planner.domain.orders import Order
from planner.domain.problem import Problem
from planner.visits.window_rules import is_held, is_stat, must_fast

_COUNTS_FROM = {
    DoseKind.TROUGH: Asked.NEXT_DOSE,
    DoseKind.POST_DOSE: Asked.LAST_DOSE,
    DoseKind.POST_START: Asked.DOSE_START,
    DoseKind.POST_CHANGE: Asked.RATE_CHANGE,
    DoseKind.POST_END: Asked.INFUSION_END,
    DoseKind.PROTOCOL: Asked.PROTOCOL_STEP,
}
"""What each kind of dose rule counts from."""


def questions_of(problem: Problem, order: Order) -> tuple[Question, ...]:
    """Return the questions about an order, the dose first.

    No answer stops a stat, save where its rule holds it from a stated dose (`DoseRule.holds_stat`).
    """
    test = problem.test_of(order)
    return (*_about_dose(test, order), *_about_meal(problem, test, order))


def _about_dose(test: LabTest, order: Order) -> Iterator[Question]:
    rule = test.dose_rule
    asked = None if rule is None else _COUNTS_FROM[rule.kind]
    if rule is not None and asked is not None and not (asked is Asked.PROTOCOL_STEP and order.is_timed):
        yield Question(
            asked=asked,
            order_id=order.id,
            on_file_s=dose_base_s(order, rule.kind),
            decides=is_held(test, order),
        )
    if Handling.RECORD_DOSE in test.handling and asked is not Asked.LAST_DOSE:
        yield Question(asked=Asked.LAST_DOSE, order_id=order.id, on_file_s=order.last_dose_s, decides=False)


def _about_meal(problem: Problem, test: LabTest, order: Order) -> Iterator[Question]:
    is_required = must_fast(test, order)
    if is_required or (test.fasting_s and order.fasting is not False):
        yield Question(
            asked=Asked.LAST_MEAL,
            order_id=order.id,
            on_file_s=problem.patient_of(order).last_ate_s,
            decides=is_required and not is_stat(order),
        )
