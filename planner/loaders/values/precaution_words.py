"""Looks up what a word for a precaution means, with or without the words that say that it is one."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from functools import lru_cache

from planner.domain.orders import Precaution
from planner.domain.phrases import Phrase, clauses_of, is_denied, is_there, places_of, words_of
from planner.loaders.catalogue.load import read_laboratory_text
from planner.loaders.tables.headings import plain
from planner.loaders.values.fields import word
from planner.loaders.values.words import (
    ISOLATION_NOUNS,
    NO_ISOLATION_BESIDE,
    NO_PRECAUTION,
    PRECAUTIONS,
    SAYS_MORE,
    SAYS_NOTHING_MORE,
)

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


@lru_cache(maxsize=1)
def infections() -> dict[Phrase, frozenset[Precaution]]:
    """Return the precautions that a guideline names for infections and conditions [L147]; none: standard ones only."""
    return {
        words_of(phrase): frozenset(Precaution(name) for name in row["precautions"].split("+") if name)
        for row in csv.DictReader(read_laboratory_text("infections.csv").splitlines())
        for phrase in row["words"].split(";")
    }


@lru_cache(maxsize=1)
def _parts() -> tuple[tuple[Phrase, frozenset[Precaution]], ...]:
    """Return all that a cell may be put together of, the longest first."""
    named = {words_of(known): frozenset({precaution}) for known, precaution in PRECAUTIONS.items()}
    more: dict[Phrase, frozenset[Precaution]] = {words_of(text): frozenset() for text in SAYS_NOTHING_MORE}
    return tuple(sorted({**more, **named, **infections()}.items(), key=lambda part: -len(part[0])))


def infection_meaning(text: str) -> frozenset[Precaution] | None:
    """Return the precautions of a cell that names infections and nothing else: 'Contact - MRSA positive (wound)'.

    A word that is not known, a denial among them, leaves the whole open: None. Empty: standard precautions.
    """
    words, found = words_of(text), list[Phrase]()
    meant: frozenset[Precaution] = frozenset()
    while words:
        part = next((part for part in _parts() if words[: len(part[0])] == part[0]), None)
        if part is None:
            return None
        words, meant = words[len(part[0]) :], meant | part[1]
        found.append(part[0])
    return meant if meant or any(phrase in infections() for phrase in found) else None


def infections_named(texts: Iterable[str]) -> Iterator[frozenset[Precaution]]:
    """Yield the precautions of each infection that free texts name and do not deny."""
    phrases = {phrase: meant for phrase, meant in infections().items() if meant}
    for text in texts:
        for words in map(words_of, clauses_of(text)):
            for begin, end in places_of(phrases, words):
                yield phrases[words[begin:end]]


@lru_cache(maxsize=1)
def _isolation_phrases() -> tuple[Phrase, ...]:
    """Return the words of alerts that speak of isolation without saying of which."""
    rows = csv.DictReader(read_laboratory_text("alert_words.csv").splitlines())
    row = next(row for row in rows if row["care"] == "isolation")
    return tuple(words_of(phrase) for phrase in row["words"].split(";"))


def is_isolated(text: str) -> bool:
    """Return whether a text speaks of isolation without saying of which; 'reverse barrier nursing' does say it."""
    meant = frozenset[Precaution]().union(*infections_named((text,)))
    if meant == {Precaution.PROTECTIVE} or precaution_meaning(text) == frozenset():
        return False
    return is_denied((*_isolation_phrases(), *_of_nouns(text)), text) is False


def names_isolation(text: str) -> bool:
    """Return whether a text holds a word for a precaution or an infection, denied or not."""
    known = {**dict.fromkeys(map(words_of, PRECAUTIONS)), **infections()}
    return is_there(known, words_of(text))


def _of_nouns(text: str) -> Iterator[Phrase]:
    """Yield each noun that may speak of isolation with the word before it: 'yellow room', not 'side room 4'."""
    for words in map(words_of, clauses_of(text)):
        for at in range(1, len(words)):
            before, behind = words[at - 1], words[at + 1 : at + 2]
            if (
                words[at] in ISOLATION_NOUNS
                and not before.isdigit()
                and NO_ISOLATION_BESIDE.isdisjoint((before, *behind))
            ):
                yield words[at - 1 : at + 1]
