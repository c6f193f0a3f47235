"""What the laboratory's rows say at the bed: words of a test, the samples of dynamic tests, the skin's preparation."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.domain.catalogue import CountsFrom, Handling
from planner.domain.draws import Tube
from planner.domain.orders import Order
from planner.domain.samples import sample_of
from planner.exporters.view.context import ViewContext
from planner.exporters.view.words import join_words
from planner.units import format_minutes

_GIVEN = {CountsFrom.DRINK: "drink", CountsFrom.INJECTION: "injection"}


def bedside_words(context: ViewContext, orders: Sequence[Order]) -> tuple[str, ...]:
    """Return the words of the tests' rows, each once with the tests that say them, by the first of these."""
    by_words: dict[str, set[str]] = {}
    for order in orders:
        if words := context.clean(context.problem.test_of(order).bedside):
            by_words.setdefault(words, set()).add(context.clean(order.test))
    lines = ((sorted(tests), words) for words, tests in by_words.items())
    return tuple(f"{', '.join(tests)}: {words}" for tests, words in sorted(lines))


def sample_questions(context: ViewContext, orders: Sequence[Order]) -> tuple[str, ...]:
    """Return what to ask and write for dynamic tests: who gives what, and from when a later sample counts."""
    return tuple(dict.fromkeys(line for order in orders for line in _sample_lines(context, order)))


def _sample_lines(context: ViewContext, order: Order) -> Iterator[str]:
    sample = sample_of(context.problem, order)
    if sample is None:
        return
    code, given = context.clean(order.test), _GIVEN[sample.counts_from]
    if sample.is_first:
        yield f"{code}: after this sample the nurse gives the {given}. {given.capitalize()} given at: __:__"
        return
    wait = "as long as ordered" if sample.after_s is None else f"{format_minutes(sample.after_s)} min"
    yield (
        f"{code} sample {sample.number}: {given} given at __:__ (ask). Draw {wait} after it: __:__. "
        "Not given: do not draw."
    )


def skin_words(tubes: Sequence[Tube], tests_without_alcohol: Sequence[str]) -> str:
    """Return one instruction where cultures and a test that forbids alcohol share a puncture; empty where they do not.

    Cultures are usually prepared for with alcohol, which spoils an ethanol drawn from the same site [L8].
    """
    needs = {handling for tube in tubes for handling in tube.handling}
    if not {Handling.ASEPSIS, Handling.NO_ALCOHOL_PREP} <= needs:
        return ""
    return (
        "Sterile culture technique, with an alcohol-free antiseptic for every tube "
        f"({join_words(sorted(tests_without_alcohol))})"
    )
