"""How each field of the policy is written in a policy file: its keys, and how a value is read or shown."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import Field, dataclass, fields
from datetime import date
from enum import Enum
from types import UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from planner.domain.orders import TimeWindow
from planner.units import MICROLITRES_PER_ML, SECONDS_PER_DAY, SECONDS_PER_HOUR, SECONDS_PER_MINUTE

SECONDS_BY_UNIT = {"seconds": 1, "minutes": SECONDS_PER_MINUTE, "hours": SECONDS_PER_HOUR}
LONGEST_SPAN_S = 7 * SECONDS_PER_DAY
LARGEST_NUMBER = 1_000_000
LARGEST_BY_NAME = {"phlebotomists": 40}
"""A larger number is a slip (engineering choice)."""
CHOICES = {"routine_device": ("straight", "winged"), "weight_table_cultures": ("a", "b")}
POSITIVE = frozenset(
    {
        "adult_ml_per_kg_tbv",
        "anaemia_reference_g_l",
        "bed_spacing_m",
        "child_ml_per_kg_tbv",
        "max_sends",
        "max_tubes_per_draw",
        "phlebotomists",
        "spare_one_in",
        "speed_m_per_s",
        "tray_limit",
    }
)
"""Fields for which nothing at all makes no sense either."""


class ValueRefusedError(ValueError):
    """A value of the policy file cannot be; the text says what was expected."""


@dataclass(frozen=True, slots=True)
class PolicyKey:
    """One way to write a field: its key in the file, and what reads a TOML value into the field's unit."""

    key: str
    field: str
    read: Callable[[Any], Any]


def section_fields(section: type) -> list[tuple[Field[Any], Any]]:
    """Return the fields of a policy section with their resolved types."""
    hints = get_type_hints(section)
    return [(field, hints[field.name]) for field in fields(section)]


def keys_of(name: str, kind: Any) -> list[PolicyKey]:
    """Return every key under which a field may be written, the one to recommend first."""
    reader = _value_reader(name, kind)
    if get_origin(kind) in (Mapping, dict):
        key_kind, value_kind = get_args(kind)
        if value_kind == tuple[TimeWindow, ...]:
            return [PolicyKey(name, name, _mapping_reader(key_kind, read_daily_spans))]
        return [PolicyKey(k.key, name, _mapping_reader(key_kind, k.read)) for k in keys_of(name, value_kind)]
    if kind == tuple[str, ...]:
        return [PolicyKey(name, name, read_names)]
    if name.endswith("_at_s") or name == "needed_by_s":
        return [PolicyKey(name.removesuffix("_s"), name, read_clock_s)]
    if name.endswith("_s") and not name.endswith("_per_s"):
        stem = name.removesuffix("_s")
        units = ("minutes", "seconds", "hours")
        return [PolicyKey(f"{stem}_{unit}", name, _span_reader(SECONDS_BY_UNIT[unit])) for unit in units]
    if re.search(r"_ul(_|$)", name):
        return [PolicyKey(re.sub(r"_ul(?=_|$)", "_ml", name), name, _millilitres_reader())]
    return [PolicyKey(name, name, reader)]


def read_clock_s(value: Any) -> int:
    """Return seconds after midnight for a text HH:MM."""
    match = re.fullmatch(r"([01]?\d|2[0-3]):([0-5]\d)", value.strip()) if isinstance(value, str) else None
    if match is None:
        raise ValueRefusedError('expected a clock time in quotes, like "08:30"')
    return int(match[1]) * SECONDS_PER_HOUR + int(match[2]) * SECONDS_PER_MINUTE


def read_names(value: Any) -> tuple[str, ...]:
    """Return a list of names, each once, in the order written; a single name need not be a list."""
    names = [value] if isinstance(value, str) else value
    if not isinstance(names, list) or not all(isinstance(name, str) and name.strip() for name in names):
        raise ValueRefusedError('expected a list of names in quotes, like ["Ward 1", "Ward 2"]')
    return tuple(dict.fromkeys(name.strip() for name in names))


def read_daily_spans(value: Any) -> tuple[TimeWindow, ...]:
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
    if not 0 <= value <= LARGEST_NUMBER:
        raise ValueRefusedError(f"expected a number from 0 to {LARGEST_NUMBER}, not {_shown(value)}")
    return value


def _span_reader(seconds_per_unit: int) -> Callable[[Any], int]:
    def read(value: Any) -> int:
        span_s = round(_number(value) * seconds_per_unit)
        if span_s > LONGEST_SPAN_S:
            raise ValueRefusedError(f"{_shown(value)} is longer than a week; is the unit right?")
        return span_s

    return read


def _millilitres_reader() -> Callable[[Any], int]:
    return lambda value: round(_number(value) * MICROLITRES_PER_ML)


def _mapping_reader(key_kind: Any, read: Callable[[Any], Any]) -> Callable[[Any], dict[Any, Any]]:
    def read_all(value: Any) -> dict[Any, Any]:
        if not isinstance(value, dict):
            raise ValueRefusedError(f"expected a table {{ name = value }}, not {_shown(value)}")
        return {_mapping_key(key_kind, key): read(item) for key, item in value.items()}

    return read_all


def _mapping_key(kind: Any, text: str) -> Any:
    if not (isinstance(kind, type) and issubclass(kind, Enum)):
        return text
    try:
        return kind(text.lower())
    except ValueError:
        raise ValueRefusedError(f"{text!r} is not one of: {', '.join(m.value for m in kind)}") from None


def _value_reader(name: str, kind: Any) -> Callable[[Any], Any]:
    if get_origin(kind) in (Union, UnionType):
        kind = next(member for member in get_args(kind) if member is not type(None))
    if isinstance(kind, type) and issubclass(kind, Enum):
        return lambda value: _choice(kind, value)
    return {
        bool: _yes_or_no,
        int: lambda value: _whole(name, value),
        float: lambda value: _decimal(name, value),
        str: lambda value: _text(name, value),
        date: _day,
    }.get(kind, _unreadable)


def _choice(kind: type[Enum], value: Any) -> Any:
    for choice in kind:
        if choice.value == value:
            return choice
    raise ValueRefusedError(f"expected one of {', '.join(c.value for c in kind)}, not {_shown(value)}")


def _unreadable(value: Any) -> Any:
    raise ValueRefusedError("this field cannot be set in a policy file")


def _yes_or_no(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueRefusedError(f"expected true or false, not {_shown(value)}")
    return value


def _whole(name: str, value: Any) -> int:
    number = _number(value)
    if not isinstance(value, int):
        raise ValueRefusedError(f"expected a whole number, not {_shown(value)}")
    if number > (most := LARGEST_BY_NAME.get(name, LARGEST_NUMBER)):
        raise ValueRefusedError(f"expected at most {most}, not {value!r}")
    return int(_positive(name, number))


def _decimal(name: str, value: Any) -> float:
    number = float(_positive(name, _number(value)))
    if name.endswith("_pct") and number > 100:
        raise ValueRefusedError(f"expected a percentage up to 100, not {_shown(value)}")
    return number


def _positive(name: str, number: float) -> float:
    if name in POSITIVE and number == 0:
        raise ValueRefusedError("expected more than 0")
    return number


def _text(name: str, value: Any) -> str:
    if not isinstance(value, str):
        raise ValueRefusedError(f"expected text in quotes, not {_shown(value)}")
    if name in CHOICES and value not in CHOICES[name]:
        raise ValueRefusedError(f"expected one of {', '.join(CHOICES[name])}, not {_shown(value)}")
    if name == "time_zone":
        _check_zone(value)
    return value


def _check_zone(value: str) -> None:
    try:
        ZoneInfo(value)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueRefusedError(f"{_shown(value)} is not a time zone like Europe/Vienna") from None


def _day(value: Any) -> date:
    if type(value) is not date:
        raise ValueRefusedError("expected a date without quotes, like 2026-03-10")
    return value
