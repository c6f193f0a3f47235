"""Lists what a card asks to write down, as fields: by them a phone keeps the answers, and a replan reads them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.domain.catalogue import CountsFrom
from planner.domain.derived.samples import sample_of
from planner.domain.draws import Asked
from planner.domain.orders import Order, OrderId, Patient, Priority
from planner.exporters.view.cards.blood import blood_questions
from planner.exporters.view.context import ViewContext
from planner.exporters.view.stop_view import AnswerField

_SAID = {
    Asked.LAST_DOSE: "last dose at",
    Asked.DOSE_START: "infusion started at",
    Asked.RATE_CHANGE: "rate last changed at",
    Asked.INFUSION_END: "infusion ended at",
    Asked.NEXT_DOSE: "next dose at",
    Asked.PROTOCOL_STEP: "which sample of its protocol",
    Asked.LAST_MEAL: "last meal at",
    Asked.DRINK_GIVEN: "drink given at",
    Asked.INJECTION_GIVEN: "injection given at",
    Asked.FIRST_SAMPLE: "first sample drawn at",
    Asked.DRAWN_BEFORE: "blood drawn in the last 24 h, mL",
}
_OF_PATIENT = frozenset({Asked.LAST_MEAL, Asked.DRAWN_BEFORE})
"""What is asked once for all orders of a patient."""
_GIVEN = {CountsFrom.DRINK: Asked.DRINK_GIVEN, CountsFrom.INJECTION: Asked.INJECTION_GIVEN}


def answer_fields(context: ViewContext, patient: Patient, orders: Sequence[Order]) -> tuple[AnswerField, ...]:
    """Return the fields of a card; equal ones once, with all orders."""
    found: dict[tuple[Asked, str], list[OrderId]] = {}
    for order in orders:
        for asked in _asked(context, order):
            test = "" if asked in _OF_PATIENT else context.clean(order.test)
            found.setdefault((asked, test), []).append(order.id)
    if blood_questions(context, patient):
        found[Asked.DRAWN_BEFORE, ""] = [order.id for order in orders]
    return tuple(
        AnswerField(
            asked=asked,
            label=f"{test}: {_SAID[asked]}" if test else _SAID[asked][:1].upper() + _SAID[asked][1:],
            order_numbers=tuple(map(context.clean, ids)),
        )
        for (asked, test), ids in found.items()
    )


def _asked(context: ViewContext, order: Order) -> Iterator[Asked]:
    """Yield what is written down of one order: a meal only of a stat, as others ask whether the fast was kept."""
    window = context.windows.get(order.id)
    for question in window.questions if window is not None else ():
        is_stated = question.asked is Asked.NEXT_DOSE and question.on_file_s is not None
        if not is_stated and (question.asked is not Asked.LAST_MEAL or order.priority is Priority.STAT):
            yield question.asked
    sample = sample_of(context.problem, order)
    if sample is not None and sample.counts_from is not None:
        yield _GIVEN[sample.counts_from]
    elif sample is not None and sample.of > 1 and not sample.is_first:
        yield Asked.FIRST_SAMPLE
