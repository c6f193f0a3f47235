"""Rows of a progress file that are answers: what a card asked at the bed, such as when a dose was given."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from planner.domain.draws import Asked
from planner.domain.orders import OrderId
from planner.domain.revisions.reported import Answer, Reported
from planner.findings import Severity
from planner.loaders.during.visit_book import VisitBook
from planner.loaders.values.fields import Fields, word
from planner.loaders.values.moments import UnreadableError, parse_clock

DOSES = frozenset({Asked.LAST_DOSE, Asked.DOSE_START, Asked.RATE_CHANGE, Asked.INFUSION_END, Asked.NEXT_DOSE})
"""What ``--dose`` plans with."""


class Answers:
    """The answers of a file, by order; with the reports of their orders they are kept in the log of the round."""

    def __init__(self, book: VisitBook) -> None:
        self._book = book
        self._found: dict[OrderId, list[tuple[Answer, Fields]]] = {}

    def read(self, fields: Fields) -> None:
        """Take an answer from a row; one that cannot be read is a finding."""
        asked = next((a for a in Asked if a.value == word(fields.text("asked"))), None)
        orders = [self._book.order_id(text) for text in fields.parts("order_number", ";,")]
        if asked is None or None in orders or not orders:
            what = ", ".join(a.value for a in Asked)
            message = f"the row is an answer, but not to a question about orders of this round; asked is one of {what}"
            fields.add("answer-unclear", Severity.WARNING, "asked", message)
            return
        text = fields.text("answer")
        at_s = _time(text, self._book) if asked.is_time else None
        answer = Answer(asked=asked, order_ids=tuple(o for o in orders if o), at_s=at_s, text=text)
        for order_id in answer.order_ids:
            self._found.setdefault(order_id, []).append((answer, fields))

    def with_reports(self, reports: Iterable[Reported]) -> tuple[Reported, ...]:
        """Return the reports with the answers to questions about their orders.

        A dose that was told of an order that nobody reports is a note: the lead decides whether to plan with it.
        """
        told = tuple(reports)
        known = {order_id for reported in told for order_id in reported.order_ids}
        for order_id in self._found.keys() - known:
            for answer, fields in self._found[order_id]:
                self._say_unused(answer, order_id, fields)
        return tuple(replace(reported, answers=self._of(reported)) for reported in told)

    def _of(self, reported: Reported) -> tuple[Answer, ...]:
        answers = [answer for order_id in reported.order_ids for answer, _ in self._found.get(order_id, ())]
        return tuple(dict.fromkeys(answers))

    def _say_unused(self, answer: Answer, order_id: OrderId, fields: Fields) -> None:
        if answer.asked not in DOSES or answer.at_s is None or not self._is_open(order_id):
            return
        at = self._book.problem.clock.format_clock(answer.at_s)
        message = f"{answer.asked.value} told at the bed: {at}. To plan with it: --dose {order_id}={at}"
        source = fields.record.at("answer")
        fields.reading.report.add("answer-not-planned", Severity.NOTE, message, source=source, order_ids=[order_id])

    def _is_open(self, order_id: OrderId) -> bool:
        return any(order_id in visit.order_ids and self._book.is_open(visit) for visit in self._book.visits)


def _time(text: str, book: VisitBook) -> int | None:
    """Return the second of an answer that is a clock time, on the day that brings it nearest to now; else None."""
    try:
        wall_s = parse_clock(text).clock_s
    except UnreadableError:
        return None
    return None if wall_s is None else book.problem.clock.near(wall_s, book.now_s)
