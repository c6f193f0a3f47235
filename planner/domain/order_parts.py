"""What an order says besides whom and what it is for: the parts that may change while a round goes on."""

from __future__ import annotations

from collections.abc import Iterable
from enum import Enum

from planner.domain.orders import Order, Priority
from planner.units import RoundClock


class OrderPart(Enum):
    """A part of an order; the value is the name of its field."""

    PRIORITY = "priority"
    COLLECT_AT = "collect_at_s"
    COLLECT_FROM = "collect_from_s"
    COLLECT_TO = "collect_to_s"
    FASTING = "fasting"
    LAST_DOSE = "last_dose_s"
    NEXT_DOSE = "next_dose_s"
    INFUSION_END = "infusion_end_s"
    SERIES = "series"


TIMES = frozenset(
    {
        OrderPart.COLLECT_AT,
        OrderPart.COLLECT_FROM,
        OrderPart.COLLECT_TO,
        OrderPart.LAST_DOSE,
        OrderPart.NEXT_DOSE,
        OrderPart.INFUSION_END,
    }
)
"""The parts that are an instant: seconds after midnight of the round's day."""


def part_of(order: Order, part: OrderPart) -> object:
    """Return what an order says in one part; None: nothing."""
    return getattr(order, part.value)


def parts_that_differ(order: Order, other: Order) -> tuple[OrderPart, ...]:
    """Return the parts in which two orders do not say the same."""
    return tuple(part for part in OrderPart if part_of(order, part) != part_of(other, part))


_WORDS = {
    OrderPart.PRIORITY: "priority",
    OrderPart.COLLECT_AT: "time",
    OrderPart.COLLECT_FROM: "from",
    OrderPart.COLLECT_TO: "until",
    OrderPart.FASTING: "fasting",
    OrderPart.LAST_DOSE: "last dose",
    OrderPart.NEXT_DOSE: "next dose",
    OrderPart.INFUSION_END: "end of infusion",
    OrderPart.SERIES: "series",
}


def changed_words(clock: RoundClock, before: Order, after: Order, parts: Iterable[OrderPart]) -> str:
    """Return what changed in parts of an order, in words: 'next dose 06:00, was 07:00'."""
    return ", ".join(f"{_WORDS[p]} {_said(clock, after, p)}, was {_said(clock, before, p)}" for p in parts)


def _said(clock: RoundClock, order: Order, part: OrderPart) -> str:
    value = part_of(order, part)
    if value is None:
        return "not stated"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if part in TIMES and isinstance(value, int):
        return clock.format_clock(value)
    return value.value if isinstance(value, Priority) else str(value)
