"""Conditions that notes and alerts state: phrases of a table, recognised whole. The texts themselves are printed."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache

from planner.domain.catalogue import LabTest
from planner.domain.orders import NoteSays
from planner.domain.phrases import REACH, Phrase, clauses_of, is_there, places_of, words_of
from planner.loaders.catalogue.load import read_laboratory_text
from planner.loaders.values.moments import UnreadableError, clock_seconds


class Reach(Enum):
    """Which texts about a patient speak of an order; each holds those before it."""

    NOTE = "note"
    """The order's own note."""
    ALERTS = "alerts"
    """The patient's alerts too."""
    PATIENT = "patient"
    """The notes of the patient's other orders too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """A condition, its phrases, the tests that it concerns, by code or handling (none: all), and phrases near by
    that undo it."""

    says: NoteSays
    reach: Reach
    phrases: tuple[Phrase, ...]
    tests: frozenset[str]
    unless_after: tuple[Phrase, ...]
    unless_before: tuple[Phrase, ...]

    def concerns(self, test: LabTest) -> bool:
        return not self.tests or test.code in self.tests or any(h.value in self.tests for h in test.handling)

    def is_said(self, words: Phrase) -> bool:
        return any(
            not is_there(self.unless_after, words[end : end + REACH])
            and not is_there(self.unless_before, words[max(0, begin - REACH) : begin])
            for begin, end in places_of(self.phrases, words)
        )


@lru_cache(maxsize=1)
def _rows() -> tuple[_Row, ...]:
    """Return the table of phrases (common practice, no source)."""
    return tuple(
        _Row(
            says=NoteSays(row["says"]),
            reach=Reach(row["reach"]),
            phrases=_phrases(row["words"]),
            tests=frozenset(row["tests"].split()),
            unless_after=_phrases(row["unless_after"]),
            unless_before=_phrases(row["unless_before"]),
        )
        for row in csv.DictReader(read_laboratory_text("note_words.csv").splitlines())
    )


def _phrases(cell: str) -> tuple[Phrase, ...]:
    return tuple(words for phrase in cell.split(";") if (words := words_of(phrase)))


@lru_cache(maxsize=4096)
def _rows_said(text: str) -> tuple[tuple[_Row, tuple[int, ...]], ...]:
    """Return the rows that a text says, with the clock times of the clause that says it, else of the whole text."""
    whole = clocks_in(text)
    found = []
    for clause in clauses_of(text):
        words = words_of(clause)
        found += [(row, clocks_in(clause) or whole) for row in _rows() if row.is_said(words)]
    return tuple(found)


def conditions(test: LabTest, texts: Iterable[tuple[Reach, str]]) -> Iterator[tuple[NoteSays, tuple[int, ...]]]:
    """Yield the conditions that texts state for a test, each with the clock times beside it, in seconds after midnight.

    A negation before a phrase undoes it. A text comes with what it is: the order's own note, an alert of the patient,
    a note of another order.
    """
    reaches = list(Reach)
    for reach, text in texts:
        for row, clocks in _rows_said(text):
            if reaches.index(reach) <= reaches.index(row.reach) and row.concerns(test):
                yield row.says, clocks


_TIME = re.compile(
    r"(?<![\d.,:/-])(?:\d{1,2}[:.]\d\d(?:\s?[ap]m)?|\d{1,2}\s?[ap]m|\d{1,2}\s?uhr|\d{1,2}h\d\d|\d{3,4}\s?h(?:rs)?|0\d{3}|"
    r"(?:(?<=at )|(?<=@)|(?<=@ )|(?<=um )|(?<=due )|(?<=à ))\d{3,4})\b"
    r"(?![.,:/-]?\d)(?!\s?(?:[mkµun]?g|mcg|m?l|iu|ie|units?|%|[mµunp]?mol|mm|cm|meq|mval|k?pa|°|c\b))",
    re.IGNORECASE,
)


_DATE = re.compile(r"\d{1,2}\.(?:0[1-9]|1[0-2])\.(?!\d)")
"""A day and a month, as '10.03.': no clock time."""
_NUMBER = re.compile(
    r"(?<!\bat )(?<!\bum )(?<!\bby )(?<!\bdue )(?<!@)(?<!@ )\d\.\d\d(?!\s?(?:[ap]m|uhr|h)\b)", re.IGNORECASE
)
"""An amount, as 'potassium 3.50'; a time with one digit and a point says that it is one."""


def clocks_in(text: str) -> tuple[int, ...]:
    """Return the clock times that a free text states, in seconds after midnight; what may be an amount is none.

    Example: 'vancomycin 1000 mg at 0500, then 1.25 g 5pm' states 05:00 and 17:00.
    """
    found = []
    for match in _TIME.finditer(text):
        if _DATE.match(text, match.start()) or _NUMBER.match(text, match.start()):
            continue
        try:
            found.append(clock_seconds(match[0]))
        except UnreadableError:
            continue
    return tuple(found)
