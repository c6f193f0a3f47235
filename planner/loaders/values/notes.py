"""Conditions that the note of an order states: phrases of a table, recognised whole. The note itself is printed."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache

from planner.domain.catalogue import TestCode
from planner.domain.orders import NoteSays
from planner.domain.phrases import REACH, Phrase, places_of, words_of
from planner.loaders.catalogue.load import read_laboratory_text


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """A condition, its phrases, the tests that it concerns (none: all), and words after a phrase that undo it."""

    says: NoteSays
    phrases: tuple[Phrase, ...]
    tests: frozenset[str]
    unless_after: frozenset[str]


@lru_cache(maxsize=1)
def _rows() -> tuple[_Row, ...]:
    """Return the table of phrases (common practice, no source)."""
    return tuple(
        _Row(
            says=NoteSays(row["says"]),
            phrases=tuple(words_of(phrase) for phrase in row["words"].split(";")),
            tests=frozenset(row["tests"].split()),
            unless_after=frozenset(words_of(row["unless_after"])),
        )
        for row in csv.DictReader(read_laboratory_text("note_words.csv").splitlines())
    )


def note_says(note: str, test: TestCode) -> frozenset[NoteSays]:
    """Return the conditions that a note states for a test; a negation before a phrase undoes it."""
    words = words_of(note)
    return frozenset(row.says for row in _rows() if (not row.tests or test in row.tests) and _is_said(row, words))


def _is_said(row: _Row, words: Phrase) -> bool:
    return any(row.unless_after.isdisjoint(words[end : end + REACH]) for _, end in places_of(row.phrases, words))
