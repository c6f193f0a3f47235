"""The people who collect: when they work, where they start, what they are trained for."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher

from planner.domain.orders import TimeWindow
from planner.domain.places import PlaceId

_SHORTEST_NAME = 4
"""Letters of a text that can be a misspelt name; a shorter one may be initials (engineering choice)."""
_MISSPELT = 0.85
"""Likeness from which a text is a name with a letter too few, too many or wrong (engineering choice)."""
_MAYBE = 0.6
"""Likeness from which somebody else can be meant too, so that a person must say who (engineering choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Phlebotomist:
    """One collector. ``from_s`` and ``until_s`` bound every stop: seconds after midnight of the round's day.

    ``break_window`` is the span within which a break of ``break_s`` must lie. ``wards`` are the only wards whose
    patients they may visit; empty: all. ``prefers`` are the wards that they would rather visit; empty: none.
    """

    name: str = field(repr=False)
    initials: str
    from_s: int
    until_s: int
    starts_at: PlaceId
    skills: frozenset[str] = frozenset()
    break_window: TimeWindow | None = None
    break_s: int = 0
    wards: frozenset[str] = frozenset()
    prefers: frozenset[str] = frozenset()

    def goes_to(self, ward: str) -> bool:
        """Return whether they may draw from a patient of a ward."""
        return not self.wards or ward in self.wards

    def prefers_others(self, ward: str) -> bool:
        """Return whether they would rather visit other wards than this one (part ``other-wards``)."""
        return bool(self.prefers) and ward not in self.prefers

    def __post_init__(self) -> None:
        if self.until_s <= self.from_s:
            raise ValueError(f"shift ends before it begins: {self.from_s} s to {self.until_s} s")


def find_people(staff: Sequence[Phlebotomist], text: str) -> tuple[int, ...]:
    """Return the indices of those whom a text can mean: initials go before a whole name, that before a part of one."""
    wanted = plain_name(text)
    by_initials = [n for n, p in enumerate(staff) if plain_name(p.initials) == wanted]
    by_name = [n for n, p in enumerate(staff) if plain_name(p.name) == wanted]
    by_part = [n for n, p in enumerate(staff) if wanted in map(plain_name, re.split(r"[\s-]+", p.name))]
    return tuple(by_initials or by_name or by_part)


def plain_name(text: str) -> str:
    """Return a name without regard to case and blanks."""
    return " ".join(text.casefold().split())


def which_person(staff: Sequence[Phlebotomist], text: str) -> str:
    """Return what to say of a text that means nobody, or several people."""
    found = find_people(staff, text)
    names = ", ".join(f"{p.initials} ({p.name})" for p in ([staff[n] for n in found] or staff))
    what = "can be several of" if found else "is none of"
    return f"{text!r} {what} those who collect: {names}; write the initials"


def misspelt(staff: Sequence[Phlebotomist], text: str) -> str:
    """Return the initials of the one person whose name is misspelt; empty: nobody's, or it can be several people's.

    Initials are never put right: every two letters may be somebody's.
    """
    if len(plain_name(text)) < _SHORTEST_NAME:
        return ""
    scores = sorted(((_likeness(person, text), person.initials) for person in staff), reverse=True)
    is_one = scores[0][0] >= _MISSPELT and (len(scores) == 1 or scores[1][0] < _MAYBE)
    return scores[0][1] if is_one else ""


def _likeness(person: Phlebotomist, text: str) -> float:
    """Return how much of a text is in a name or in a part of it, letter by letter; 1: all."""
    name = plain_name(person.name)
    return max(SequenceMatcher(None, plain_name(text), part).ratio() for part in (name, *name.split()))
