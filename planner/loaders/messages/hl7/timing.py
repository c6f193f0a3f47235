"""When an HL7 order is to be drawn: TQ1, else the quantity/timing fields of older versions, else the time fields."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import lru_cache
from typing import NamedTuple

from planner.loaders.messages.common.request import Repeat, Timing
from planner.loaders.messages.common.stamps import Sender, Stamp
from planner.loaders.messages.hl7.escapes import Separators
from planner.loaders.messages.hl7.grouping import Group
from planner.loaders.messages.hl7.segments import Segment
from planner.loaders.messages.hl7.times import parse_clock, parse_span, parse_time, with_sender
from planner.loaders.values.moments import clock_of

_EVERY = re.compile(r"^Q(\d{1,4})([SMHDW])$")
_WEEKLY = re.compile(r"^Q(\d{0,2})J([1-7])$")
_DURATION = re.compile(r"^([SMHDW])(\d{1,4})$")
_SECONDS = {"S": 1, "M": 60, "H": 3600, "D": 86_400, "W": 604_800}
_ONCE = frozenset({"", "ONCE", "1", "ONE TIME", "STAT", "NOW"})
_DAILY = frozenset({"QD", "DAILY", "QAM", "AM", "QDAY", "Q24H AM", "QHS", "QPM"})
_PER_DAY = frozenset({"BID", "TID", "QID", "5ID", "6ID", "QSHIFT"})


@dataclass(frozen=True, slots=True)
class _Quantity:
    """One quantity and timing, from TQ1 or from the field of older versions."""

    start: Stamp | None
    end: Stamp | None
    patterns: tuple[str, ...]
    clocks: tuple[int, ...]
    duration_s: int | None
    count: int | None
    heading: str
    problem: str = ""
    """What of it cannot be read, so that its times are open."""

    @property
    def says_nothing(self) -> bool:
        return not (self.start or self.end or self.clocks or self.problem or any(p not in _ONCE for p in self.patterns))


class When(NamedTuple):
    """All timings of a request; ``is_observation_time``: only OBR-7 states one, often the time of entry."""

    timings: tuple[Timing, ...]
    is_observation_time: bool = False


def timings_of(group: Group, sender: Sender | None) -> When:
    """Return when a group is to be drawn. The first source that states a time wins; a run without a start looks on."""
    quantities = list(_quantities(group, sender))
    if len(quantities) > 1:
        kind = quantities[0].heading[:3]
        quantities = [q for q in quantities if q.heading[:3] == kind]
    if not quantities:
        field = _time_field(group, sender)
        if field is None:
            return When(())
        return When((Timing(at=field, heading=field.heading),), field.heading == "OBR-7")
    found: list[Timing] = []
    for quantity in quantities:
        if quantity.start is None and quantity.end is None:
            field = _time_field(group, sender)
            quantity = replace(quantity, start=field) if field and field.heading != "OBR-7" else quantity
        found += _timings(quantity)
    return When(tuple(found))


def _quantities(group: Group, sender: Sender | None) -> Iterator[_Quantity]:
    """Yield what TQ1, ORC-7 and OBR-27 say about when, each that says anything."""
    for segment in group.timings:
        quantity = _from_tq1(tuple(segment.fields), segment.separators, segment.codec)
        if quantity is not None:
            yield _sent_by(quantity, sender)
    for owner, number in ((group.orc, 7), (group.obr, 27)):
        if owner is not None and number < len(owner.fields):
            for repetition in owner.repetitions(number):
                quantity = _from_field(owner, number, repetition, sender)
                if not quantity.says_nothing:
                    yield quantity


def _time_field(group: Group, sender: Sender | None) -> Stamp | None:
    for segment, number in ((group.obr, 36), (group.orc, 15), (group.obr, 6), (group.obr, 7)):
        if segment is not None and (text := segment.text(number)):
            return parse_time(text, sender, f"{segment.name}-{number}")
    return None


def _sent_by(quantity: _Quantity, sender: Sender | None) -> _Quantity:
    """Return a quantity whose times without an offset go by the sender's."""
    start, end = with_sender(quantity.start, sender), with_sender(quantity.end, sender)
    if start is quantity.start and end is quantity.end:
        return quantity
    return replace(quantity, start=start, end=end)


@lru_cache(maxsize=1024)
def _from_tq1(fields: tuple[str, ...], marks: Separators, codec: str) -> _Quantity | None:
    """Read a TQ1 segment; None when it says nothing. Most orders of a night have the same one: it is remembered."""
    segment = Segment("TQ1", list(fields), 0, marks, codec)
    patterns = []
    for repetition in segment.repetitions(3):
        code = segment.part(repetition).upper()
        if not code and (every := segment.part(repetition, 5)):
            seconds = parse_span(every, segment.part(repetition, 6))
            code = f"EVERY {seconds}" if seconds else f"EVERY {every} {segment.part(repetition, 6)}"
        patterns.append(code)
    times = [text for r in segment.repetitions(4) if (text := segment.part(r))]
    clocks = [parse_clock(text) for text in times]
    count = segment.text(14)
    is_run = any(p not in _ONCE for p in patterns)
    duration_s = parse_span(segment.text(6), segment.text(6, 2)) if segment.has(6) else None
    problem = ""
    if None in clocks:
        problem = f"the time of day {times[clocks.index(None)][:20]!r} (TQ1-4) is no clock time"
    elif is_run and segment.has(6) and duration_s is None:
        problem = "it repeats for a time that cannot be read (TQ1-6)"
    elif is_run and count and _count(count) is None:
        problem = f"{count[:20]!r} (TQ1-14) is no number of draws"
    found = _Quantity(
        parse_time(segment.text(7), None, "TQ1-7"),
        parse_time(segment.text(8), None, "TQ1-8"),
        tuple(patterns),
        tuple(c for c in clocks if c is not None),
        duration_s,
        _count(count),
        "TQ1-3" if is_run else "TQ1-7",
        problem,
    )
    return None if found.says_nothing else found


def _from_field(segment: Segment, number: int, repetition: str, sender: Sender | None) -> _Quantity:
    """Read the quantity/timing data type of v2.2 to v2.4: .2 interval, .3 duration, .4 start, .5 end, .12 count."""
    heading = f"{segment.name}-{number}"
    lasts = segment.part(repetition, 3).upper()
    duration = _DURATION.match(lasts)
    times = [text for text in segment.part(repetition, 2, 2).replace(" ", ",").split(",") if text]
    clocks = [parse_clock(text) for text in times]
    count = segment.part(repetition, 12) or (lasts[1:] if lasts[:1] == "X" else "")
    pattern = segment.part(repetition, 2).upper()
    problem = ""
    if None in clocks:
        problem = f"the time of day {times[clocks.index(None)][:20]!r} ({heading}.2) is no clock time"
    elif pattern not in _ONCE and lasts not in ("", "INDEF") and lasts[0] != "X" and not duration:
        problem = f"it repeats for a time that cannot be read ({heading}.3)"
    elif pattern not in _ONCE and count and _count(count) is None:
        problem = f"{count[:20]!r} ({heading}.12) is no number of draws"
    return _Quantity(
        parse_time(segment.part(repetition, 4), sender, f"{heading}.4"),
        parse_time(segment.part(repetition, 5), sender, f"{heading}.5"),
        (pattern,),
        tuple(c for c in clocks if c is not None),
        int(duration[2]) * _SECONDS[duration[1]] or None if duration else None,
        _count(count),
        heading,
        problem,
    )


def _count(text: str) -> int | None:
    """Return a number of draws; None when the text is none."""
    return int(text) if text.isdecimal() and len(text) < 7 and int(text) else None


def _timings(quantity: _Quantity) -> list[Timing]:
    if quantity.problem:
        return [Timing(is_open=quantity.problem, heading=quantity.heading)]
    patterns = [p for p in quantity.patterns if p not in _ONCE]
    if len(patterns) > 1:
        return [Timing(is_open="several repeat patterns stand side by side", heading=quantity.heading)]
    if not patterns:
        return _once(quantity)
    pattern = patterns[0]
    if pattern.startswith("PRN"):
        return [
            Timing(
                is_open="it is to be drawn as needed (PRN), and nobody has asked for it now", heading=quantity.heading
            )
        ]
    repeat = _repeat(pattern, quantity)
    if isinstance(repeat, str):
        return [Timing(is_open=repeat, heading=quantity.heading)]
    return [Timing(repeat=repeat, heading=quantity.heading)]


def _once(quantity: _Quantity) -> list[Timing]:
    start, end = quantity.start, quantity.end
    if quantity.clocks:
        if start is not None and start.day is not None:
            return [Timing(at=replace(start, clock_s=c), heading="TQ1-4") for c in quantity.clocks]
        return [Timing(repeat=Repeat(clocks=quantity.clocks, last=end), heading="TQ1-4")]
    if start is not None and end is not None:
        return [Timing(begin=start, end=end, heading=start.heading)]
    if end is not None:
        return [Timing(end=end, heading=end.heading)]
    return [Timing(at=start, heading=start.heading)] if start is not None else []


def _repeat(pattern: str, quantity: _Quantity) -> Repeat | str:
    """Return the run that a repeat pattern (HL7 table 0335) means, or why nobody can work out its times."""
    for stamp in (quantity.start, quantity.end):
        if stamp is not None and not stamp.is_plausible:
            return f"it repeats, and its time {stamp.text[:30]!r} ({stamp.heading}) cannot be read"
    first = quantity.start
    base = Repeat(first=first, last=_last(quantity), clocks=quantity.clocks, count=quantity.count)
    if pattern in _DAILY:
        return base
    if pattern == "QOD":
        return replace(base, every_days=2)
    if match := _WEEKLY.match(pattern):
        if match[1] not in ("", "1"):
            return f"the pattern {pattern} leaves open in which week it begins"
        return replace(base, weekdays=frozenset({int(match[2]) - 1}))
    if match := _EVERY.match(pattern):
        number, unit = int(match[1]), match[2]
        if number == 0:
            return f"the pattern {pattern} has no length"
        if unit in "DW":
            return replace(base, every_days=number * (7 if unit == "W" else 1))
        return _elapsed(base, number * _SECONDS[unit])
    if pattern.startswith("EVERY ") and pattern[6:].isdecimal():
        seconds = int(pattern[6:])
        if seconds % 86_400 == 0:
            return replace(base, every_days=seconds // 86_400)
        return _elapsed(base, seconds)
    if pattern in _PER_DAY and quantity.clocks:
        return base
    if pattern in _PER_DAY:
        return f"the pattern {pattern} says how often a day, but not at which times"
    return f"the repeat pattern {pattern} is not one whose times can be worked out"


def _elapsed(base: Repeat, seconds: int) -> Repeat | str:
    if base.first is None or not base.first.has_clock:
        return "it says how often, but not from which time on"
    return replace(base, every_s=seconds, clocks=())


def _last(quantity: _Quantity) -> Stamp | None:
    if quantity.end is not None or quantity.duration_s is None:
        return quantity.end
    first = quantity.start
    if first is None or not first.is_plausible:
        return None
    wall = first.wall() + timedelta(seconds=quantity.duration_s - 1)
    clock_s = clock_of(f"{wall.hour}", f"{wall.minute}", f"{wall.second}")
    return replace(first, day=wall.date(), clock_s=clock_s)
