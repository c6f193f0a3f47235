"""What is typed behind an option, such as ``14:POT,LACT``, to a change; what cannot be read is said with an example."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from planner.domain.revisions.changes import (
    Away,
    Cancel,
    Change,
    Courier,
    Dose,
    Gone,
    Join,
    Late,
    Lost,
    Moved,
    NeverCame,
    NewBed,
    Recollect,
    StatOrders,
    Timing,
)
from planner.domain.staff import Phlebotomist, find_people
from planner.loaders.values.moments import UnreadableError, clock_seconds
from planner.units import SECONDS_PER_DAY, SECONDS_PER_HOUR, minutes_to_s

_SPAN = re.compile(r"^(.+?)\s*(?:-|–|—|\bto\b)\s*(.+)$")
_MINUTES = re.compile(r"^\+?\s*(\d{1,3})\s*(?:min|mins|minutes|m)?\.?$", re.IGNORECASE)
_BY = re.compile(r"^(.*\S)\s+by\s+([^\s=][^=]*)$", re.IGNORECASE)
_AGAIN = re.compile(r"\s+again\s*$", re.IGNORECASE)
_LONGEST_DELAY_MINUTES = 240
"""A longer one is a clock time without its colon (engineering choice)."""
_LONGEST_NIGHT_S = 12 * SECONDS_PER_HOUR
"""An absence that ends before it begins goes on over midnight; a longer one is a slip (engineering choice)."""
_CONTROLS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")
_NO_MORE = frozenset({"none", "cancelled", "canceled", "no more", "-"})


class ShorthandError(ValueError):
    """A text cannot be read as the change that it stands for; the message says how to write it."""


def parse_clock(text: str) -> int:
    """Return seconds on the wall's clock for 05:42, 5.42 or 0542.

    Raises
    ------
    ShorthandError
        If the text is no clock time.
    """
    try:
        return clock_seconds(text)
    except UnreadableError as error:
        raise ShorthandError(f"{text.strip()!r} is not a clock time; write HH:MM, such as 05:42") from error


def parse_stat(text: str) -> StatOrders:
    """Read ``BED:TEST[,TEST]``; ``again`` behind it asks once more for what was asked for before."""
    bed, colon, tests = text.partition(":")
    listed = tuple(part.strip() for part in re.split("[,;]", _AGAIN.sub("", tests)) if part.strip())
    if not bed.strip() or not colon or not listed:
        raise ShorthandError(f"{text!r}: write bed, colon and tests, such as 14:POT,LACT")
    return StatOrders(bed=bed.strip(), tests=listed, is_again=_AGAIN.search(tests) is not None)


def parse_cancel(text: str) -> Cancel:
    """Read an order number."""
    return Cancel(order_id=_filled(text, "write the number of the order"))


def parse_dose(text: str) -> Dose:
    """Read ``ORDER=HH:MM``."""
    order, value = _pair(text, "L4711=07:30")
    return Dose(order_id=order, at_wall_s=parse_clock(value))


def parse_time(text: str) -> Timing:
    """Read ``ORDER=HH:MM``."""
    order, value = _pair(text, "L4711=06:15")
    return Timing(order_id=order, at_wall_s=parse_clock(value))


def parse_recollect(text: str) -> Recollect:
    """Read an order number."""
    return Recollect(order_id=_filled(text, "write the number of the order"))


def parse_away(text: str) -> Away:
    """Read ``BED=HH:MM-HH:MM``, or ``BED=HH:MM``: from now until then."""
    bed, span = _pair(text, "14=06:30-07:15, or 14=07:15 for until then")
    if not _SPAN.match(span):
        return Away(bed=bed, from_wall_s=None, to_wall_s=parse_clock(span))
    from_s, to_s = _span(span, "14=06:30-07:15")
    if to_s < from_s and to_s + SECONDS_PER_DAY - from_s > _LONGEST_NIGHT_S:
        raise ShorthandError(f"{text!r}: it ends before it begins; write it as 14=06:30-07:15")
    return Away(bed=bed, from_wall_s=from_s, to_wall_s=to_s)


def parse_moved(text: str) -> Moved | Gone:
    """Read ``BED=BED``; nothing behind the sign: the patient is gone."""
    bed, sign, to = (part.strip() for part in text.partition("="))
    if not bed or not sign:
        raise ShorthandError(f"{text!r}: write the old and the new bed, such as 14=16")
    return Moved(bed=bed, to=to) if to else Gone(bed=bed)


def parse_new_bed(text: str) -> NewBed:
    """Read a bed, with its ward."""
    return NewBed(bed=_filled(text, "write ward and bed"))


def parse_gone(text: str) -> Gone:
    """Read a bed."""
    return Gone(bed=_filled(text, "write the bed of the patient"))


def parse_late(text: str) -> Late:
    """Read ``NAME=MINUTES`` or ``NAME=HH:MM``; a bare number of up to three digits is minutes, of four a clock time."""
    name, value = _pair(text, "AB=20")
    match = _MINUTES.match(value)
    if match is None:
        try:
            return Late(name=name, until_wall_s=parse_clock(value))
        except ShorthandError:
            raise ShorthandError(f"{text!r}: write minutes or a clock time, such as AB=20 or AB=06:10") from None
    minutes = int(match[1])
    if not minutes:
        raise ShorthandError(f"{text!r}: write minutes or a clock time, such as AB=20 or AB=06:10")
    if minutes > _LONGEST_DELAY_MINUTES:
        hint = f" Did you mean {name}={minutes // 100:02}:{minutes % 100:02}?" if minutes % 100 < 60 else ""
        raise ShorthandError(f"{text!r}: {minutes} minutes are longer than a delay can be.{hint}")
    return Late(name=name, minutes=minutes)


def parse_lost(text: str) -> Lost:
    """Read a name or initials."""
    return Lost(name=_filled(text, "write the name or initials"))


def parse_never_came(text: str) -> NeverCame:
    """Read a name or initials."""
    return NeverCame(name=_filled(text, "write the name or initials"))


def parse_join(text: str) -> Join:
    """Read ``NAME=HH:MM`` or ``NAME=HH:MM-HH:MM``."""
    name, value = _pair(text, "Nora West=06:00-08:30")
    if not _SPAN.match(value):
        return Join(name=name, from_wall_s=parse_clock(value))
    from_s, until_s = _span(value, "Nora West=06:00-08:30")
    return Join(name=name, from_wall_s=from_s, until_wall_s=until_s)


def parse_courier(text: str) -> Courier:
    """Read ``PLACE=HH:MM[,HH:MM]``, ``PLACE=+MINUTES`` or ``PLACE=none``."""
    place, value = _pair(text, "Courier shelf=06:20,07:05")
    if value.casefold() in _NO_MORE:
        return Courier(place=place)
    if value.startswith("+"):
        if (match := _MINUTES.match(value)) is None or not int(match[1]):
            raise ShorthandError(f"{text!r}: write a delay in minutes, such as Courier shelf=+15")
        return Courier(place=place, delay_s=minutes_to_s(int(match[1])))
    times = [parse_clock(part) for part in re.split("[,;]", value) if part.strip()]
    return Courier(place=place, departs_wall_s=tuple(dict.fromkeys(times)))


def _filled(text: str, what: str) -> str:
    if not text.strip():
        raise ShorthandError(f"{text!r} is empty; {what}")
    return text.strip()


def _pair(text: str, example: str) -> tuple[str, str]:
    left, _, right = (part.strip() for part in text.partition("="))
    if not left or not right:
        raise ShorthandError(f"{text!r}: write it as {example}")
    return left, right


def _span(text: str, example: str) -> tuple[int, int]:
    match = _SPAN.match(text)
    if match is None:
        raise ShorthandError(f"{text!r} is not a span; write it as {example}")
    from_s, to_s = parse_clock(match[1]), parse_clock(match[2])
    if from_s == to_s:
        raise ShorthandError(f"{text!r} is no span: both ends are one time; write it as {example}")
    return from_s, to_s


@dataclass(frozen=True, slots=True)
class ReportTyped:
    """What an option says that reports an outcome: the bed, the clock time (None: not stated) and who it was."""

    bed: str
    wall_s: int | None = None
    by: str = ""


def parse_report(option: str, text: str) -> ReportTyped:
    """Read ``BED``, ``BED=HH:MM`` or either with `` by NAME``; a draw needs the time or the name."""
    match = _BY.match(text)
    stem, by = (match[1], match[2].strip()) if match else (text.strip(), "")
    bed, sign, value = (part.strip() for part in stem.rpartition("="))
    if not sign and (option != "drawn" or by):
        return ReportTyped(_filled(stem, "write the bed"), None, by)
    if not bed or not value:
        raise ShorthandError(f"{text!r}: write it as 14=05:38, or 14=05:38 by AB")
    return ReportTyped(bed, parse_clock(value), by)


def parse_up_to(text: str, staff: Sequence[Phlebotomist]) -> tuple[tuple[int, int], ...]:
    """Read ``NAME=HH:MM[,NAME=HH:MM]``: who has come how far, by the place in the staff.

    Nothing where one of these is no person or no time. A name may hold a comma.
    """
    found: list[tuple[int, int]] = []
    begun = ""
    for part in re.split("[,;]", text):
        name, sign, value = (piece.strip() for piece in f"{begun}{part}".rpartition("="))
        people = find_people(staff, name) if sign and name else ()
        try:
            found += [(people[0], clock_seconds(value))] if len(people) == 1 else []
        except UnreadableError:
            return ()
        begun = "" if len(people) == 1 else f"{begun}{part},"
    return () if begun.strip(" ,;") else tuple(found)


def _typed(read: Callable[[str], Change]) -> Callable[[str], Change]:
    """Return a parser that takes no text with a control character, which nobody sees, for a code."""

    def parse(text: str) -> Change:
        if _CONTROLS.search(text):
            raise ShorthandError(f"{text!r}: it holds a control character; write it again without")
        return read(text)

    return parse


_READERS: Mapping[str, Callable[[str], Change]] = {
    "stat": parse_stat,
    "dose": parse_dose,
    "time": parse_time,
    "cancel": parse_cancel,
    "away": parse_away,
    "moved": parse_moved,
    "new-bed": parse_new_bed,
    "gone": parse_gone,
    "late": parse_late,
    "lost": parse_lost,
    "never-came": parse_never_came,
    "join": parse_join,
    "courier": parse_courier,
    "recollect": parse_recollect,
}
PARSERS: Mapping[str, Callable[[str], Change]] = {option: _typed(read) for option, read in _READERS.items()}
"""By the option's name."""
