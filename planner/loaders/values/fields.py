"""Reads the cells of one row: every cell that cannot be read becomes a finding, and a fault of the row."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field
from datetime import date

from planner.columns import PRIVATE
from planner.domain.orders import TimeWindow
from planner.finding_codes import Code
from planner.findings import Report, Severity, Source
from planner.loaders.names.known import SiteNames
from planner.loaders.policy.clock import OTHER_DAY_S
from planner.loaders.tables.records import CONTROL, ERROR_CELL, FORMULA, LONG_NUMBER, TOO_LONG, TOO_SHORT, Record
from planner.loaders.values.date_columns import DateColumn, DateColumns
from planner.loaders.values.moments import UnreadableError, parse_clock, parse_moment
from planner.loaders.values.words import NO, YES
from planner.units import SECONDS_PER_DAY, Moment, RoundClock

FARTHEST_DAYS = 400
"""A date of an order that lies farther from the round is a slip (engineering choice)."""
MOST_LISTED = 20
"""Order numbers that one message lists."""
_NUMBER = re.compile(r"^([+-]?\d{1,9}(?:[.,]\d+)?)\s*([^\d\s].*)?$")
_ROUNDED = re.compile(r"^\d(?:[.,]\d+E\+?|E\+)\d+$", re.IGNORECASE)
"""How spreadsheets shorten a long number. Plain 1E5 is none of their forms and may be an identifier."""
_SPAN = re.compile(r"^\s*(.+?)\s*(?:-|–|—|\bto\b|\bbis\b|\bà\b)\s*(.+?)\s*$")
FLAG_TEXTS: dict[Code, str] = {
    LONG_NUMBER: "a number of more than 15 digits: a spreadsheet keeps only 15 of them. Format the column as text and "
    "copy the numbers in again",
    ERROR_CELL: "the cell holds an error value (such as #N/A), not data. Correct the formula or type the value",
    FORMULA: "the cell holds a formula that was never calculated. Open the file in a spreadsheet program and save it",
    CONTROL: "the cell holds a control character, which nobody sees. Type the value again",
    TOO_LONG: "the row has more cells than there are headings: a comma or semicolon inside a value may have moved the "
    "others. Put such a value in quotation marks",
    TOO_SHORT: "the row has fewer cells than there are headings, unlike the other rows: a cell may be lost and the "
    "others have moved. Put the cell back, or write the missing separators at its end",
}


@dataclass(slots=True)
class Reading:
    """What is known while the rows are read: where findings go, how dates are read, and the round's span."""

    report: Report
    date_columns: DateColumns
    clock: RoundClock
    start_s: int = 0
    end_s: int = SECONDS_PER_DAY
    site_names: SiteNames = field(default_factory=SiteNames)
    """The site's own names that a person confirmed."""
    noted: set[tuple[str, str, str, str]] = field(default_factory=set)
    gathered: dict[tuple[Code, str], list[tuple[Source, str]]] = field(default_factory=dict)

    @property
    def is_overnight(self) -> bool:
        """Whether the round goes on after the midnight that ends its day."""
        return self.end_s > self.clock.wall_to_s(SECONDS_PER_DAY)

    def once(self, code: Code, severity: Severity, message: str, record: Record, name: str) -> None:
        """Add a finding once for each column of a file or sheet."""
        key = (code, record.source.file, record.source.sheet, name)
        if key not in self.noted:
            self.noted.add(key)
            self.report.add(code, severity, message, source=record.at(name))

    def gather(self, code: Code, message: str, source: Source, order_id: str) -> None:
        """Keep an error that may stand in many rows, until `report_gathered`."""
        self.gathered.setdefault((code, message), []).append((source, order_id))

    def report_gathered(self) -> None:
        """Add one finding for each error that was gathered, with the numbers of all its orders."""
        for (code, message), found in self.gathered.items():
            ids = [order_id for _, order_id in found]
            if len(ids) > 1:
                more = f" and {len(ids) - MOST_LISTED} more" if len(ids) > MOST_LISTED else ""
                message = f"{message} ({len(ids)} orders: {', '.join(ids[:MOST_LISTED])}{more})"
            self.report.add(code, Severity.ERROR, message, source=found[0][0], order_ids=ids)
        self.gathered.clear()

    def column(self, record: Record, name: str) -> DateColumn:
        """Return how the dates of a record's column are read."""
        key = (record.source.file, record.source.sheet, name)
        return self.date_columns.get(key) or DateColumn(None, False)


def word(text: str) -> str:
    """Return a word as it is looked up: small letters, no accents, single blanks."""
    if text.isascii():
        return " ".join(text.lower().split())
    folded = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(c for c in folded if not unicodedata.combining(c)).split())


class Fields:
    """The cells of one row. ``faults`` are the messages of those that could not be read."""

    def __init__(self, record: Record, reading: Reading, order_id: str = "") -> None:
        self.record = record
        self.reading = reading
        self.faults: list[str] = []
        self._order_ids = (order_id,) if order_id else ()

    def text(self, name: str) -> str:
        """Return a cell's text; a cell that holds an error is a fault."""
        if flag := self.record.flags.get(name):
            self.fault(flag, name, FLAG_TEXTS[flag])
            return ""
        return self.record.text(name)

    def whole_row(self) -> None:
        """Add the fault of a row that is longer or shorter than its headings."""
        if flag := self.record.flags.get("*"):
            self.fault(flag, "", FLAG_TEXTS[flag])

    def identifier(self, name: str) -> str:
        """Return an identifier; digits that a spreadsheet has rounded away are a fault."""
        text = self.text(name)
        if _ROUNDED.match(text):
            self.fault(
                "identifier-damaged",
                name,
                "the number was shortened to powers of ten when the file was saved; its digits are lost. Export it as "
                "text",
            )
        return text

    def fault(self, code: Code, name: str, message: str) -> None:
        """Add an error finding at a cell and remember it as a fault of the row."""
        self.faults.append(message)
        self.add(code, Severity.ERROR, name, message)

    def add(self, code: Code, severity: Severity, name: str, message: str) -> None:
        """Add a finding at a cell."""
        source = self.record.at(name) if name else self.record.source
        self.reading.report.add(code, severity, message, source=source, order_ids=self._order_ids)

    def number(self, name: str, low: float, high: float, unit: str, factors: dict[str, float]) -> float | None:
        """Return a number in ``unit`` between the bounds (both included), or None.

        ``factors`` turn other units into ``unit``. What cannot be read is an error finding and no fault: the
        value counts as not known.
        """
        text = self.text(name)
        if not text:
            return None
        match = _NUMBER.match(text)
        if not match:
            self.add("number-unreadable", Severity.ERROR, name, f"{text!r} is not a number; write a number of {unit}")
            return None
        factor = factors.get((match[2] or unit).strip().lower().rstrip("."))
        if factor is None:
            message = f"unit {match[2]!r} is not known here; write a number of {unit}"
            self.add("unknown-unit", Severity.ERROR, name, message)
            return None
        value = float(match[1].replace(",", ".")) * factor
        if not low <= value <= high:
            message = f"{text!r} cannot be: expected {low:g} to {high:g} {unit}; the value is not used"
            self.add("absurd-value", Severity.ERROR, name, message)
            return None
        return value

    def yes_no(self, name: str) -> bool | None:
        """Return yes or no; None for an empty cell or a word that is neither (a warning)."""
        text = word(self.text(name))
        if not text:
            return None
        if text not in YES and text not in NO:
            self.add("yes-or-no", Severity.WARNING, name, f"{text!r} is neither yes nor no; taken as not stated")
            return None
        return text in YES

    def moment(self, name: str) -> Moment | None:
        """Return the date, clock time or both of a cell; None when it is empty or a fault."""
        text = self.text(name)
        if not text:
            return None
        if self._may_be_year(text):
            self.fault(
                "time-unreadable",
                name,
                f"{text!r} may be a year or a clock time; write {text[:2]}:{text[2:]}, or a whole date",
            )
            return None
        column = self.reading.column(self.record, name)
        if (stated := self.record.moments.get(name)) is not None:
            moment = stated
        else:
            try:
                moment = parse_moment(text, column.order, column.uses_1904)
            except UnreadableError as error:
                message = str(error)
                if name in PRIVATE:
                    message = (
                        "the date cannot be read, or its day and month could change places; write it as 1950-01-31"
                    )
                self._fault_date(error.code, name, message)
                return None
        if name != "birth_date" and moment.day and abs((moment.day - self.reading.clock.day).days) > FARTHEST_DAYS:
            message = f"{text!r} lies more than a year from the round on {self.reading.clock.day}; correct the date"
            self.fault("absurd-value", name, message)
            return None
        return Moment(moment.day, None) if column.is_date_only else moment

    def _may_be_year(self, text: str) -> bool:
        """Return whether four digits are the year of the round, or one beside it: half a date is no clock time."""
        return (
            len(text) == 4 and text.isascii() and text.isdigit() and abs(int(text) - self.reading.clock.day.year) <= 1
        )

    def _fault_date(self, code: Code, name: str, message: str) -> None:
        """Ambiguous dates are one finding a column (see `date_columns`), but a fault of each row."""
        if code == "date-ambiguous":
            self.faults.append(message)
        else:
            self.fault(code, name, message)

    def instant(self, name: str, *, is_past: bool = False, is_nearest: bool = False) -> int | None:
        """Return seconds after midnight of the round's day; a bare clock time goes to the round's day.

        ``is_past``: the column tells what has happened, so a bare clock time after the round's end means the
        evening before. ``is_nearest``: it may have happened or be still to come, so a bare clock time goes to the day
        on which it lies nearest to the round. A date without a time is a fault.
        """
        moment = self.moment(name)
        if moment is None:
            return None
        if moment.clock_s is None:
            message = f"{self.record.text(name)!r} is a date without a time; write both, such as 2026-01-31 05:30"
            self.fault("date-where-time-belongs", name, message)
            return None
        if is_nearest and moment.day is None:
            return self._nearest(moment, name)
        return self.placed(moment, name, is_past=is_past)

    def _nearest(self, moment: Moment, name: str) -> int:
        """Return the instant of a bare clock time on the day that is nearest to the round; of two such, the earlier."""
        clock, today = self.reading.clock, self.reading.clock.day.toordinal()
        start_s, end_s = self.reading.start_s, self.reading.end_s
        found = [moment.on(date.fromordinal(today + days), clock) for days in (-1, 0, 1)]
        at_s = min(found, key=lambda at_s: (max(start_s - at_s, at_s - end_s, 0), at_s))
        if at_s == found[0]:
            message = "times of this column that are nearer so were taken as the evening before"
            self.reading.once("evening-before", Severity.NOTE, message, self.record, name)
        return at_s

    def placed(self, moment: Moment, name: str, *, is_past: bool = False) -> int:
        """Return seconds after midnight of the round's day for a moment that has a clock time."""
        clock = self.reading.clock
        if moment.clock_s == SECONDS_PER_DAY:
            message = "24:00 was read as the end of the day, so as 00:00 of the next"
            self.reading.once("midnight-read", Severity.NOTE, message, self.record, name)
        if moment.day is not None:
            return moment.on(moment.day, clock)
        seconds = moment.on(clock.day, clock)
        if is_past and seconds > self.reading.end_s:
            end = clock.format_clock(self.reading.end_s)
            message = f"times of this column later than the round's end ({end}) were taken as the evening before"
            self.reading.once("evening-before", Severity.NOTE, message, self.record, name)
            return moment.on(date.fromordinal(clock.day.toordinal() - 1), clock)
        if not is_past and self._is_next_day(seconds, name):
            return moment.on(date.fromordinal(clock.day.toordinal() + 1), clock)
        return seconds

    def _is_next_day(self, seconds: int, name: str) -> bool:
        """Whether a bare clock time that lies before an overnight round means the day after.

        It does when it then falls into the round, when it would lie more than 12 h before it, and when the column
        tells what comes next.
        """
        start_s, end_s = self.reading.start_s, self.reading.end_s
        if not self.reading.is_overnight or seconds >= start_s:
            return False
        is_in_round = self.reading.clock.day_after(seconds) <= end_s
        return is_in_round or start_s - seconds > OTHER_DAY_S or name.startswith("next_")

    def clock(self, name: str, text: str | None = None) -> int | None:
        """Return seconds after midnight of the round's day for a cell (or a part of it) that holds a clock time."""
        moment = self._clock_moment(name, self.text(name) if text is None else text)
        return None if moment is None else self.placed(moment, name)

    def _clock_moment(self, name: str, text: str) -> Moment | None:
        if not text:
            return None
        try:
            return parse_clock(text)
        except UnreadableError as error:
            self.fault(error.code, name, str(error))
            return None

    def spans(self, name: str) -> tuple[TimeWindow, ...]:
        """Return spans written as '07:00-07:45; 08:30-09:00'."""
        return tuple(span for part in self.parts(name, ";,") if (span := self.span(name, part)))

    def span(self, name: str, part: str) -> TimeWindow | None:
        """Return the span that a part of a cell states, or None with a fault.

        In a round over midnight a span that ends before it begins runs over midnight too, and one that is over
        before the round begins is meant for the next day.
        """
        match = _SPAN.match(part)
        if not match:
            self.fault("span-unreadable", name, f"{part!r} is not a span; write it as 07:00-07:45")
            return None
        moments = self._clock_moment(name, match[1]), self._clock_moment(name, match[2])
        if moments[0] is None or moments[1] is None:
            return None
        day, clock = self.reading.clock.day, self.reading.clock
        begin, end = (self.placed(Moment(day, m.clock_s, m.offset), name) for m in moments if m)
        if self.reading.is_overnight:
            end = clock.day_after(end) if end < begin else end
            if end <= self.reading.start_s:
                begin, end = clock.day_after(begin), clock.day_after(end)
        if end < begin:
            self.fault("window-reversed", name, f"{part!r} ends before it begins; write the earlier time first")
            return None
        return TimeWindow(earliest_s=begin, latest_s=end)

    def parts(self, name: str, separators: str = ";") -> list[str]:
        """Return the parts of a cell between separators, without blanks and empty ones."""
        pieces = re.split(f"[{separators}\n]", self.text(name))
        return [piece.strip() for piece in pieces if piece.strip()]
