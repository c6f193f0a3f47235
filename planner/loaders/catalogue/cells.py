"""Single cells of a catalogue row, all text, into numbers, flags and members; what cannot be is a `CellError`."""

from __future__ import annotations

import re
from collections.abc import Mapping
from enum import Enum
from typing import TypeVar

from planner.loaders.values.moments import UnreadableError, clock_seconds
from planner.units import minutes_to_s

Cells = Mapping[str, str]
EnumT = TypeVar("EnumT", bound=Enum)

MAX_VOLUME_ML = 100.0
MAX_MINUTES = 14 * 24 * 60.0
_YES = ("yes", "true", "1", "y", "x")
_NO = ("no", "false", "0", "n", "")


class CellError(ValueError):
    """A cell holds something that cannot be; ``column`` names it, the text says what was expected."""

    def __init__(self, column: str, message: str) -> None:
        super().__init__(message)
        self.column = column


def number(cells: Cells, column: str, largest: float, default: float | None = None) -> float:
    """Return a decimal number from 0 to ``largest``, with a point or a comma; an empty cell is the default, if any."""
    text = cells.get(column, "").strip()
    if not text and default is not None:
        return default
    if not re.fullmatch(r"\d+([.,]\d+)?", text) or float(text.replace(",", ".")) > largest:
        raise CellError(column, f"{text!r} is not a number from 0 to {largest:g}")
    return float(text.replace(",", "."))


def whole(cells: Cells, column: str, largest: int, default: int | None = None) -> int:
    """Return a whole number from 0 to ``largest``; an empty cell is the default, if any."""
    value = number(cells, column, largest, default)
    if value != int(value):
        raise CellError(column, f"{cells[column]!r} is not a whole number")
    return int(value)


def minutes_s(cells: Cells, column: str) -> int | None:
    """Return a cell of minutes in seconds; None when it is empty."""
    if not cells.get(column, "").strip():
        return None
    return minutes_to_s(number(cells, column, MAX_MINUTES))


def flag(cells: Cells, column: str) -> bool:
    """Return whether a cell says yes; an empty one says no."""
    text = cells.get(column, "").strip().lower()
    if text not in (*_YES, *_NO):
        raise CellError(column, f"{text!r} is neither yes nor no")
    return text in _YES


def parts(cells: Cells, column: str, separator: str = ";") -> list[str]:
    """Return the filled parts of a cell that lists several."""
    return [part.strip() for part in cells.get(column, "").split(separator) if part.strip()]


def member(column: str, text: str, kind: type[EnumT]) -> EnumT:
    """Return the member of an Enum whose value a cell holds."""
    try:
        return kind(text)
    except ValueError:
        known = ", ".join(str(m.value) for m in kind)
        raise CellError(column, f"{text!r} is not one of: {known}") from None


def clock_s(column: str, text: str) -> int:
    """Return a clock time, 24:00 at most, as seconds after midnight."""
    try:
        return clock_seconds(text)
    except UnreadableError:
        raise CellError(column, f"{text!r} is not a clock time HH:MM") from None
