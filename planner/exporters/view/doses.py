"""Asks about doses at the bed: the instant that a level counts from, and what to do when it is not as on file."""

from __future__ import annotations

from collections.abc import Sequence

from planner.domain.orders import Order
from planner.domain.questions import Asked, Question
from planner.exporters.view.context import ViewContext

_WHAT = {
    Asked.LAST_DOSE: "last dose when",
    Asked.DOSE_START: "infusion started when",
    Asked.RATE_CHANGE: "rate last changed when",
    Asked.INFUSION_END: "infusion ended when",
    Asked.NEXT_DOSE: "next dose when",
    Asked.PROTOCOL_STEP: "which sample of its protocol",
}
_DRAW_NOW = "STAT: draw now, whatever the answer."


def dose_questions(context: ViewContext, orders: Sequence[Order]) -> tuple[str, ...]:
    """Return one line for each order whose level counts from a dose; equal lines once.

    A stat is drawn whatever the answer is, except from a stated single ingestion.
    """
    lines: dict[str, None] = {}
    for order in orders:
        window = context.windows.get(order.id)
        questions = [q for q in window.questions if q.asked in _WHAT] if window is not None else []
        if questions:
            lines[_line(context, order, questions)] = None
    return tuple(lines)


def _line(context: ViewContext, order: Order, questions: Sequence[Question]) -> str:
    code = order.test
    asked = [q for q in questions if not (q.asked is Asked.NEXT_DOSE and q.on_file_s is not None)]
    text = f"{code}: {' '.join(_question(context, q) for q in asked)}".rstrip(": ")
    rule = context.problem.test_of(order).dose_rule
    decides = any(q.decides for q in questions)
    if rule is not None and rule.holds_stat and decides:
        return f"{text} Not sure, or taken over some time: draw now."
    if rule is not None and any(not q.decides for q in questions) and not decides:
        text += f" {_DRAW_NOW}"
    if order.next_dose_s is not None and decides:
        text += f"{'' if asked else ':'} Next dose, {context.clock(order.next_dose_s)}, only after the draw."
    elif any(q.asked is Asked.NEXT_DOSE for q in asked) and decides:
        text += f" Given already: no {code}, tell nurse."
    if rule is not None and decides and any(q.asked is Asked.INFUSION_END for q in questions):
        text += f" Ended later: not before {rule.from_s // 60} min after the end; if too long, tell nurse."
    return text


def _question(context: ViewContext, question: Question) -> str:
    known = f" (on file {context.clock(question.on_file_s)})" if question.on_file_s is not None else ""
    what = _WHAT[question.asked]
    return f"{what}{known}? Write: ____"
