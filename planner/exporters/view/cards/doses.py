"""Asks about doses at the bed: the instant that a level counts from, and what to do when it is not as on file."""

from __future__ import annotations

from collections.abc import Sequence

from planner.domain.catalogue import DoseRule
from planner.domain.draws import Asked, Question
from planner.domain.orders import Order
from planner.domain.plan import Visit
from planner.exporters.view.context import ViewContext
from planner.units import SECONDS_PER_MINUTE

_WHAT = {
    Asked.LAST_DOSE: "last dose when",
    Asked.DOSE_START: "infusion started when",
    Asked.RATE_CHANGE: "rate last changed when",
    Asked.INFUSION_END: "infusion ended when",
    Asked.NEXT_DOSE: "next dose when",
    Asked.PROTOCOL_STEP: "which sample of its protocol",
}
_DRAW_NOW = "STAT: draw now, whatever the answer."
_BEFORE = (Asked.LAST_DOSE, Asked.DOSE_START, Asked.RATE_CHANGE)
"""What lies so long before the draw as the rule says."""


def dose_questions(context: ViewContext, visit: Visit, orders: Sequence[Order]) -> tuple[str, ...]:
    """Return one line for each order whose level counts from a dose; equal lines once.

    A stat is drawn whatever the answer is, except from a stated single ingestion.
    """
    lines: dict[str, None] = {}
    for order in orders:
        window = context.windows.get(order.id)
        questions = [q for q in window.questions if q.asked in _WHAT] if window is not None else []
        if questions:
            lines[_line(context, visit, order, questions)] = None
    return tuple(lines)


def _line(context: ViewContext, visit: Visit, order: Order, questions: Sequence[Question]) -> str:
    code = context.clean(order.called)
    not_drawn = f"do not draw {code}, phone the ward"  # other tests of the bed, and of its tube, are drawn
    asked = [q for q in questions if not (q.asked is Asked.NEXT_DOSE and q.on_file_s is not None)]
    text = f"{code}: {' '.join(_question(context, q) for q in asked)}".rstrip(": ")
    rule = context.problem.test_of(order).dose_rule
    if rule is None:
        return text
    decides = any(q.decides for q in questions)
    limits = _limits(context, visit, rule) if any(q.decides and q.asked in _BEFORE for q in questions) else ""
    if rule.holds_stat and decides:
        wait = f" {limits}: phone the ward before you draw." if limits else ""
        return f"{text}{wait} Not sure, or taken over some time: draw now."
    if limits:
        text += f" {limits}: {not_drawn}."
    if any(not q.decides for q in questions) and not decides:
        text += f" {_DRAW_NOW}"
    if decides and (last := next((q for q in questions if q.asked is Asked.LAST_DOSE and not q.decides), None)):
        since = "Just given" if last.on_file_s is None else f"Later than {context.clock(last.on_file_s)}"
        text += f" {since}: {not_drawn}."  # a level so soon after a dose is no trough
    if order.next_dose_s is not None and decides:
        text += f"{'' if asked else ':'} Next dose, {context.clock(order.next_dose_s)}, only after the draw"
        text += f"; given already: {not_drawn}."
    elif any(q.asked is Asked.NEXT_DOSE for q in asked) and decides:
        text += f" Given already: {not_drawn}."
    if decides and any(q.asked is Asked.INFUSION_END for q in questions):
        text += f" Ended later: not before {rule.from_s // 60} min after the end; if too long, {not_drawn}."
    return text


def _limits(context: ViewContext, visit: Visit, rule: DoseRule) -> str:
    """Return between which times a dose must have been given for the planned draw: 'Later than 04:30 or before 03:00'.

    Whole minutes, rounded to the safe side; empty where any time will do.
    """
    late_s = (visit.draw_s - rule.from_s) // SECONDS_PER_MINUTE * SECONDS_PER_MINUTE
    limits = [f"later than {context.clock(late_s)}"] if rule.from_s else []
    if rule.to_s is not None:
        early_s = -(-(visit.draw_s - rule.to_s) // SECONDS_PER_MINUTE) * SECONDS_PER_MINUTE
        limits.append(f"before {context.clock(early_s)}")
    words = " or ".join(limits)
    return words[:1].upper() + words[1:]  # the date of another day keeps its capital letter


def _question(context: ViewContext, question: Question) -> str:
    known = f" (on file {context.clock(question.on_file_s)})" if question.on_file_s is not None else ""
    what = _WHAT[question.asked]
    return f"{what}{known}? Write: ____________"
