"""The time that a report states, if it can be true."""

from __future__ import annotations

from planner.domain.plan import Visit
from planner.findings import Severity
from planner.loaders.during.visit_book import VisitBook
from planner.loaders.values.fields import Fields


def stated_time(fields: Fields, book: VisitBook, column: str = "time") -> int | None:
    """Return the second that a row states, whether it can be or not; None when it states none (or a finding).

    A bare clock time is on the day that brings it nearest to now.
    """
    moment = fields.moment(column)
    if moment is None:
        return None
    clock = book.problem.clock
    if moment.clock_s is None:
        message = f"{fields.text(column)!r} is a date without a time; write HH:MM. The planned time is taken"
        fields.add("report-time", Severity.ERROR, column, message)
        return None
    return moment.on(moment.day, clock) if moment.day else clock.near(moment.clock_s, book.now_s)


def checked_time(at_s: int | None, fields: Fields, visit: Visit, book: VisitBook) -> int | None:
    """Return the second of a draw or attempt; None when it cannot be (a finding). The outcome counts all the same."""
    if at_s is None:
        return None
    clock = book.problem.clock
    earliest_s = _earliest_s(visit, book)
    if at_s > book.now_s:
        fault = f"lies after now ({clock.format_clock(book.now_s)})"
    elif at_s < earliest_s:
        fault = f"lies before anybody could be at the bed ({clock.format_clock(earliest_s)})"
    else:
        return at_s
    message = f"{clock.format_clock(at_s)} {fault}; correct it. The outcome counts, with the planned time"
    source = fields.record.at("time")
    fields.reading.report.add("report-time", Severity.ERROR, message, source=source, order_ids=visit.order_ids)
    return None


def _earliest_s(visit: Visit, book: VisitBook) -> int:
    """Return when the first of all people could be at a bed: begin of the shift and the way there."""
    walking = book.problem.walking
    reached = [
        p.from_s + (0 if p.starts_at == visit.place else walking.seconds.get((p.starts_at, visit.place), 0))
        for p in book.problem.staff
    ]
    return min(reached)
