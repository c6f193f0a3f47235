"""Headings that are nearly those of a safety column and are not mapped: isolation, alerts, arms, allergies, fasting.

What such a column says of a patient can hurt if it is passed over, so it is a decision for the list, and asked about on
the card of everybody of whom it says something.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from difflib import SequenceMatcher
from functools import lru_cache

from planner.loaders.values.fields import word
from planner.loaders.values.words import COLUMN_WORDS, GOES_WITHOUT_SAYING, NO, NO_ALLERGY, NO_PRECAUTION

_STEMS: Mapping[str, tuple[str, ...]] = {
    "precautions": (
        "isol", "precau", "infec", "infek", "barrier", "mrsa", "vre", "mdro", "cdiff", "airborne", "droplet", "contagi",
        "quarant", "hygien", "neutropen", "immunosup", "protective", "biohaz",
    ),
    "limbs": ("limb", "extremit", "fistul", "mastect", "lymph", "shunt", "dialys"),
    "allergies": ("allerg", "alergi", "latex", "hypersens", "intoler"),
    "alerts": ("alert", "warn", "caution", "bleed", "anticoag"),
    "fasting": ("fasting", "fasted", "nuchtern"),
}  # fmt: skip
"""Beginnings of a word of a heading that speaks of the column (engineering choice)."""
_WORDS: Mapping[str, tuple[str, ...]] = {
    "precautions": ("iso", "prec", "precs", "ipc", "ppe"),
    "limbs": ("arm", "arms", "picc", "bras"),
    "fasting": ("fast", "npo", "nbm"),
}  # fmt: skip
"""Whole words that speak of it: as beginnings they would mean other things too."""
_SPELLED: Mapping[str, tuple[str, ...]] = {
    "precautions": ("isolation", "precaution", "precautions"),
    "allergies": ("allergy", "allergies", "latex"),
    "alerts": ("alert", "alerts"),
    "fasting": ("fasting",),
}
"""Words of which a slip is recognised."""
_ALIKE = 0.8
"""A word more alike than this is a slip: 'Isolaton', not 'Location' or 'Prescriptions' (engineering choice)."""
_SHORTEST_SLIP = 4
_TURNS_ROUND = frozenset({"ok", "free", "clear", "allowed", "usable", "may", "can", "not", "no", "non"})
"""Words of a heading under which 'no' may be the answer that matters."""
_NOTHING = frozenset(
    {
        *NO, *NO_ALLERGY, *NO_PRECAUTION, "", "n/a", "na", "ok", "kein", "keiner", "nicht bekannt",
        "aucun", "neant", "rien", "nada", "ninguno", "nessuno", "nessuna", "geen", "ingen",
    }
)  # fmt: skip
"""Words that plainly say that there is none, without accents."""
_PART = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[^\W\d_A-Z]+")


@lru_cache(maxsize=4096)
def safety_column_near(heading: str) -> str | None:
    """Return the name of the safety column that a heading is nearly named like; None for any other heading."""
    words = _words_of(heading)
    whole = "".join(words)
    for column, stems in _STEMS.items():
        if any(word.startswith(stems) for word in words) or not set(_WORDS.get(column, ())).isdisjoint(words):
            return column
    for column, spelled in _SPELLED.items():
        if any(_is_slip(word, known) for word in (*words, whole) for known in spelled):
            return column
    return None


def column_in_words(cells: Iterable[str]) -> str | None:
    """Return the column of ours whose words alone fill a column and bear on the plan, such as 'stat'."""
    said = {word(cell) for cell in cells} - _NOTHING
    for column, words in COLUMN_WORDS.items():
        if said and said <= words.keys() and max(map(len, said)) > 1:
            meanings = {words[text] for text in said}
            return column if not meanings <= GOES_WITHOUT_SAYING else None
    return None


def says_something(heading: str, text: str) -> bool:
    """Return whether a cell below such a heading is worth a question: not where it plainly says that there is none."""
    return word(text) not in _NOTHING or not _TURNS_ROUND.isdisjoint(_words_of(heading))


def _is_slip(word: str, known: str) -> bool:
    return len(word) >= _SHORTEST_SLIP and SequenceMatcher(None, word, known).ratio() > _ALIKE


def _words_of(heading: str) -> tuple[str, ...]:
    """Return the words of a heading, those run together by capitals apart: 'latexAllergy' -> latex, allergy."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", heading) if not unicodedata.combining(c))
    return tuple(part.casefold() for part in _PART.findall(plain))
