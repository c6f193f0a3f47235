"""Times as messages write them, and the instant that each means: own offset, the sender's, or the site's zone."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from functools import lru_cache
from zoneinfo import ZoneInfo

from planner.units import FIRST_YEAR, LAST_YEAR, SECONDS_PER_DAY, Moment

"""Outside these years a time is only repeated as it stands; the builder refuses it as absurd."""


@dataclass(frozen=True, slots=True)
class Sender:
    """The offset from UTC that the message as a whole states, and when it was sent.

    Times of two messages are the same when their texts and offsets are; when they were sent is not compared.
    """

    offset_s: int
    sent: datetime = field(compare=False)


@dataclass(frozen=True, slots=True)
class Stamp:
    """A time of a message. ``day`` is None when the text cannot be read; ``clock_s`` is None for a date alone.

    ``clock_s`` are seconds after midnight, 86,400 for the end of the day; ``offset_s`` seconds east of UTC.
    ``is_offset_bad`` is True when an offset is written that no clock can have; it then counts as none.
    """

    text: str
    day: date | None = None
    clock_s: int | None = None
    offset_s: int | None = None
    sender: Sender | None = None
    heading: str = ""
    is_offset_bad: bool = False

    @property
    def has_clock(self) -> bool:
        """True when it states an instant, not only a day."""
        return self.day is not None and self.clock_s is not None

    def wall(self) -> datetime:
        """Return the date and clock time as written, without any zone; the day must be known."""
        return _wall(self.day or date.min, self.clock_s or 0)

    @property
    def is_plausible(self) -> bool:
        """True when the year is one that a computer can reckon with in any zone."""
        return self.day is not None and FIRST_YEAR <= self.day.year <= LAST_YEAR


@lru_cache(maxsize=4096)
def _wall(day: date, clock_s: int) -> datetime:
    days, rest = divmod(clock_s, SECONDS_PER_DAY)
    return datetime.combine(day + timedelta(days=days), time(rest // 3600, rest // 60 % 60, rest % 60))


@lru_cache(maxsize=256)
def _fixed(offset_s: int) -> timezone:
    return timezone(timedelta(seconds=offset_s))


@lru_cache(maxsize=4096)
def _offset_of(zone: ZoneInfo, at: datetime) -> int:
    offset = at.astimezone(zone).utcoffset()
    return 0 if offset is None else round(offset.total_seconds())


def instant(stamp: Stamp, zone: ZoneInfo) -> datetime:
    """Return the instant in UTC of a plausible stamp; a date alone means its first moment.

    A stamp without an offset takes the sender's. Where that is what the site's clocks showed when the message was
    sent, the sender goes by the site's clocks, so the zone itself counts: it knows the nights in which clocks change.
    """
    offset_s, sender = stamp.offset_s, stamp.sender
    if offset_s is None and sender and _offset_of(zone, sender.sent) != sender.offset_s:
        offset_s = sender.offset_s
    return _instant(stamp.wall(), zone if offset_s is None else _fixed(offset_s))


@lru_cache(maxsize=4096)
def _instant(wall: datetime, zone: tzinfo) -> datetime:
    return wall.replace(tzinfo=zone).astimezone(UTC)


_QUARTERS = frozenset({20_700, 31_500, 45_900})
"""Offsets in use that are no whole or half hour: 5:45, 8:45 and 12:45 east (tz database)."""
_FARTHEST_EAST_S, _FARTHEST_WEST_S = 14 * 3600, -12 * 3600


def offset_seconds(sign: str, hours: str, minutes: str) -> int | None:
    """Return seconds east of UTC of an offset as written; None for one that no clock can have."""
    seconds = int(hours) * 3600 + int(minutes) * 60
    if seconds > _FARTHEST_EAST_S or int(minutes) > 59:
        return None
    return -seconds if sign == "-" else seconds


def odd_offset(stamp: Stamp) -> str:
    """Return what is odd about the offset that is written with a time; empty if nothing."""
    if stamp.is_offset_bad:
        return "has an offset from UTC that no clock has; it is taken as local time"
    offset_s = stamp.offset_s
    if offset_s is None or offset_s in _QUARTERS or (offset_s % 1800 == 0 and offset_s >= _FARTHEST_WEST_S):
        return ""
    return "has an offset from UTC that no place has; it is taken as written"


def clock_change(stamp: Stamp, zone: ZoneInfo) -> str:
    """Return what is odd about a wall time without an offset in the night of a clock change; empty if nothing."""
    if not stamp.has_clock or not stamp.is_plausible or stamp.offset_s is not None:
        return ""
    wall = stamp.wall()
    early, late = wall.replace(tzinfo=zone), wall.replace(tzinfo=zone, fold=1)
    if early.utcoffset() == late.utcoffset():
        return ""
    exists = early.astimezone(UTC).astimezone(zone).replace(tzinfo=None) == wall
    if exists:
        return "exists twice in the night in which the clocks go back; the first of the two is meant here"
    return "does not exist in the night in which the clocks go forward; the same time after the jump is taken"


def cell_of(stamp: Stamp, zone: ZoneInfo) -> str:
    """Return the text of an order table's cell for a stamp: a date, a local time with its offset, or the raw text."""
    if stamp.day is None:
        return stamp.text
    if stamp.clock_s is None:
        return stamp.day.isoformat()
    if not stamp.is_plausible:
        return stamp.wall().isoformat(sep=" ") if stamp.day.year < 9999 else stamp.text
    return local_cell(instant(stamp, zone), zone)


def moment_of(stamp: Stamp, zone: ZoneInfo) -> Moment | None:
    """Return the date and clock time of a stamp, with the offset of the site's clocks; None where it has none.

    A date alone stays one. A time that no computer can reckon with in any zone has none: only its text is kept.
    """
    if stamp.day is None or not stamp.is_plausible:
        return None
    if stamp.clock_s is None:
        return Moment(stamp.day, None)
    return local_moment(instant(stamp, zone), zone)


@lru_cache(maxsize=4096)
def local_moment(at: datetime, zone: ZoneInfo) -> Moment:
    """Return an instant as the site's clocks show it, with their offset."""
    local = at.astimezone(zone)
    offset = local.utcoffset()
    assert offset is not None
    return Moment(local.date(), local.hour * 3600 + local.minute * 60 + local.second, timezone(offset))


@lru_cache(maxsize=4096)
def local_cell(at: datetime, zone: ZoneInfo) -> str:
    """Return an instant as the site's clocks show it, with the offset: '2026-03-29 06:00:00+02:00'."""
    return at.astimezone(zone).isoformat(sep=" ", timespec="seconds")
