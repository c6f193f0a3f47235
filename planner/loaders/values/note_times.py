"""Times in the notes of orders: 'baseline', '3 h', '2 hours after breakfast' set two orders of a test apart."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from functools import lru_cache
from itertools import pairwise

from planner.domain.phrases import Phrase, clauses_of, is_there, words_of
from planner.loaders.catalogue.load import read_laboratory_text
from planner.loaders.values.notes import clocks_in

_DIGITS_THEN_LETTERS = re.compile(r"(?<=\d)(?=[^\W\d_])")


@lru_cache(maxsize=1)
def _phrases() -> dict[str, tuple[Phrase, ...]]:
    """Return the table of words by kind (common practice, no source)."""
    rows = csv.DictReader(read_laboratory_text("time_words.csv").splitlines())
    return {row["kind"]: tuple(_words(phrase) for phrase in row["words"].split(";")) for row in rows}


def _words(text: str) -> Phrase:
    """Return the words of a text; a number is a word of its own: '3h' is '3 h'."""
    return words_of(_DIGITS_THEN_LETTERS.sub(" ", text))


@lru_cache(maxsize=4096)
def time_said(text: str) -> str:
    """Return the words of a note that speaks of a time, a span of time or a repetition; empty where it does not.

    A negation undoes nothing here: a note that mentions a time leaves a doubt, and a person decides. A bare number
    counts too: '0' and '3' are the notes of two samples.
    """
    words = _words(text)
    is_number = bool(words) and all(word.isdigit() for word in words)
    kinds = _phrases()
    is_said = (
        is_number
        or is_there((*kinds["relative"], *kinds["repeat"]), words)
        or any(True for _ in _spans(words))
        or bool(clocks_in(text))
    )
    return " ".join(words) if is_said else ""


@lru_cache(maxsize=4096)
def counts_from_something(text: str) -> bool:
    """Return whether one clause of a note states a span before or after something: '4 h after insulin'."""
    relative = _phrases()["relative"]
    return any(
        any(is_there(relative, words[end : end + 1]) for end in _spans(words))
        for words in map(_words, clauses_of(text))
    )


def _spans(words: Phrase) -> Iterator[int]:
    """Yield where the spans of time end: a unit behind a number."""
    units = {word for (word,) in _phrases()["unit"]}
    numbers = {phrase[-1] for phrase in _phrases()["number"]}
    for at, (number, unit) in enumerate(pairwise(words)):
        if unit in units and (number.isdigit() or number in numbers):
            yield at + 2
