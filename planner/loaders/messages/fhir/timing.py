"""When a FHIR request is to be drawn: occurrence[x] as a time, a period or a Timing that repeats."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta

from planner.loaders.messages.common.request import Repeat, Timing
from planner.loaders.messages.common.stamps import Stamp
from planner.loaders.messages.fhir.json_text import Json
from planner.loaders.messages.fhir.values import has_any, object_of, parse_time, text_of, texts_of
from planner.loaders.messages.hl7.times import parse_clock, parse_span
from planner.loaders.values.moments import clock_of

_DAYS = {day: number for number, day in enumerate(("mon", "tue", "wed", "thu", "fri", "sat", "sun"))}
_OCCURRENCES = ("occurrenceDateTime", "occurrencePeriod", "occurrenceTiming")
_MORNING = frozenset({"MORN", "MORN.early", "MORN.late", "WAKE", "ACM"})
"""FHIR event-timing: codes that the round before breakfast serves."""
_DIGITS = re.compile(r"^\d{1,9}(\.\d{1,9})?$")
_UNITS = {"s": "s", "min": "min", "h": "h", "d": "d", "wk": "wk"}
"""FHIR units-of-time that have a fixed length."""


def timings_of(resource: Json) -> tuple[Timing, ...]:
    """Return the timings of a ServiceRequest."""
    if (found := resource.get("asNeededBoolean")) is True or (
        has_any(resource, "asNeededCodeableConcept", "asNeededFor")
    ):
        where = "asNeededBoolean" if found is True else "asNeeded"
        return (Timing(is_open="it is to be drawn as needed, and nobody has asked for it now", heading=where),)
    stated = [name for name in _OCCURRENCES if has_any(resource, name)]
    if len(stated) > 1:
        return (Timing(is_open=f"its time is stated in several ways ({', '.join(stated)})", heading=stated[0]),)
    if stamp := parse_time(text_of(resource, "occurrenceDateTime"), "occurrenceDateTime"):
        return (Timing(at=stamp, heading="occurrenceDateTime"),)
    if period := object_of(resource, "occurrencePeriod"):
        return _period(period, "occurrencePeriod")
    return _timing(object_of(resource, "occurrenceTiming"))


def _period(period: Json, heading: str) -> tuple[Timing, ...]:
    begin, end = (parse_time(text_of(period, name), f"{heading}.{name}") for name in ("start", "end"))
    if begin is None and end is None:
        return ()
    if begin and end and not begin.has_clock and begin.day and begin.day == end.day and not end.has_clock:
        return (Timing(at=begin, heading=heading),)
    return (Timing(begin=begin, end=end, heading=heading),)


def _timing(timing: Json) -> tuple[Timing, ...]:
    heading = "occurrenceTiming"
    events = [parse_time(text, f"{heading}.event") for text in texts_of(timing, "event")]
    if events:
        return tuple(Timing(at=event, heading=f"{heading}.event") for event in events if event)
    rules = object_of(timing, "repeat")
    if not rules:
        if has_any(timing, "code"):
            return (Timing(is_open="a code says how often, but not at which times", heading=f"{heading}.code"),)
        return ()
    heading = f"{heading}.repeat"
    repeat = _repeat(rules, heading)
    if isinstance(repeat, str):
        return (Timing(is_open=repeat, heading=heading),)
    return (Timing(repeat=repeat, heading=heading),)


def _unreadable(rules: Json) -> str:
    """Return what of a repeat cannot be read, so that its times are open; empty if nothing."""
    for item in _items(rules, "timeOfDay"):
        if not isinstance(item, str) or parse_clock(item) is None:
            return f"its time of day {item!r:.20} is no clock time"
    for item in _items(rules, "dayOfWeek"):
        if not isinstance(item, str) or item.strip()[:3].lower() not in _DAYS:
            return f"its day of the week {item!r:.20} is not known"
    for name in ("frequency", "count", "countMax"):
        if has_any(rules, name) and _whole(rules, name) is None:
            return f"its {name} {rules[name]!r:.20} is no number of draws"
    bounds = object_of(rules, "boundsPeriod")
    for name in ("start", "end"):
        stamp = parse_time(text_of(bounds, name), name)
        if stamp is not None and not stamp.is_plausible:
            return f"the {name} of its bounds {stamp.text[:30]!r} is no date"
    if has_any(rules, "boundsRange"):
        return "it lasts for a range of times, so its end is open"
    duration = object_of(rules, "boundsDuration")
    if duration and not (_after(Stamp("", date(2000, 1, 1)), duration) and has_any(bounds, "start")):
        return "it lasts for some time, but nobody can tell from when or how long"
    if has_any(rules, "timeOfDay") and has_any(rules, "when"):
        return "its times are stated by the clock and by events of the day"
    return ""


def _items(rules: Json, name: str) -> list[object]:
    found = rules.get(name)
    return found if isinstance(found, list) else [] if found in (None, "") else [found]


def _repeat(rules: Json, heading: str) -> Repeat | str:
    if problem := _unreadable(rules):
        return problem
    bounds = object_of(rules, "boundsPeriod")
    first = parse_time(text_of(bounds, "start"), f"{heading}.boundsPeriod.start")
    last = parse_time(text_of(bounds, "end"), f"{heading}.boundsPeriod.end")
    clocks = tuple(c for text in texts_of(rules, "timeOfDay") if (c := parse_clock(text)) is not None)
    weekdays = frozenset(_DAYS[d] for text in texts_of(rules, "dayOfWeek") if (d := text[:3].lower()) in _DAYS)
    base = Repeat(
        first=first,
        last=last or _after(first, object_of(rules, "boundsDuration")),
        clocks=clocks,
        weekdays=weekdays,
        count=_whole(rules, "countMax") or _whole(rules, "count"),
    )
    frequency, unit = _whole(rules, "frequency") or 1, text_of(rules, "periodUnit")
    if clocks and unit in ("", "d") and _number(rules, "period") in (None, 1):
        return base
    if unit:
        return _every(base, rules, frequency, unit)
    return _by_event(rules) or base


def _every(base: Repeat, rules: Json, frequency: int, unit: str) -> Repeat | str:
    """Return a run of so many draws a period."""
    number = _number(rules, "period")
    seconds = parse_span(str(number), _UNITS[unit]) if unit in _UNITS and number is not None else None
    if seconds is None:
        return f"the period of {rules.get('period')!r:.20} {unit[:10]} is not one whose times can be worked out"
    if has_any(rules, "frequencyMax", "periodMax"):
        return "the number or the period is a range, so the times are open"
    if seconds % 86_400 == 0:
        if frequency > 1 and not base.clocks:
            return f"it says how often in {number:g} {unit}, but not at which times"
        if not base.clocks and (problem := _by_event(rules)):
            return problem
        return replace(base, every_days=seconds // 86_400)
    if frequency > 1:
        return f"it says how often in {number:g} {unit}, but not at which times"
    if base.first is None or not base.first.has_clock:
        return "it says how often, but not from which time on"
    return replace(base, every_s=seconds, clocks=(), weekdays=frozenset())


def _by_event(rules: Json) -> str:
    """Return why events of the day (FHIR event-timing) leave the time open; empty where a morning's round serves."""
    events = texts_of(rules, "when")
    if len(events) > 1:
        return "several times of the day are named by events, not by the clock"
    if events and events[0] not in _MORNING:
        return f"its time is named by an event of the day ({events[0][:10]}), not by the clock"
    return ""


def _after(first: Stamp | None, duration: Json) -> Stamp | None:
    """Return the last instant of a run that lasts so long."""
    unit = text_of(duration, "code") or text_of(duration, "unit")
    seconds = parse_span(str(duration.get("value")), unit) if duration else None
    if first is None or seconds is None:
        return None
    wall = first.wall() + timedelta(seconds=seconds - 1)
    clock_s = clock_of(str(wall.hour), str(wall.minute), str(wall.second)) if first.has_clock else None
    return replace(first, day=wall.date(), clock_s=clock_s)


def _number(value: Json, name: str) -> float | None:
    """Return a number, also where it is written as a text; None when it is none."""
    found = value.get(name)
    if isinstance(found, str) and _DIGITS.match(found.strip()):
        return float(found)
    return float(found) if isinstance(found, int | float) and not isinstance(found, bool) and abs(found) < 1e9 else None


def _whole(value: Json, name: str) -> int | None:
    found = _number(value, name)
    return int(found) if found is not None and found.is_integer() and 0 < found < 10**6 else None
