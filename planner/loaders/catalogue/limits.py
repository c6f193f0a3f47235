"""Limits of a test that have a form of their own: stability by tube kind, and when the laboratory does not take it."""

from __future__ import annotations

import re

from planner.domain.catalogue import ClosedSpan, TubeCode, TubeLimit
from planner.loaders.catalogue.cells import MAX_MINUTES, CellError
from planner.loaders.values.moments import UnreadableError, clock_seconds
from planner.units import SECONDS_PER_DAY, minutes_to_s

_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_END_OF_DAY_S = SECONDS_PER_DAY
NEVER_CLOSED = "never"
WEEKDAY_ONLY_CLOSED = "Thu 12:00-Sun 24:00"
"""When tests with handling ``weekday_only`` are not taken and their row does not say otherwise [L5]."""


def parse_tube_limits(text: str) -> tuple[TubeLimit, ...]:
    """Return stability by tube kind: ``SERG:rt=120|HEPG:rt=30,ice=60`` (minutes; modes rt, ice and 37c)."""
    limits: list[TubeLimit] = []
    for part in _filled(text, "|"):
        tube, _, modes = (piece.strip() for piece in part.partition(":"))
        found: dict[str, int] = {}
        for mode, minutes in (re.split(r"\s*=\s*", one, maxsplit=1) for one in _filled(modes, ",") if "=" in one):
            if mode.lower() in found or not re.fullmatch(r"\d+", minutes) or not 0 < int(minutes) <= MAX_MINUTES:
                raise _tube_limit_error(part)
            found[mode.lower()] = minutes_to_s(int(minutes))
        is_whole = len(found) == len(_filled(modes, ",")) and found.keys() <= {"rt", "ice", "37c"}
        if not tube or not found or not is_whole or tube in {limit.tube for limit in limits}:
            raise _tube_limit_error(part)
        limits.append(
            TubeLimit(
                tube=TubeCode(tube),
                max_room_s=found.get("rt"),
                max_ice_s=found.get("ice"),
                max_warm_s=found.get("37c"),
            )
        )
    return tuple(limits)


def parse_closed(text: str, *, is_weekday_only: bool = False) -> tuple[ClosedSpan, ...]:
    """Return when the laboratory does not take a test: ``Thu 12:00-Sun 24:00;Wed`` (``never``: it always does).

    An empty cell of a test with handling ``weekday_only`` means `WEEKDAY_ONLY_CLOSED`.
    """
    if text.strip().lower() == NEVER_CLOSED:
        return ()
    return tuple(_closed_span(part) for part in _filled(text or (WEEKDAY_ONLY_CLOSED if is_weekday_only else ""), ";"))


def _closed_span(text: str) -> ClosedSpan:
    first, dash, last = text.partition("-")
    from_s, to_s = _moment_s(text, first, 0), _moment_s(text, last if dash else first, _END_OF_DAY_S)
    if dash and from_s == to_s:
        raise _closed_error(text)
    return ClosedSpan(from_s=from_s, to_s=to_s)


def _moment_s(whole: str, text: str, default_s: int) -> int:
    """Return seconds after Monday 00:00 of a day of the week, with a clock time from 00:00 to 24:00 or without."""
    match = re.fullmatch(r"([a-z]{3,9})(?:\s+(\S.*))?", text.strip().lower())
    day = None if match is None else next((n for n, name in enumerate(_DAYS) if match[1].startswith(name)), None)
    if match is None or day is None:
        raise _closed_error(whole)
    clock_s = default_s
    if match[2] is not None:
        try:
            clock_s = clock_seconds(match[2])
        except UnreadableError:
            raise _closed_error(whole) from None
    return day * SECONDS_PER_DAY + clock_s


def _filled(text: str, separator: str) -> list[str]:
    return [part.strip() for part in text.split(separator) if part.strip()]


def _tube_limit_error(text: str) -> CellError:
    return CellError(
        "limits_by_tube", f"{text!r} does not state minutes by tube kind like SERG:rt=120|HEPG:rt=30,ice=60"
    )


def _closed_error(text: str) -> CellError:
    return CellError("closed", f"{text!r} is not a span of the week like Thu 12:00-Sun 24:00, Sat-Sun, or never")
