"""The people who collect: when they work, where they start, what they are trained for."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from planner.domain.orders import TimeWindow
from planner.domain.places import PlaceId


@dataclass(frozen=True, slots=True, kw_only=True)
class Phlebotomist:
    """One collector. ``from_s`` and ``until_s`` bound every stop: seconds after midnight of the round's day.

    ``break_window`` is the span within which a break of ``break_s`` must lie. ``wards`` are the only wards whose
    patients they may visit; empty: all.
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

    def goes_to(self, ward: str) -> bool:
        """Return whether they may draw from a patient of a ward."""
        return not self.wards or ward in self.wards

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
