"""Fits what is said into so many lines: each part begins as short as it may be, and what matters most grows first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum

MORE = ": --verbose"
"""What stands behind whatever is cut or only counted."""


class Growth(IntEnum):
    """What a longer form of a part is for: the first has the room first."""

    READ_BACK = 0
    """What was reported, to be read back: a wrong bed or patient is heard then."""
    STAT = 1
    """Whole sentences about a stat; its bed is named in any case."""
    ACT_UPON = 2
    PERSON = 3
    """To each person two lines, at best their first sentence."""
    ITEM = 4
    """Something of every finding, of every order to decide and of what a revision costs."""
    STOPS = 5
    MORE = 6
    ALL = 7


@dataclass(frozen=True, slots=True)
class Form:
    """A part said in so many lines."""

    growth: Growth
    lines: tuple[str, ...]


def growing(forms: Iterable[tuple[Growth, Sequence[str]]]) -> tuple[Form, ...]:
    """Return the forms, each with more lines than the one before it: the others say no more."""
    return tuple(_growing(forms))


def _growing(forms: Iterable[tuple[Growth, Sequence[str]]]) -> Iterator[Form]:
    longest = -1
    for growth, lines in forms:
        if len(lines) > longest:
            longest = len(lines)
            yield Form(growth, tuple(lines))


def least(parts: Iterable[Sequence[Form]]) -> int:
    """Return how many lines the parts take at least."""
    return sum(len(part[0].lines) for part in parts if part)


def fitted(parts: Iterable[Sequence[Form]], most: int) -> list[str]:
    """Return the lines of all parts, in their order: the next form of one is taken while there is room.

    Example: two parts of 1 or 3 lines and 4 lines of room: the one whose longer form matters more has 3, the other 1.
    """
    shown = [part for part in parts if part]
    at, free = [0] * len(shown), most - least(shown)
    while True:
        steps = [
            (part[n + 1].growth, index, len(part[n + 1].lines) - len(part[n].lines))
            for index, (part, n) in enumerate(zip(shown, at, strict=True))
            if n + 1 < len(part)
        ]
        fits = [step for step in steps if step[2] <= free]
        if not fits:
            break
        _growth, index, more = min(fits)
        at[index] += 1
        free -= more
    return [line for part, n in zip(shown, at, strict=True) for line in part[n].lines][:most]


def cut(text: str, width: int) -> str:
    """Return a text, whole or its first whole words; a word that alone is too long is cut."""
    if len(text) <= width:
        return text
    words = text[: width - 3].rpartition(" ")[0].rstrip() or text[: width - 4]
    return f"{words} ..."
