"""Dates and clock times as files write them, before anybody knows to which day a bare clock time belongs."""

from __future__ import annotations

import re
from datetime import UTC, date, timedelta, timezone, tzinfo
from functools import lru_cache

from planner.domain.patients.births import PartialDate
from planner.finding_codes import Code
from planner.units import SECONDS_PER_DAY, SECONDS_PER_HOUR, SECONDS_PER_MINUTE, Moment

DayOrder = str
"""``dmy``, ``mdy`` or ``ymd``: how the three numbers of a date follow one another."""
CONTRADICTED: DayOrder = "contradicted"
"""The order of a column of which some dates are only day first and others only month first."""

NUMERIC = re.compile(r"^(\d{1,2})([/.\- ])(\d{1,2})\2(\d{4}|\d{2})(?:[ T,]+(\S.*))?$")
ISO = re.compile(r"^(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?:[T ,]+(\S.*))?$")
_COMPACT = re.compile(r"^(\d{4})(\d\d)(\d\d)(?:[T ]?(\d\d)(\d\d)(\d\d)?(?:\.\d+)?)?(Z|[+-]\d\d:?\d\d)?$")
_DAY_FIRST_NAME = re.compile(r"^(\d{1,2})\.?[ \-/]*([^\W\d_]{3,})\.?[ \-/,]*(\d{4}|\d\d)(?:[ ,T]+(\S.*))?$")
_MONTH_FIRST_NAME = re.compile(r"^([^\W\d_]{3,})\.?[ \-]+(\d{1,2})[ ,\-]+(\d{4})(?:[ ,T]+(\S.*))?$")
SERIAL = re.compile(r"^([1-7]?\d{4})(\.\d+)?$")
_CLOCK = re.compile(
    r"^(\d{1,3})(?:[:.h](\d\d))?(?:[:.](\d\d)(?:[.,]\d+)?)?\s*(am|pm|a\.m\.|p\.m\.|uhr|h|hrs)?\s*(z|[+-]\d\d:?\d\d)?$"
)
_DIGITS = re.compile(r"^(\d{1,2})(\d\d)\s*(?:h|hrs|uhr)?$")
_DAY_FRACTION = re.compile(r"^0?\.(?:\d{3,}|[1-9]|[27]5)$")
"""A spreadsheet's part of a day. Of two digits only the full hours 0.25 and 0.75: 0.30 may be written for 00:30."""
_MONTHS = {
    "jan": 1, "feb": 2, "mar": 3, "apr": 4, "may": 5, "jun": 6, "jul": 7, "aug": 8, "sep": 9, "oct": 10, "nov": 11,
    "dec": 12, "mär": 3, "mrz": 3, "mai": 5, "okt": 10, "dez": 12, "fév": 2, "fev": 2, "avr": 4, "aoû": 8,
    "aou": 8, "déc": 12, "juin": 6, "juil": 7,
}  # fmt: skip
_FARTHEST_ZONE_MIN = 14 * 60
_YEAR_MONTH = re.compile(r"^(?P<year>\d{4})(?:[-/.]?(?P<month>\d\d))?$")
_MONTH_YEAR = re.compile(r"^(?P<month>\d{1,2})[-/.](?P<year>\d{4})$")
_NAMED_MONTH = re.compile(r"^(?P<name>[^\W\d_]{3,})\.?[ \-/]+(?P<year>\d{4})$")
_EPOCHS = {False: date(1899, 12, 30), True: date(1904, 1, 1)}


class UnreadableError(ValueError):
    """A text is not what its column holds; ``code`` is the finding's code, the text says what is wrong."""

    def __init__(self, code: Code, message: str) -> None:
        super().__init__(message)
        self.code = code


@lru_cache(maxsize=4096)
def parse_moment(text: str, order: DayOrder | None, uses_1904: bool = False) -> Moment:
    """Return the date, the clock time or both that a text states.

    ``order`` is the column's order of day, month and year; None: a date whose order matters is ambiguous. A cell is
    read more than once, to find the round's day and to build the order, so the last texts are remembered.

    Raises
    ------
    UnreadableError
        With code ``date-ambiguous``, ``date-unreadable``, ``time-unreadable`` or ``time-over-a-day``.
    """
    if match := ISO.match(text):
        return _with_clock(_day(int(match[1]), int(match[3]), int(match[4])), match[5])
    if match := NUMERIC.match(text):
        return _with_clock(_numeric(match, order), match[5])
    if match := _COMPACT.match(text):
        day = _day(int(match[1]), int(match[2]), int(match[3]))
        return Moment(day, _seconds(match[4], match[5], match[6]) if match[4] else None, _offset(match[7]))
    if match := _DAY_FIRST_NAME.match(text):
        return _with_clock(_day(_year(match[3]), _month(match[2]), int(match[1])), match[4])
    if match := _MONTH_FIRST_NAME.match(text):
        return _with_clock(_day(int(match[3]), _month(match[1]), int(match[2])), match[4])
    if len(text) > 4 and (match := SERIAL.match(text)):
        seconds = round(float(match[2] or 0) * SECONDS_PER_DAY)
        day = _EPOCHS[uses_1904] + timedelta(days=int(match[1]))
        return Moment(day, seconds if match[2] else None)
    return _clock_only(text)


def parse_partial_date(text: str) -> PartialDate | None:
    """Return the month or year that a text states without a day; None when it is something else.

    Written as 2026, 2026-02, 202602 (HL7), 02/2026, 2.2026 or Feb 2026. Years from 1850 to 2149, so that 2359 stays a
    clock time.
    """
    for pattern in (_YEAR_MONTH, _MONTH_YEAR):
        if match := pattern.match(text):
            month = match["month"]
            return _partial(int(match["year"]), None if month is None else int(month))
    if (match := _NAMED_MONTH.match(text)) and match["name"].casefold()[:3] in _MONTHS:
        return _partial(int(match["year"]), _month(match["name"]))
    return None


def _partial(year: int, month: int | None) -> PartialDate | None:
    if not 1850 <= year < 2150 or not (month is None or 1 <= month <= 12):
        return None
    return PartialDate(year, month)


def is_serial(text: str) -> bool:
    """Return whether a text is a spreadsheet's day number."""
    return len(text) > 4 and SERIAL.match(text) is not None


def parse_clock(text: str) -> Moment:
    """Return the clock time that a text states; a text that is or holds a date is refused.

    Raises
    ------
    UnreadableError
        With code ``date-where-time-belongs``, ``time-unreadable`` or ``time-over-a-day``.
    """
    if any(pattern.match(text) for pattern in (ISO, NUMERIC, _DAY_FIRST_NAME, _MONTH_FIRST_NAME)) or is_serial(text):
        raise UnreadableError("date-where-time-belongs", f"{text!r} is a date; write a clock time such as 05:30")
    return _clock_only(text)


def clock_seconds(text: str) -> int:
    """Return seconds after midnight, 86,400 at most, of a clock time that states neither a date nor an offset.

    Raises
    ------
    UnreadableError
        As `parse_clock`.
    """
    moment = parse_clock(text.strip())
    if moment.clock_s is None or moment.offset is not None:
        raise UnreadableError("time-unreadable", f"{text!r} is not a clock time; write 05:30")
    return moment.clock_s


def clock_of(hours: str, minutes: str | None, seconds: str | None) -> int | None:
    """Return seconds after midnight, 86,400 at most; None when that is no clock time."""
    hour, minute, second = int(hours), int(minutes or 0), int(seconds or 0)
    total = hour * SECONDS_PER_HOUR + minute * SECONDS_PER_MINUTE + second
    return total if minute < 60 and second < 60 and total <= SECONDS_PER_DAY else None


def _clock_only(text: str) -> Moment:
    if _DAY_FRACTION.match(text):
        return Moment(None, round(float(text) * SECONDS_PER_DAY / 60) * 60)
    if match := _DIGITS.match(text):
        return Moment(None, _seconds(match[1], match[2], None))
    match = _CLOCK.match(text.lower())
    if not match or not (match[2] or match[4]):
        raise UnreadableError("time-unreadable", f"{text!r} is not a clock time or a date; write 05:30 or 2026-01-31")
    half = (match[4] or "")[:1]
    hour = int(match[1])
    if half in ("a", "p"):
        if not 1 <= hour <= 12:
            raise UnreadableError("time-unreadable", f"{text!r} is not a time of the 12-hour clock")
        hour = hour % 12 + (12 if half == "p" else 0)
    return Moment(None, _seconds(str(hour), match[2], match[3]), _offset(match[5]))


def _with_clock(day: date, rest: str | None) -> Moment:
    if not rest:
        return Moment(day, None)
    clock = _clock_only(rest.strip())
    return Moment(day, clock.clock_s, clock.offset)


def _seconds(hours: str, minutes: str | None, seconds: str | None) -> int:
    total = clock_of(hours, minutes, seconds)
    if total is not None:
        return total
    minute = int(minutes or 0)
    if minute > 59 or int(seconds or 0) > 59:
        raise UnreadableError("time-unreadable", f"'{hours}:{minute:02d}' is not a clock time; minutes go to 59")
    text = f"'{int(hours):02d}:{minute:02d}' is over a day; write the date and a time up to 24:00"
    raise UnreadableError("time-over-a-day", text)


@lru_cache(maxsize=128)
def _offset(text: str | None) -> tzinfo | None:
    if not text:
        return None
    if text in "zZ":
        return UTC
    minutes = int(text[1:3]) * 60 + int(text[-2:])
    if minutes > _FARTHEST_ZONE_MIN or int(text[-2:]) > 59:
        raise UnreadableError("time-unreadable", f"{text!r} is no offset of a time zone; they go from -12:00 to +14:00")
    return timezone(timedelta(minutes=-minutes if text[0] == "-" else minutes))


def _numeric(match: re.Match[str], order: DayOrder | None) -> date:
    first, separator, second, third = int(match[1]), match[2], int(match[3]), match[4]
    if order == "ymd" and len(third) == 2:
        return _day(2000 + first, second, int(third))
    if order in ("dmy", "mdy"):
        day, month = (first, second) if order == "dmy" else (second, first)
    elif first == second or (separator == "." and order != CONTRADICTED):
        day, month = first, second
    elif first > 12 or second > 12:
        day, month = (first, second) if first > 12 else (second, first)
    else:
        raise UnreadableError(
            "date-ambiguous",
            f"'{first}{separator}{second}' could be two dates; say the order with --date-order dmy or mdy",
        )
    return _day(_year(third), month, day)


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def _month(name: str) -> int:
    plain = name.casefold()
    for length in (4, 3):
        if number := _MONTHS.get(plain[:length]):
            return number
    raise UnreadableError("date-unreadable", f"{name!r} is not the name of a month; write the date as 2026-01-31")


def _day(year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise UnreadableError(
            "date-unreadable", f"day {day} of month {month} of {year} does not exist; write the date as 2026-01-31"
        ) from None
