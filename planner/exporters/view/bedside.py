"""What the laboratory's rows say at the bed: words of a test, the samples of dynamic tests, the skin's preparation."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from planner.domain.catalogue import CountsFrom, Handling
from planner.domain.draws import Tube
from planner.domain.orders import Order
from planner.domain.plan import Route
from planner.domain.samples import sample_of
from planner.exporters.view.context import ViewContext
from planner.exporters.view.words import join_words
from planner.units import format_minutes

_GIVEN = {CountsFrom.DRINK: "drink", CountsFrom.INJECTION: "injection"}


COMMON_BEDS = 4
"""Words that concern so many beds of a route are said once, above its stops: repeated at every bed, nobody would read
them any more (our choice)."""


def bedside_words(context: ViewContext, route: Route, orders: Sequence[Order]) -> tuple[str, ...]:
    """Return the words of the tests' rows, each once with the tests that say them, but those of `common_words`."""
    said_above = _common(context, route)
    by_words = {words: tests for words, tests in _by_words(context, orders).items() if words not in said_above}
    return _lines(by_words)


def common_words(context: ViewContext, route: Route) -> tuple[str, ...]:
    """Return the words that at least `COMMON_BEDS` visits to come of a route need, with the tests that say them."""
    common = _common(context, route)
    orders = [order for visit in context.visits_to_come(route) for order in context.orders_of(visit)]
    return _lines({words: tests for words, tests in _by_words(context, orders).items() if words in common})


def _common(context: ViewContext, route: Route) -> frozenset[str]:
    visits = context.visits_to_come(route)
    counts = Counter(words for visit in visits for words in _by_words(context, context.orders_of(visit)))
    return frozenset(words for words, number in counts.items() if number >= COMMON_BEDS)


def _by_words(context: ViewContext, orders: Sequence[Order]) -> dict[str, set[str]]:
    by_words: dict[str, set[str]] = {}
    for order in orders:
        if words := context.clean(context.problem.test_of(order).bedside):
            by_words.setdefault(words, set()).add(context.clean(order.test))
    return by_words


def _lines(by_words: Mapping[str, set[str]]) -> tuple[str, ...]:
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
