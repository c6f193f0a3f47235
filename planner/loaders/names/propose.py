"""Proposes the nearest known meaning of a name that is not recognised. A person confirms it before it is used."""

from __future__ import annotations

import csv
import re
from collections.abc import Collection, Iterable
from difflib import SequenceMatcher, get_close_matches
from functools import lru_cache

from planner.domain.beds import name_parts
from planner.domain.orders import Precaution
from planner.loaders.catalogue.load import read_laboratory_text
from planner.loaders.names.known import JOINED, NOTHING
from planner.loaders.tables.headings import nearest_column, plain
from planner.loaders.tables.near_safety import safety_column_near
from planner.loaders.values.fields import word
from planner.loaders.values.precaution_words import infections_named
from planner.loaders.values.words import COLUMN_WORDS, NO_PRECAUTION, PRECAUTIONS

SAFETY_COLUMNS = frozenset(
    {"birth_date", "precautions", "alerts", "allergies", "limbs", "fasting", "method", "last_ate_at", "next_meal_at",
     "last_dose_at", "next_dose_at", "infusion_end_at", "weight_kg", "weight_g", "patient_number", "drawn_ml_24h"}
)  # fmt: skip
"""Columns whose misreading could hurt somebody: the table says so beside the proposal (our choice)."""
_WORD = re.compile(r"[^\W_]+")
_ALIKE = 0.75
"""Similarity from which a word is taken for a spelling of another (engineering choice)."""
_STEM = 5
"""Known words of at least so many letters are looked for in longer ones: 'Kontaktisolation' (engineering choice)."""


def column_proposal(table: str, heading: str, cells: Iterable[str], free: Collection[str]) -> str:
    """Return the column that a heading probably means: by its spelling, else by the words below it; "" for none.

    ``free`` are the columns that no other heading of the table means.
    """
    nearest = nearest_column(table, heading)
    if (nearest or safety_column_near(heading)) in free:
        return nearest or safety_column_near(heading) or ""
    said = {word(cell) for cell in cells if cell.strip()}
    fitting = [column for column, words in COLUMN_WORDS.items() if column in free and said and said <= words.keys()]
    return fitting[0] if len(fitting) == 1 and any(len(text) > 1 for text in said) else ""


def precaution_proposal(text: str) -> str:
    """Return the precautions that a word probably asks for, joined; "" where nothing is near."""
    said = word(text)
    found = {precaution for meant in infections_named([text]) for precaution in meant}
    known = {key: precaution for key, precaution in PRECAUTIONS.items() if len(key) >= _STEM}
    found |= {precaution for key, precaution in known.items() if key in said}
    if not found:
        close = get_close_matches(said, [*PRECAUTIONS, *filter(None, NO_PRECAUTION)], n=1, cutoff=_ALIKE)
        if close and close[0] in NO_PRECAUTION:
            return NOTHING
        found = {PRECAUTIONS[key] for key in close}
    return JOINED.join(p.value for p in Precaution if p in found)


@lru_cache(maxsize=1)
def alert_phrases() -> tuple[str, ...]:
    """Return the words of alerts that lead to what to do at the bed."""
    rows = csv.DictReader(read_laboratory_text("alert_words.csv").splitlines())
    return tuple(phrase.strip() for row in rows for phrase in row["words"].split(";") if phrase.strip())


def is_known_alert(text: str) -> bool:
    """Return whether a word that leads to what to do at the bed stands in an alert."""
    spaced = _spaced(text.casefold())
    return any(_spaced(phrase) in spaced for phrase in alert_phrases())


def _spaced(text: str) -> str:
    """Return the words of a text with one blank before and after each, so that words are found whole."""
    return f" {' '.join(_WORD.findall(text))} "


def alert_proposal(text: str) -> str:
    """Return the known words, or the precautions, that an alert probably means; "" where nothing is near."""
    by_key = {plain(phrase): phrase for phrase in alert_phrases()}
    close = get_close_matches(plain(text), by_key, n=1, cutoff=_ALIKE)
    return by_key[close[0]] if close else ""


_WARD_WORDS = frozenset(
    {"ward", "wards", "wd", "unit", "station", "stn", "stat", "department", "dept", "abteilung", "service", "nursing",
     "level", "floor", "etage"}
)  # fmt: skip
"""Words that tell no ward from another."""
_SAME_WARD = 0.6
_AS_NEAR = 0.05
_BEGUN = 0.9
"""A word that another one begins with: 'W' for West, 'Med' for Medical (engineering choices)."""


def ward_proposals(text: str, wards: Iterable[str]) -> list[str]:
    """Return the wards that a name probably means, those that are as near; none where nothing is near.

    Numbers must agree: ward 12 is never proposed for ward 11.
    """
    said = _ward_parts(text)
    scored = sorted(((_ward_likeness(said, _ward_parts(ward)), ward) for ward in wards), key=lambda s: (-s[0], s[1]))
    return [ward for score, ward in scored if score >= max(_SAME_WARD, scored[0][0] - _AS_NEAR)]


def _ward_parts(text: str) -> list[str]:
    return [part for part in name_parts(text) if part not in _WARD_WORDS]


def _ward_likeness(one: list[str], other: list[str]) -> float:
    """Return how much of two names agrees, from 0 to 1."""
    if not one or not other or {p for p in one if p.isdigit()} != {p for p in other if p.isdigit()}:
        return 0.0
    shorter, longer = sorted((one, other), key=len)
    return 2 * sum(max(_word_likeness(a, b) for b in longer) for a in shorter) / (len(one) + len(other))


def _word_likeness(one: str, other: str) -> float:
    if one == other:
        return 1.0
    if one.isdigit() or other.isdigit():
        return 0.0
    ratio = SequenceMatcher(None, one, other).ratio()
    return _BEGUN if one.startswith(other) or other.startswith(one) else ratio if ratio >= _ALIKE else 0.0
