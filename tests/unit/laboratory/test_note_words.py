"""Tables of words: each phrase stands once in its cell, as it is compared, so that none hides behind a spelling."""

from __future__ import annotations

import csv

import pytest

from planner.domain.phrases import words_of
from planner.loaders.catalogue.load import read_laboratory_text


@pytest.mark.parametrize("name", ["note_words.csv", "alert_words.csv", "infections.csv", "time_words.csv"])
def test_no_phrase_stands_twice(name: str) -> None:
    for row in csv.DictReader(read_laboratory_text(name).splitlines()):
        for column in ("words", "unless_after", "unless_before"):
            phrases = [words_of(phrase) for phrase in row.get(column, "").split(";") if phrase.strip()]
            assert len(phrases) == len(set(phrases)), (row, column)


def test_no_infection_has_two_meanings() -> None:
    rows = csv.DictReader(read_laboratory_text("infections.csv").splitlines())
    phrases = [words_of(phrase) for row in rows for phrase in row["words"].split(";")]
    assert len(phrases) == len(set(phrases))
