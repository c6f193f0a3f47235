"""Finds the bed that a person means: '14' for bed 14 of ward Alder, 'alder 14', 'Alder/14', 'bed 14'."""

from __future__ import annotations

import re
from collections.abc import Iterable
from difflib import get_close_matches

from planner.domain.places import Place, PlaceId, PlaceKind

_PARTS = re.compile(r"\d+|[^\W\d_]+")
_BED_WORDS = frozenset({"bed", "bett", "lit"})


def find_beds(places: Iterable[Place], text: str) -> tuple[PlaceId, ...]:
    """Return the beds that a text can mean, in the order of the places; several: it is not clear which.

    A bed whose id or whole label is written goes before one of which only the end is: '14' means the bed called 14, and
    only where there is none the bed called 'Alder 14'. Case, blanks, punctuation and leading zeros do not count.
    """
    wanted = _key(text)
    beds = [place for place in places if place.kind is PlaceKind.BED]
    if not wanted:
        return ()
    same = [b.id for b in beds if b.id == text.strip()]
    same = same or [b.id for b in beds if wanted in (_key(b.id), _key(b.label), _key(f"{b.ward} {b.label or b.id}"))]
    return tuple(same or [b.id for b in beds if _ends_with(_key(b.label or b.id), wanted)])


def nearest_beds(places: Iterable[Place], text: str) -> str:
    """Return a hint with the names of the beds most like a text."""
    names = list(dict.fromkeys(bed_name(place) for place in places if place.kind is PlaceKind.BED))
    close = get_close_matches(text, names, n=3, cutoff=0.4)
    return f"nearest: {', '.join(close)}" if close else "look at the sheet for the beds of the round"


def bed_name(place: Place) -> str:
    """Return a bed's name by which it is told from those of other wards."""
    label = place.label or place.id
    return label if _key(place.ward) == _key(label)[: len(_key(place.ward))] else f"{place.ward} {label}"


def _key(text: str) -> tuple[str, ...]:
    parts = [part.lstrip("0") or "0" if part.isdigit() else part for part in _PARTS.findall(text.casefold())]
    return tuple(parts[1:] if len(parts) > 1 and parts[0] in _BED_WORDS else parts)


def _ends_with(parts: tuple[str, ...], wanted: tuple[str, ...]) -> bool:
    """Whether the last parts are the wanted ones and only words stand before: '2' is not bed 2 of room 3, '3-2'."""
    before = parts[: -len(wanted)]
    return bool(before) and parts[len(before) :] == wanted and not any(part.isdigit() for part in before)
