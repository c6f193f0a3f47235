"""What a card says before the needle: labelled notes in the order of need, with how much each must stand out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from planner.exporters.view.stop_view import VisitView
from planner.exporters.view.words import KEEP_OUT


class Weight(Enum):
    """How much a note stands out."""

    PLAIN = "plain"
    STRONG = "strong"
    """What protects somebody, what changed, a time that matters."""
    PRESSING = "pressing"
    """Hardly any time is left: first of all, white on black."""


@dataclass(frozen=True, slots=True)
class CardNote:
    """A label and what it says."""

    label: str
    words: str
    weight: Weight = Weight.PLAIN


def card_notes(visit: VisitView) -> tuple[CardNote, ...]:
    """Return the notes of a card, in the order in which they are needed; a bed to keep out of comes first,
    then a pressing time.
    """
    return tuple(note for note in _notes(visit) if note.words)


def _notes(visit: VisitView) -> Iterator[CardNote]:
    yield CardNote(KEEP_OUT, visit.keep_out, Weight.PRESSING)
    if visit.is_pressing:
        yield CardNote("WHEN", visit.when, Weight.PRESSING)
    yield CardNote("CHANGE", visit.change, Weight.STRONG)
    if not visit.is_pressing:
        yield CardNote("WHEN", visit.when, Weight.STRONG if visit.marks else Weight.PLAIN)
    yield CardNote("WAIT", visit.wait, Weight.STRONG)
    yield CardNote("WHY NOW", visit.why_now)
    yield CardNote("WEAR", "; ".join(visit.wear), Weight.STRONG)
    yield CardNote("ALERT", "; ".join(visit.alerts), Weight.STRONG)
    yield CardNote("NOT BY YOU", "; ".join(visit.not_drawn), Weight.STRONG)
    for question in visit.ask:
        yield CardNote("ASK", question)
    for words in visit.bedside:
        yield CardNote("TEST", words)
    needle = [f"Needle {visit.needle}: {visit.needle_why}"] if visit.needle_why else []
    yield CardNote("DO", ". ".join((*visit.do, *needle)))
