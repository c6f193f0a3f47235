"""Finds the phlebotomist whom a person means: by initials, name, or part of a name."""

from __future__ import annotations

import re
from collections.abc import Sequence

from planner.domain.staff import Phlebotomist


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
