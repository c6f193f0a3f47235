"""Times and quantities of HL7 v2: YYYY[MM[DD[HH[MM[SS[.S]]]]]][+/-ZZZZ] to stamps, times of day, spans with units."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from functools import lru_cache

from planner.loaders.messages.common.stamps import Sender, Stamp, offset_seconds
from planner.loaders.values.moments import clock_of
from planner.units import SECONDS_PER_DAY

_TIME = re.compile(r"^(\d{4})(\d\d)(\d\d)(?:(\d\d)(\d\d)(?:(\d\d)(?:\.\d*)?)?)?([+-]\d{4})?$")
"""The hour alone leaves open when in it: such a time is not read, lest minutes be invented."""
_OPEN_DAY = re.compile(r"^(\d{4})(\d\d)?(?:[+-]\d{4})?$")
_CLOCK = re.compile(r"^(\d\d):?(\d\d)(?::?(\d\d)(?:\.\d*)?)?([+-]\d{4})?$")
UNITS = {
    "s": 1, "sec": 1, "second": 1, "seconds": 1, "min": 60, "minute": 60, "minutes": 60, "m": 60,
    "h": 3600, "hr": 3600, "hour": 3600, "hours": 3600, "d": SECONDS_PER_DAY, "day": SECONDS_PER_DAY,
    "days": SECONDS_PER_DAY, "wk": 7 * SECONDS_PER_DAY, "week": 7 * SECONDS_PER_DAY, "weeks": 7 * SECONDS_PER_DAY,
}  # fmt: skip
"""Seconds of a unit of time, as messages write it."""


def parse_time(text: str, sender: Sender | None, heading: str) -> Stamp | None:
    """Return the stamp of a time (TS.1 or DTM); None for an empty text. What cannot be read has no day.

    The sender counts only where the time has no offset of its own.
    """
    if not text:
        return None
    return with_sender(_parse_time(text, heading), sender)


def with_sender(stamp: Stamp | None, sender: Sender | None) -> Stamp | None:
    """Return a time that goes by its sender's offset where it has none of its own."""
    if sender is None or stamp is None or stamp.day is None or stamp.offset_s is not None:
        return stamp
    return replace(stamp, sender=sender)


@lru_cache(maxsize=4096)
def _parse_time(text: str, heading: str) -> Stamp | None:
    text = text.strip()
    if not text:
        return None
    match = _TIME.match(text)
    if match is None:
        return Stamp(text, heading=heading)
    day = _day(int(match[1]), int(match[2]), int(match[3]))
    clock_s = clock_of(match[4], match[5], match[6]) if match[4] else None
    if day is None or (match[4] and clock_s is None):
        return Stamp(text, heading=heading)
    offset_s = offset_seconds(match[7][0], match[7][1:3], match[7][3:]) if match[7] else None
    return Stamp(text, day, clock_s, offset_s, None, heading, bool(match[7]) and offset_s is None)


def birth_day(text: str) -> str:
    """Return a birth date as YYYY, YYYY-MM or YYYY-MM-DD, its clock time left off; the text itself where it is none."""
    if match := _TIME.match(text):
        return f"{match[1]}-{match[2]}-{match[3]}"
    match = _OPEN_DAY.match(text)
    return "-".join(part for part in match.groups() if part) if match else text


def parse_clock(text: str) -> int | None:
    """Return seconds after midnight of a time of day (TM): HHMM[SS] or HH:MM; None when it is none."""
    match = _CLOCK.match(text.strip())
    return clock_of(match[1], match[2], match[3]) if match else None


def parse_span(quantity: str, unit: str) -> int | None:
    """Return seconds for a quantity with its unit; None if one cannot be read or the span is no second to a year."""
    factor = UNITS.get(unit.strip().lower() or "min")
    try:
        amount = float(quantity)
    except ValueError:
        return None
    if factor is None or not 1 <= amount * factor <= 366 * SECONDS_PER_DAY:
        return None
    return round(amount * factor)


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None
