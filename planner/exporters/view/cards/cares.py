"""What free texts of a patient ask of the collector: words of a table, recognised whole, lead to what to do.

A text never takes anything away: it is printed as it stands. A word that stands after a negation ('no latex allergy')
leads to a question instead: who wrote it may have meant either.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from planner.domain.orders import Arm, NoteSays, Order, Patient, Precaution
from planner.domain.phrases import Phrase, clauses_of, is_denied, is_there, words_of
from planner.exporters.view.context import ViewContext
from planner.exporters.view.texts import laboratory_text

LATEX_FREE = "latex-free gloves and tourniquet"
"""The supply of the table that stands for the usual gloves."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Care:
    """A row of the table: phrases as words, the tests it concerns (none: all), what to ask, to do, and to take along.

    A part of a text with a phrase of ``not_with`` says something else: 'platelets clump' is no risk of bleeding.
    ``unless`` names what is known already: ``limbs``, a precaution, or ``any`` precaution.
    """

    phrases: tuple[Phrase, ...]
    unless: str
    tests: frozenset[str]
    ask: str
    do: str
    supply: str
    not_with: tuple[Phrase, ...] = ()

    def said_in(self, text: str) -> bool | None:
        """Return None where a text says nothing of this, else whether all that it says is denied."""
        parts = (part for part in clauses_of(text) if not is_there(self.not_with, words_of(part)))
        return is_denied(self.phrases, "; ".join(parts))


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the texts of one patient lead to, each once, in the order of the table."""

    keep_out: str = ""
    """Why nobody goes in before the lead has said so; then nothing is asked before going in."""
    ask: tuple[str, ...] = ()
    do: tuple[str, ...] = ()
    supplies: tuple[str, ...] = ()


@lru_cache(maxsize=1)
def cares() -> tuple[Care, ...]:
    """Return the table of recognised words (common practice, no source; CLSI GP41 for latex, bleeding, fainting)."""
    return tuple(
        Care(
            phrases=tuple(words_of(phrase) for phrase in row["words"].split(";")),
            unless=row["unless"],
            tests=frozenset(row["tests"].split()),
            ask=row["ask"],
            do=row["do"],
            supply=row["supply"],
            not_with=tuple(words for phrase in row["not_with"].split(";") if (words := words_of(phrase))),
        )
        for row in csv.DictReader(laboratory_text("alert_words.csv").splitlines())
    )


@lru_cache(maxsize=1)
def _asked_by_condition() -> dict[str, str]:
    """Return what the table of notes asks on the card of who has a condition."""
    rows = csv.DictReader(laboratory_text("note_words.csv").splitlines())
    return {row["says"]: row["ask"] for row in rows if row["ask"]}


def asked_of(context: ViewContext, patient: Patient, orders: Sequence[Order]) -> Asked:
    """Return what alerts, columns that nobody mapped, and notes of the orders ask of the collector."""
    texts = [*patient.alerts, *patient.unmapped, *(order.note for order in orders if order.note)]
    tests = {order.test for order in orders}
    ask = dict.fromkeys(f"{context.clean(text)}? Ask the nurse before you go in." for text in patient.unclear)
    keep_out = ""
    for says, words in _asked_by_condition().items():
        codes = [order.called for order in orders if NoteSays(says) in order.note_says]
        if codes and NoteSays(says) is NoteSays.HIGH_HAZARD:
            keep_out = context.clean(words)
        elif codes:
            ask[f"{context.clean(', '.join(dict.fromkeys(codes)))}: {words}"] = None
    do: dict[str, None] = {}
    supplies: dict[str, None] = {}
    arms_known = bool(patient.arms_barred or _arms_in_words(patient, orders))
    for care in cares():
        if (care.tests and not care.tests & tests) or _is_known(care, patient, arms_known):
            continue
        said = [found for text in texts if (found := care.said_in(text)) is not None]
        if not said:
            continue
        is_sure = not all(said)
        if is_sure and care.do:
            do[care.do] = None
        if is_sure and care.supply:
            supplies[care.supply] = None
        if care.ask and (not is_sure or not care.do):
            ask[context.clean(care.ask)] = None
        elif not is_sure:
            ask[f"{care.do}?"] = None
    return Asked(keep_out=keep_out, ask=tuple(ask), do=tuple(do), supplies=tuple(supplies))


def _is_known(care: Care, patient: Patient, arms_known: bool) -> bool:
    if care.unless == "limbs":
        return arms_known  # what a text leaves open beside it is decided before the round: rule ``free-arm``
    if care.unless == "any":
        return bool(patient.precautions - {Precaution.UNCLEAR})
    return bool(care.unless) and Precaution(care.unless) in patient.precautions


def arm_words(patient: Patient, orders: Sequence[Order]) -> tuple[str, ...]:
    """Return which arm must not be used and which to draw from; of both the orders are set aside.

    What alerts and notes say of an arm is named as theirs, so that who reads a text another way asks.
    """
    barred = {arm for arm in Arm if arm in patient.arms_barred}
    closed = barred | _arms_in_words(patient, orders)
    if len(closed) != 1:
        return ("NEITHER ARM may be used: ask the lead",) if closed else ()
    [arm] = closed
    other = next(a for a in Arm if a is not arm)
    source = "" if barred else " (alert or note)"
    return (f"NOT the {arm.value.upper()} arm{source}: draw {other.value.upper()}",)


def _arms_in_words(patient: Patient, orders: Sequence[Order]) -> set[Arm]:
    """Return the arms that texts close: those that they bar, and those into which something runs."""
    texts = (patient.arms_in_words, patient.infusion_arms)
    return set().union(*texts, *(order.arms_in_words | order.infusion_arms for order in orders))
