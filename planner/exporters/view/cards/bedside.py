"""What the laboratory's rows say at the bed: words of a test, the samples of dynamic tests, the skin's preparation."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence, Set

from planner.domain.catalogue import CountsFrom, Handling
from planner.domain.derived.samples import Sample, sample_of
from planner.domain.draws import Tube
from planner.domain.orders import Order
from planner.domain.plan import Route, Visit
from planner.exporters.view.context import ViewContext
from planner.exporters.view.texts import handling_words
from planner.exporters.view.words import TEST_HANDLING, join_words
from planner.units import format_minutes, format_ml

_GIVEN = {CountsFrom.DRINK: "drink", CountsFrom.INJECTION: "injection"}


COMMON_BEDS = 4
"""Words that concern so many beds of a route are said once, above its stops: repeated at every bed, nobody would read
them any more (our choice)."""


def bedside_words(context: ViewContext, visit: Visit, above: Set[str]) -> tuple[str, ...]:
    """Return what rows say of the tests and tubes of a visit, each once with the tests, but what is said above."""
    return _lines({words: tests for words, tests in _by_words(context, visit).items() if words not in above})


def common_words(context: ViewContext, route: Route, common: Set[str]) -> tuple[str, ...]:
    """Return the words of `common_of` with the tests that say them."""
    found: dict[str, set[str]] = {}
    for visit in context.visits_to_come(route):
        for words, tests in _by_words(context, visit).items():
            if words in common:
                found.setdefault(words, set()).update(tests)
    return _lines(found)


def common_of(context: ViewContext, route: Route) -> frozenset[str]:
    """Return the words that at least `COMMON_BEDS` visits to come of a route need: they are said above its stops."""
    counts = Counter(words for visit in context.visits_to_come(route) for words in _by_words(context, visit))
    return frozenset(words for words, number in counts.items() if number >= COMMON_BEDS)


def _by_words(context: ViewContext, visit: Visit) -> dict[str, set[str]]:
    by_words: dict[str, set[str]] = {}
    for order in context.orders_of(visit):
        test = context.problem.test_of(order)
        tubes = [planned.tube for planned in visit.tubes if test.code in planned.tube.tests]
        kinds = dict.fromkeys(context.problem.catalogue.tubes[tube.tube] for tube in tubes)
        said = (test.bedside, *(kind.bedside for kind in kinds), _mark_words(context, tubes))
        own = [" ".join(context.clean(text) for text in said if text)]
        own += [f"{handling_words()[handling]}." for handling in TEST_HANDLING if handling in test.handling]
        for words in filter(None, own):
            by_words.setdefault(words, set()).add(context.clean(order.called))
    return by_words


def _mark_words(context: ViewContext, tubes: Sequence[Tube]) -> str:
    """Return up to where each culture bottle is filled: the volume planned, never what another patient's holds."""
    kinds = context.problem.catalogue.tubes
    bottles = [(kinds[tube.tube].name, format_ml(tube.volume_ul)) for tube in tubes if kinds[tube.tube].is_culture]
    if not bottles:
        return ""
    if len(bottles) == 1:
        [(name, volume)] = bottles
        return f"One {name[:1].lower()}{name[1:]}: stop at {volume} mL."
    if len({volume for _, volume in bottles}) == 1:
        return f"Each bottle: stop at {bottles[0][1]} mL."
    return (
        "Stop: "
        + ", ".join(f"{name[:1].lower()}{name[1:]} at {volume} mL" for name, volume in dict.fromkeys(bottles))
        + "."
    )


def _lines(by_words: Mapping[str, set[str]]) -> tuple[str, ...]:
    lines = ((sorted(tests), words) for words, tests in by_words.items())
    return tuple(f"{', '.join(tests)}: {words}" for tests, words in sorted(lines))


def sample_questions(context: ViewContext, orders: Sequence[Order]) -> tuple[str, ...]:
    """Return what to ask and write for series and dynamic tests: who gives what, from when a later sample counts."""
    return tuple(dict.fromkeys(line for order in orders for line in _sample_lines(context, order)))


def _sample_lines(context: ViewContext, order: Order) -> Iterator[str]:
    sample = sample_of(context.problem, order)
    if sample is None or (sample.counts_from is None and sample.of == 1):
        return
    code, wait = context.clean(order.called), "as long as ordered"
    if sample.after_s is not None:
        wait = f"{format_minutes(sample.after_s)} min"
    later = _planned_after(context, sample, order)
    if sample.counts_from is None:
        nth = f"{code} {sample.number} of {sample.of}:"
        if sample.is_first:
            yield f"{nth} write the exact time; the next count{'s' * (sample.of == 2)} from it{later}"
        else:
            allowed = f"give or take {format_minutes(_tolerance_s(context, sample, order))} min"
            drawn = f"drawn at _____:_____ ({_first_by(context, sample, order)})"
            yield f"{nth} {wait} after the first, {allowed}; {drawn}: so at _____:_____."
        return
    given = _GIVEN[sample.counts_from]
    if sample.is_first:
        must_fast = order.fasting or context.problem.test_of(order).fasting_required
        fast = "the fast is broken, " if must_fast else ""
        yield (
            f"{code}, first sample: do not begin if {fast}this sample fails or nobody draws the later ones"
            f"{later}: phone the ward, no {given}"
        )
        yield f"{code}: after this sample the nurse gives the {given}. {given.capitalize()} given at: _____:_____"
        return
    yield (
        f"{code} sample {sample.number}: {given} given at _____:_____ (ask). Draw {wait} after it: _____:_____. "
        "Not given: do not draw."
    )


def _tolerance_s(context: ViewContext, sample: Sample, order: Order) -> int:
    """Return by how much a sample may come sooner or later than stated, over all gaps from the first: `series-gap`."""
    stated_s = context.problem.test_of(order).serial_tolerance_s
    one_s = context.problem.policy.windows.drug_tolerance_s if stated_s is None else stated_s
    return one_s * (sample.number - 1)


def _planned_after(context: ViewContext, sample: Sample, order: Order) -> str:
    """Return when the samples behind an order are planned, and by whom another draws them: who must know the time."""
    mine = next((person for _, person in _drawn(context, (order,))), None)
    later = _drawn(context, sample.orders[sample.orders.index(order) + 1 :])
    if not later:
        return " (none planned in this round)"
    times = ", ".join(
        f"{context.clock(at_s)} by {_initials(context, person) if person != mine else 'you'}" for at_s, person in later
    )
    others = dict.fromkeys(_initials(context, person) for _, person in later if person != mine)
    return f" (planned {times}{f'; tell {join_words(list(others))} the time' if others else ''})"


def _first_by(context: ViewContext, sample: Sample, order: Order) -> str:
    """Return who draws the first sample and when, and how to learn its true time."""
    mine = {person for _, person in _drawn(context, (order,))}
    first = _drawn(context, sample.orders[:1]) if sample.orders[0] is not order else []
    if not first:
        return "ask or see its card"
    at_s, person = first[0]
    who, how = ("you", "see its card") if person in mine else (_initials(context, person), "ask")
    return f"planned {context.clock(at_s)} by {who}: {how}"


def _drawn(context: ViewContext, orders: Sequence[Order]) -> list[tuple[int, int]]:
    """Return when orders are drawn and by whom, in order of time."""
    wanted = {order.id for order in orders}
    return sorted(
        (visit.draw_s, route.phlebotomist)
        for route in context.plan.routes
        for visit in route.visits
        if wanted.intersection(visit.order_ids)
    )


def _initials(context: ViewContext, person: int) -> str:
    return context.clean(context.problem.staff[person].initials) or context.person(person)


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
