"""A workbook cell as the person who typed it sees it: dates as ISO text, zeros of the number format put back."""

from __future__ import annotations

import math
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Any

from planner.finding_codes import Code
from planner.loaders.tables.records import ERROR_CELL, LONG_NUMBER

_LONGEST_EXACT = 10**15
"""A spreadsheet keeps 15 digits of a number; the rest of a longer one is lost."""
_ERRORS = frozenset(
    {"#N/A", "#VALUE!", "#REF!", "#NAME?", "#DIV/0!", "#NUM!", "#NULL!", "#SPILL!", "#CALC!", "#GETTING_DATA"}
)
_LEAP_BUG_END = datetime(1900, 3, 1)


def cell_text(value: Any, number_format: str, epoch: datetime) -> tuple[str, Code | None]:
    """Return the text of a cell and, where its value cannot be trusted, the flag that says why."""
    if isinstance(value, str):
        return (value, ERROR_CELL) if value in _ERRORS else (value, None)
    if isinstance(value, bool):
        return ("yes" if value else "no"), None
    if isinstance(value, int | float):
        return _number(value, number_format)
    if isinstance(value, datetime):
        return _datetime(value, number_format, epoch), None
    if isinstance(value, date):
        return value.isoformat(), None
    if isinstance(value, time):
        return _clock(value.hour * 3600 + value.minute * 60 + value.second + round(value.microsecond / 1e6)), None
    if isinstance(value, timedelta):
        return _clock(round(value.total_seconds())), None
    return str(value), None


def _number(value: float, number_format: str) -> tuple[str, Code | None]:
    if not math.isfinite(value):
        return str(value), ERROR_CELL
    if abs(value) >= _LONGEST_EXACT:
        return f"{value:.0f}", LONG_NUMBER
    if value == int(value):
        return _shown(int(value), number_format), None
    return repr(value), None


def _shown(value: int, number_format: str) -> str:
    pattern = _zeros(number_format)
    if pattern is None or value < 0:
        return str(value)
    digits = str(value).rjust(pattern.count("0"), "0")
    extra = len(digits) - pattern.count("0")
    lead, rest = digits[:extra], iter(digits[extra:])
    shown = "".join(next(rest) if c == "0" else c for c in pattern)
    first = pattern.index("0")
    return shown[:first] + lead + shown[first:]


@lru_cache(maxsize=1000)
def _zeros(number_format: str) -> str | None:
    """Return the format as digits 0 and literal text when it is of that kind ('0000', 'P'000-00), else None."""
    section = (number_format or "General").split(";")[0]
    out: list[str] = []
    index = 0
    while index < len(section):
        c = section[index]
        if c == '"':
            end = section.find('"', index + 1)
            if end < 0:
                return None
            literal = section[index + 1 : end]
            index = end
        elif c == "\\" and index + 1 < len(section):
            index += 1
            literal = section[index]
        elif c in "0-/ ":
            literal = c
        else:
            return None
        if "0" in literal and literal != "0":
            return None
        out.append(literal)
        index += 1
    pattern = "".join(out)
    return pattern if "0" in pattern and pattern != "0" else None


def _datetime(value: datetime, number_format: str, epoch: datetime) -> str:
    shows_date, shows_time = _parts(number_format)
    if shows_time and not shows_date:
        since = value - epoch
        if epoch.year < 1904 and value < _LEAP_BUG_END:
            since -= timedelta(days=1)
        if timedelta(0) <= since < timedelta(days=60):
            return _clock(round(since.total_seconds()))
    value = value + timedelta(microseconds=500_000)
    if value.hour == value.minute == value.second == 0 and not shows_time:
        return value.date().isoformat()
    return value.replace(microsecond=0).isoformat(sep=" ")


@lru_cache(maxsize=1000)
def _parts(number_format: str) -> tuple[bool, bool]:
    """Return whether a format shows a date, and whether it shows a time."""
    plain = number_format.lower().split(";")[0]
    for literal in ("am/pm", "a/p"):
        plain = plain.replace(literal, "h")
    shows_time = "h" in plain or "s" in plain
    return "y" in plain or "d" in plain or (not shows_time and "m" in plain), shows_time


def _clock(seconds: int) -> str:
    sign = "-" if seconds < 0 else ""
    minutes, rest = divmod(abs(seconds), 60)
    text = f"{sign}{minutes // 60:02d}:{minutes % 60:02d}"
    return f"{text}:{rest:02d}" if rest else text
