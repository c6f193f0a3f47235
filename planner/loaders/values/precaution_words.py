"""Looks up what a word for a precaution means, with or without the words that say that it is one."""

from __future__ import annotations

from planner.domain.orders import Precaution
from planner.loaders.tables.headings import plain
from planner.loaders.values.fields import word
from planner.loaders.values.words import NO_PRECAUTION, PRECAUTIONS, SAYS_MORE

_ENDINGS = ("", " precaution", " precautions", " isolation", " isolation precaution", " isolation precautions")
_PRECAUTIONS = {known + ending: precaution for known, precaution in PRECAUTIONS.items() for ending in _ENDINGS}
_NONE = frozenset(known + ending for known in NO_PRECAUTION for ending in _ENDINGS)
_SAYS_MORE = frozenset(known + ending for known in SAYS_MORE for ending in _ENDINGS)
_WITHOUT_SIGNS = {plain(known): precaution for known, precaution in _PRECAUTIONS.items()}


def precaution_meaning(text: str) -> frozenset[Precaution] | None:
    """Return the precaution that a word means, empty where it means that nothing is to be worn; None: not known."""
    said = word(text)
    if precaution := _PRECAUTIONS.get(said):
        return frozenset({precaution})
    return frozenset() if said in _NONE else None


def says_more(text: str) -> bool:
    """Return whether a word that is known says more than the name of the precaution."""
    return word(text) in _SAYS_MORE


def precaution_alike(text: str) -> Precaution | None:
    """Return the precaution of which a text differs by signs and blanks alone, as names of a site are compared."""
    return _WITHOUT_SIGNS.get(plain(text))
