"""Repeating draws: the instants of a run that fall into the round's span, counted from its first."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from planner.loaders.messages.common.request import Repeat
from planner.loaders.messages.common.stamps import Stamp, instant
from planner.units import SECONDS_PER_DAY

MAX_DRAWS = 48
"""More draws of one order in one round can only be a slip (engineering choice)."""


def draws_between(repeat: Repeat, zone: ZoneInfo, begin: datetime, end: datetime) -> list[datetime]:
    """Return the instants (UTC) of a run from ``begin`` to ``end``, both included; at most `MAX_DRAWS` + 1 of them.

    The run counts from its first draw: hours by elapsed time, so that every six hours stay six hours when the
    clocks change; days by the calendar, so that 06:00 stays 06:00.
    """
    last = _last(repeat, zone)
    if repeat.every_s is not None:
        found = _elapsed(repeat, zone, begin, end)
    else:
        found = _by_calendar(repeat, zone, begin, end)
    return [at for at in found if last is None or at <= last]


def days_with_draw(repeat: Repeat, day: date) -> bool:
    """Return whether a run without clock times has a draw on a day."""
    first, last = repeat.first, repeat.last
    start = first.day if first and first.day else day
    if day < start or (last and last.day and day > last.day):
        return False
    if repeat.weekdays:
        return day.weekday() in repeat.weekdays
    index, rest = divmod((day - start).days, repeat.every_days)
    return rest == 0 and (repeat.count is None or index < repeat.count)


def _last(repeat: Repeat, zone: ZoneInfo) -> datetime | None:
    stamp = repeat.last
    if stamp is None or not stamp.is_plausible:
        return None
    if stamp.has_clock:
        return instant(stamp, zone)
    whole_day = Stamp(stamp.text, stamp.day, SECONDS_PER_DAY, stamp.offset_s, stamp.sender)
    return instant(whole_day, zone)


def _elapsed(repeat: Repeat, zone: ZoneInfo, begin: datetime, end: datetime) -> list[datetime]:
    if repeat.first is None or not repeat.first.is_plausible or not repeat.every_s:
        return []
    first = instant(repeat.first, zone)
    step = timedelta(seconds=repeat.every_s)
    index = max(0, -((first - begin) // step))
    found: list[datetime] = []
    while (at := first + index * step) <= end and len(found) <= MAX_DRAWS:
        if repeat.count is not None and index >= repeat.count:
            break
        if at >= begin:
            found.append(at)
        index += 1
    return found


def _by_calendar(repeat: Repeat, zone: ZoneInfo, begin: datetime, end: datetime) -> list[datetime]:
    first = repeat.first
    is_dated = first is not None and first.is_plausible
    start = instant(first, zone) if first is not None and is_dated else None
    day, final = begin.astimezone(zone).date(), end.astimezone(zone).date()
    day = max(day, start.astimezone(zone).date()) if start else day
    found: list[datetime] = []
    while day <= final and len(found) <= MAX_DRAWS:
        if days_with_draw(_uncounted(repeat), day):
            found += [at for at in _on(repeat, day, zone) if begin <= at <= end and (start is None or at >= start)]
        day += timedelta(days=1)
    if repeat.count is None or start is None:
        return found
    return [at for at in found if _index(repeat, at, start, zone) < repeat.count]


def _uncounted(repeat: Repeat) -> Repeat:
    """Return the run without its number: where a day has several draws, they are counted one by one."""
    return Repeat(repeat.first, None, None, repeat.every_days, repeat.clocks, repeat.weekdays)


def _clocks(repeat: Repeat) -> tuple[int, ...]:
    if repeat.clocks:
        return tuple(sorted(set(repeat.clocks)))
    clock_s = repeat.first.clock_s if repeat.first else None
    return () if clock_s is None else (clock_s,)


def _on(repeat: Repeat, day: date, zone: ZoneInfo) -> list[datetime]:
    first = repeat.first
    found: list[datetime] = []
    for clock_s in _clocks(repeat):
        if first is not None and first.has_clock and not repeat.clocks:
            stamp = Stamp("", day, clock_s, first.offset_s if _is_foreign(first, zone) else None, first.sender)
            found.append(instant(stamp, zone))
        else:
            days, rest = divmod(clock_s, SECONDS_PER_DAY)
            wall = datetime.combine(day + timedelta(days=days), time(rest // 3600, rest // 60 % 60, rest % 60), zone)
            found.append(wall.astimezone(UTC))
    return found


def _is_foreign(first: Stamp, zone: ZoneInfo) -> bool:
    """Return whether a stamp's own offset is not what the site's clocks show: then it stays what it is."""
    if first.offset_s is None or not first.is_plausible:
        return False
    shown = instant(first, zone).astimezone(zone).utcoffset()
    return shown is not None and round(shown.total_seconds()) != first.offset_s


def _index(repeat: Repeat, at: datetime, start: datetime, zone: ZoneInfo) -> int:
    """Return how many draws of the run lie before one; only runs of a few draws are counted, so this is quick."""
    limit = (repeat.count or 0) + 1
    day, number = start.astimezone(zone).date(), 0
    while day <= at.astimezone(zone).date() and number < limit:
        if days_with_draw(_uncounted(repeat), day):
            number += sum(start <= other < at for other in _on(repeat, day, zone))
        day += timedelta(days=1)
    return number
