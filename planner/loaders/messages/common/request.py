"""A request for a laboratory test as any message states it, before site, zone and round are known."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from planner.domain.plan import Reason, SetAside
from planner.findings import Source
from planner.loaders.messages.common.stamps import Stamp


class Ident(NamedTuple):
    """An identifier with the authority that gave it; equal numbers of two authorities are not the same."""

    number: str = ""
    authority: str = ""

    def may_be(self, other: Ident) -> bool:
        """Return whether both can be the same: equal numbers, and authorities equal or one of them not stated."""
        if self.number != other.number:
            return False
        return self.authority == other.authority or not self.authority or not other.authority


class Bedside(NamedTuple):
    """Where the patient is, in the parts that the message has. ``text`` is a place known by its words alone."""

    ward: str = ""
    room: str = ""
    bed: str = ""
    text: str = ""

    @property
    def is_bed(self) -> bool:
        """True when somebody could be sent there."""
        return bool(self.room or self.bed or self.text)


_NOWHERE = Bedside()


class Quantity(NamedTuple):
    """How much of its test a request asks for, as written; ``amount`` is empty where nothing says it."""

    amount: str = ""
    unit: str = ""
    heading: str = ""


_ONE = Quantity()
_NOBODY = Ident()


@dataclass(frozen=True, slots=True)
class Repeat:
    """A draw that comes again: every so many seconds, or on days at clock times (seconds after midnight).

    ``every_days`` counts days from ``first``; ``weekdays`` are 0 for Monday to 6; without clock times the clock time
    of ``first`` counts, and where that is a date alone, the order is one draw without a time on each such day.
    ``count`` is the number of draws in all, ``last`` the latest instant (or day) of one.
    """

    first: Stamp | None = None
    last: Stamp | None = None
    every_s: int | None = None
    every_days: int = 1
    clocks: tuple[int, ...] = ()
    weekdays: frozenset[int] = frozenset()
    count: int | None = None


@dataclass(frozen=True, slots=True)
class Timing:
    """When one draw, or a run of them, is wanted. ``is_open``: it repeats at times that nobody can work out."""

    at: Stamp | None = None
    begin: Stamp | None = None
    end: Stamp | None = None
    repeat: Repeat | None = None
    is_open: str = ""
    heading: str = ""

    @property
    def stamps(self) -> tuple[Stamp, ...]:
        """All times that it states."""
        ends = (self.repeat.first, self.repeat.last) if self.repeat else ()
        return tuple(s for s in (self.at, self.begin, self.end, *ends) if s is not None)


@dataclass(slots=True)
class Request:
    """One test asked for. ``cells`` and ``headings`` are values of the order table and where each one stands.

    ``tests`` are codes for the test, the site's own before LOINC; ``test_words`` says it for a person.
    ``sent`` is when the message was sent, in seconds since 1970 (0: not known); ``fault`` why it is not planned.
    """

    number: Ident
    patient: Ident
    source: Source
    cells: dict[str, str] = field(default_factory=dict)
    headings: dict[str, str] = field(default_factory=dict)
    tests: tuple[str, ...] = ()
    test_words: str = ""
    timings: tuple[Timing, ...] = ()
    place: Bedside = _NOWHERE
    group: str = ""
    parent: Ident = _NOBODY
    """The order of which it is a part."""
    quantity: Quantity = _ONE
    ordered: Stamp | None = None
    sent: float = 0.0
    fault: SetAside | None = None

    def put(self, name: str, value: str, heading: str) -> None:
        """Set a cell, unless the value is empty."""
        if value:
            self.cells[name] = value
            self.headings[name] = heading

    def set_aside(self, reason: Reason, detail: str) -> None:
        """Give the request its reason, unless it has one already."""
        self.fault = self.fault or SetAside(reason, detail)

    def take_from(self, shared: Request) -> None:
        """Add what holds for several requests: cells, place and a reason not to plan."""
        own, others = self.cells.get("alerts"), shared.cells.get("alerts")
        self.cells.update(shared.cells)
        self.headings.update(shared.headings)
        if own and others:
            self.cells["alerts"] = f"{own}; {others}"
        self.place = shared.place if shared.place != _NOWHERE else self.place
        if shared.fault:
            self.set_aside(*shared.fault)

    def take_over(self, newer: Request) -> None:
        """Change this request to what a newer message says; what that message leaves out stays."""
        self.cells.update(newer.cells)
        self.headings.update(newer.headings)
        if newer.tests or newer.test_words:
            self.tests, self.test_words = newer.tests, newer.test_words
        self.timings = newer.timings or self.timings
        self.place = newer.place if newer.place != _NOWHERE else self.place
        self.group = newer.group or self.group
        self.quantity = newer.quantity if newer.quantity.amount else self.quantity
        self.ordered = newer.ordered or self.ordered
        self.sent = newer.sent or self.sent
        self.source = newer.source
        self.fault = newer.fault
