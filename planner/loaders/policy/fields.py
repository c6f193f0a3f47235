"""How each field of the policy is written in a policy file: its keys, and how a value is read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from enum import Enum
from functools import cache, partial
from types import UnionType
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from planner.domain.orders import TimeWindow
from planner.domain.settings import Setting, Unit
from planner.loaders.values.moments import UnreadableError, clock_seconds
from planner.units import (
    FIRST_YEAR,
    LAST_YEAR,
    MICROLITRES_PER_ML,
    SECONDS_PER_DAY,
    SECONDS_PER_HOUR,
    SECONDS_PER_MINUTE,
)

SECONDS_BY_UNIT = {"minutes": SECONDS_PER_MINUTE, "seconds": 1, "hours": SECONDS_PER_HOUR}
_Number = TypeVar("_Number", int, float)
_WEEK_S = 7 * SECONDS_PER_DAY
_LARGEST_NUMBER = 1_000_000


class ValueRefusedError(ValueError):
    """A value of the policy file cannot be; the text says what was expected."""


@dataclass(frozen=True, slots=True)
class PolicyKey:
    """One way to write a field: its key in the file, and what reads a TOML value into the field's unit."""

    key: str
    field: PolicyField
    read: Callable[[Any], Any]


@dataclass(frozen=True, slots=True)
class PolicyField:
    """A field of the policy or of one of its sections, with its type and what stands beside it."""

    name: str
    kind: Any
    setting: Setting

    @property
    def is_section(self) -> bool:
        """True for a field of the policy that holds further fields."""
        return is_dataclass(self.kind)

    @property
    def key_kind(self) -> Any:
        """The type of the names in a table by name; None for other fields."""
        return get_args(self.kind)[0] if get_origin(self.kind) is Mapping else None

    @property
    def value_kind(self) -> Any:
        """The type of a value: of one entry in a table by name, without None."""
        kind = self.kind if self.key_kind is None else get_args(self.kind)[1]
        return get_args(kind)[0] if get_origin(kind) in (Union, UnionType) else kind

    @property
    def is_list(self) -> bool:
        """True when a value is a list of names or of spans."""
        return get_origin(self.value_kind) is tuple

    @property
    def is_text(self) -> bool:
        """True when a value is a text, also where it looks like a number."""
        return self.value_kind is str or (self.setting.unit is Unit.CLOCK and not self.is_list)

    @property
    def keys(self) -> list[PolicyKey]:
        """Every key under which the field may be written, the one to recommend first."""
        unit, name = self.setting.unit, self.name
        if unit is Unit.SPAN:
            stem = name.removesuffix("_s")
            readers = {f"{stem}_{word}": partial(self._span, seconds) for word, seconds in SECONDS_BY_UNIT.items()}
        elif unit is Unit.VOLUME:
            readers = {name.replace("_ul", "_ml"): partial(self._millilitres)}
        else:
            readers = {name.removesuffix("_s") if unit is Unit.CLOCK else name: partial(self._value)}
        return [PolicyKey(key, self, partial(self._read, read)) for key, read in readers.items()]

    def _read(self, read_one: Callable[[Any], Any], value: Any) -> Any:
        if self.key_kind is None:
            return read_one(value)
        if not isinstance(value, dict):
            raise ValueRefusedError(f"expected a table {{ name = value }}, not {_shown(value)}")
        return {_mapping_key(self.key_kind, key): read_one(item) for key, item in value.items()}

    def _span(self, seconds: int, value: Any) -> int:
        span_s = round(_number(value) * seconds)
        if span_s > self.setting.most:
            most = "a week" if self.setting.most == _WEEK_S else f"{self.setting.most / SECONDS_PER_HOUR:g} hours"
            raise ValueRefusedError(f"{_shown(value)} is longer than {most}; is the unit right?")
        return self._positive(span_s)

    def _millilitres(self, value: Any) -> int:
        return self._positive(round(_number(value) * MICROLITRES_PER_ML))

    def _value(self, value: Any) -> Any:
        kind = self.value_kind
        if isinstance(kind, type) and issubclass(kind, Enum):
            return _choice(self.setting.choices or tuple(kind), value)
        if kind in (int, float) and self.setting.unit is not Unit.CLOCK:
            return self._checked_number(kind, value)
        if self.name == "time_zone":
            return _zone(value)
        return _READERS[kind](value)

    def _checked_number(self, kind: type[int] | type[float], value: Any) -> float:
        number = _number(value)
        if kind is int and not isinstance(value, int):
            raise ValueRefusedError(f"expected a whole number, not {_shown(value)}")
        if number > self.setting.most:
            what = "a percentage up to" if self.setting.unit is Unit.PERCENT else "at most"
            raise ValueRefusedError(f"expected {what} {self.setting.most}, not {_shown(value)}")
        return self._positive(kind(number))

    def _positive(self, number: _Number) -> _Number:
        if self.setting.is_positive and number == 0:
            raise ValueRefusedError("expected more than 0")
        return number


@cache
def section_fields(section: type) -> tuple[PolicyField, ...]:
    """Return the fields of the policy, or of one of its sections, with their types and what stands beside them."""
    hints = get_type_hints(section)
    return tuple(PolicyField(field.name, hints[field.name], field.metadata["setting"]) for field in fields(section))


def read_clock_s(value: Any) -> int:
    """Return seconds after midnight for a text such as 08:30, 0830 or 8.30."""
    try:
        seconds = clock_seconds(value) if isinstance(value, str) else SECONDS_PER_DAY
    except UnreadableError:
        seconds = SECONDS_PER_DAY
    if seconds == SECONDS_PER_DAY:
        raise ValueRefusedError('expected a clock time in quotes, like "08:30"')
    return seconds


def _names(value: Any) -> tuple[str, ...]:
    """Return a list of names, each once, in the order written; a single name need not be a list."""
    names = [value] if isinstance(value, str) else value
    if not isinstance(names, list) or not all(isinstance(name, str) and name.strip() for name in names):
        raise ValueRefusedError('expected a list of names in quotes, like ["Ward 1", "Ward 2"]')
    return tuple(dict.fromkeys(name.strip() for name in names))


def _daily_spans(value: Any) -> tuple[TimeWindow, ...]:
    """Return the spans that recur every day as they fall on the day before, the round's day and the day after.

    ``22:00-05:00`` runs over midnight: counted from the round's midnight it is -02:00 to 05:00, 22:00 to 29:00
    and 46:00 to 53:00.
    """
    if not isinstance(value, list) or not all(isinstance(span, str) for span in value):
        raise ValueRefusedError('expected a list of spans, like ["22:00-05:00"]')
    spans = []
    for text in value:
        first, hyphen, last = text.partition("-")
        if not hyphen:
            raise ValueRefusedError(f'{text!r} is not a span like "22:00-05:00"')
        from_s, to_s = read_clock_s(first), read_clock_s(last)
        if from_s == to_s:
            raise ValueRefusedError(f"{text!r} ends when it begins")
        to_s += SECONDS_PER_DAY if to_s < from_s else 0
        for day_s in (-SECONDS_PER_DAY, 0, SECONDS_PER_DAY):
            spans.append(TimeWindow(earliest_s=from_s + day_s, latest_s=to_s + day_s))
    return tuple(sorted(spans))


def _shown(value: Any) -> str:
    """Return a value as it stands in the file."""
    return str(value).lower() if isinstance(value, bool) else repr(value)


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueRefusedError(f"expected a number, not {_shown(value)}")
    if not 0 <= value <= _LARGEST_NUMBER:
        raise ValueRefusedError(f"expected a number from 0 to {_LARGEST_NUMBER}, not {_shown(value)}")
    return value


def _mapping_key(kind: Any, text: str) -> Any:
    return _choice(tuple(kind), text.lower()) if isinstance(kind, type) and issubclass(kind, Enum) else text


def _choice(choices: tuple[Enum, ...], value: Any) -> Enum:
    for choice in choices:
        if choice.value == value:
            return choice
    raise ValueRefusedError(f"expected one of {', '.join(c.value for c in choices)}, not {_shown(value)}")


def _yes_or_no(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueRefusedError(f"expected true or false, not {_shown(value)}")
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueRefusedError(f"expected text in quotes, not {_shown(value)}")
    return value


def _zone(value: Any) -> str:
    name = _text(value)
    try:
        return ZoneInfo(name).key
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueRefusedError(f"{_shown(value)} is not a time zone like Europe/Vienna") from None


def _day(value: Any) -> date:
    if type(value) is not date:
        raise ValueRefusedError("expected a date without quotes, like 2026-03-10")
    if not FIRST_YEAR <= value.year <= LAST_YEAR:
        raise ValueRefusedError(f"{value} is no day of a round; years go from {FIRST_YEAR} to {LAST_YEAR}")
    return value


_READERS: Mapping[Any, Callable[[Any], Any]] = {
    int: read_clock_s,
    bool: _yes_or_no,
    str: _text,
    date: _day,
    tuple[str, ...]: _names,
    tuple[TimeWindow, ...]: _daily_spans,
}
