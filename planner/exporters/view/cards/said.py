"""Notes and alerts as they were written, for the cards and for the list of decisions."""

from __future__ import annotations

from collections.abc import Iterable

from planner.domain.orders import Patient
from planner.exporters.view.context import ViewContext


def note_words(context: ViewContext, notes: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """Return notes of orders, given as test and note, each once with the tests that it came with."""
    by_note: dict[str, dict[str, None]] = {}
    for test, note in notes:
        if note:
            by_note.setdefault(context.clean(note), {})[context.clean(test)] = None
    return tuple(f"note ({', '.join(tests)}): {note}" for note, tests in by_note.items())


def alert_texts(patient: Patient) -> tuple[str, ...]:
    """Return a patient's alerts, with what columns say that nobody has mapped."""
    return (*patient.alerts, *(f"on the list, not understood: {text}" for text in patient.unmapped))
