"""Finds phrases in free text, word by word, and whether a negation stands before them."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator

Phrase = tuple[str, ...]

_WORD = re.compile(r"[^\W_]+")
_NEGATIONS = frozenset(
    ("no", "not", "non", "without", "denies", "denied", "nil", "negative", "never", "excluded", "kein", "keine", "ohne",
     "pas", "sans", "aucune", "aucun")
)  # fmt: skip
_DENIED_AFTER = frozenset(
    ("excluded", "negative", "neg", "cleared", "ausgeschlossen", "negativ", "negatif", "exclu", "exclue", "descartado")
)
_RULED_OUT = ("ruled", "out")
_DOUBTED = re.compile(r"\b(?:excluded|negative|neg|ruled out)\s*\?", re.IGNORECASE)
"""An exclusion that is asked for excludes nothing."""
REACH = 3
"""A negation at most so many words before a phrase may speak of it."""
_CLAUSE = re.compile(r"[,;\n()\[\]|]|(?<=\w{3})\.(?=\s|$)|\s[-–—]\s|\bbut\b", re.IGNORECASE)
"""What ends a clause; a full stop after fewer letters may belong to a short form ('C. diff')."""


def clauses_of(text: str) -> tuple[str, ...]:
    """Return the parts of a text of which each speaks for itself: 'no fever, on heparin' denies a fever alone."""
    return tuple(part for part in _CLAUSE.split(_DOUBTED.sub(" ", text)) if part.strip())


def words_of(text: str) -> Phrase:
    """Return the words of a text as they are compared: 'Látex' and 'latex' are one word."""
    letters = unicodedata.normalize("NFKD", text.casefold())
    return tuple(_WORD.findall("".join(c for c in letters if not unicodedata.combining(c))))


def places_of(phrases: Iterable[Phrase], words: Phrase) -> Iterator[tuple[int, int]]:
    """Yield where a phrase stands that no negation stands before: the first of its words, and the first after them."""
    for phrase in phrases:
        ends = ((at, at + len(phrase)) for at in _places(words, phrase))
        yield from (place for place in ends if not _is_denied(words, *place))


def is_there(phrases: Iterable[Phrase], words: Phrase) -> bool:
    """Return whether one of the phrases stands whole in the words, denied or not."""
    return any(any(True for _ in _places(words, phrase)) for phrase in phrases)


def is_denied(phrases: Iterable[Phrase], text: str) -> bool | None:
    """Return None where no phrase stands in a text, else whether a negation stands before each that does."""
    sought = tuple(phrases)
    found = [
        _is_denied(words, at, at + len(phrase))
        for words in map(words_of, clauses_of(text))
        for phrase in sought
        for at in _places(words, phrase)
    ]
    return all(found) if found else None


def _places(words: Phrase, phrase: Phrase) -> Iterator[int]:
    size = len(phrase)
    return (at for at in range(len(words) - size + 1) if words[at : at + size] == phrase)


def _is_denied(words: Phrase, at: int, end: int) -> bool:
    """Return whether a negation stands before a phrase, or words that exclude it right behind: 'Ebola ruled out'."""
    behind = words[end : end + 3]
    is_excluded = not _DENIED_AFTER.isdisjoint(behind[:2]) or _RULED_OUT in (behind[:2], behind[1:])
    is_excluded &= _NEGATIONS.isdisjoint(behind[:1]) or behind[0] in _DENIED_AFTER
    return is_excluded or not _NEGATIONS.isdisjoint(words[max(0, at - REACH) : at])
