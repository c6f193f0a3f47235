"""Days and hours on which the laboratory does not take a test, as spans of a round (rule ``closed``)."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from planner.domain.catalogue import ClosedSpan
from planner.domain.orders import Order
from planner.domain.problem import Problem
from planner.units import SECONDS_PER_DAY, SECONDS_PER_HOUR, SECONDS_PER_MINUTE

_WEEK_S = 7 * SECONDS_PER_DAY
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def closed_spans(problem: Problem, order: Order) -> list[tuple[int, int]]:
    """Return the seconds of the round at which an order's test is not taken: first second and end, not included.

    The wall's clock counts. Example: a round of Thursday, closed from Thursday 12:00: from second 43 200.
    """
    clock = problem.clock
    monday = datetime.combine(clock.day - timedelta(days=clock.day.weekday()), time(0))

    def second(week_s: int) -> int:
        return clock.to_s(monday + timedelta(seconds=week_s))

    spans = []
    for span in problem.test_of(order).closed:
        to_s = span.to_s if span.to_s > span.from_s else span.to_s + _WEEK_S
        spans += [(second(span.from_s + n * _WEEK_S), second(to_s + n * _WEEK_S)) for n in (-1, 0, 1)]
    return spans


def closed_words(span: ClosedSpan) -> str:
    """Return a span as people say it: 'from Thursday 12:00 to Sunday 24:00'."""
    return f"from {_moment(span.from_s, is_end=False)} to {_moment(span.to_s, is_end=True)}"


def _moment(week_s: int, *, is_end: bool) -> str:
    day, rest_s = divmod(week_s, SECONDS_PER_DAY)
    if is_end and rest_s == 0:
        day, rest_s = day - 1, SECONDS_PER_DAY
    minutes = rest_s % SECONDS_PER_HOUR // SECONDS_PER_MINUTE
    return f"{_DAYS[day % 7]} {rest_s // SECONDS_PER_HOUR:02}:{minutes:02}"
