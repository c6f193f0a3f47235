"""Series of repeated draws: the gap that each draw keeps from those before it, whoever made them.

The draws of one patient, series and test follow one another in one order: those already made by when they were, then
those to come by their stated times, else their order numbers. The gap wanted between two neighbours is the difference
of their stated instants (a draw made that states none counts as asked for when it was made), else that of the offsets
in the test's protocol: the first protocol that has an offset for every draw. A draw that is left out binds nobody, but
its gaps still count: of any two draws that are made, the later keeps the sum of the gaps between them.

Example: troponin with the protocols 0;60 and 0;180, tolerance 10 min, drawn at 05:12 by the ward, second draw
ordered without a time: 05:12 + 60 min, so between 06:02 and 06:22. Of three draws at 0, 60 and 180 min whose second
has no room, the third comes 180 min after the first, 20 min more or less.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, permutations

from planner.domain.catalogue import TestCode
from planner.domain.draws import Draw, DrawGap, DrawId
from planner.domain.orders import Order, OrderId, PatientId
from planner.domain.problem import Problem
from planner.units import SECONDS_PER_DAY

NO_END_S = 7 * SECONDS_PER_DAY
"""As good as no upper end to a gap."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Seconds that may pass from one draw of a series to another behind it; both ends included."""

    least_s: int
    most_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Link:
    """One draw of a series: its order if it is still to come, when it was made, and the instant that it states.

    ``order_id`` is None where no order of the round asked for the draw.
    """

    order_id: OrderId | None
    order: Order | None
    made_s: int | None
    stated_s: int | None


def is_in_series(problem: Problem, order: Order) -> bool:
    """Return whether an order repeats a test over time; culture sets of one series are drawn at once."""
    return order.series is not None and not problem.test_of(order).is_culture


def gap_before(problem: Problem, order: Order) -> Gap | None:
    """Return the gap that an order keeps from the draw before it; None when it is the first or nothing states one."""
    chain = _chain(problem, order)
    place = _place(chain, order)
    return _gap(problem, order, chain, place - 1, place) if place else None


def has_draw_before(problem: Problem, order: Order) -> bool:
    """Return whether the series has a draw before this one, made or still to come."""
    return _place(_chain(problem, order), order) > 0


def gap_from_made(problem: Problem, order: Order) -> tuple[int, Gap] | None:
    """Return when the last draw before the order's own was made, and the gap from it; None when nothing binds it."""
    chain = _chain(problem, order)
    own = _place(chain, order)
    made = [place for place, link in enumerate(chain[:own]) if link.made_s is not None]
    if not made:
        return None
    made_s, gap = chain[made[-1]].made_s, _gap(problem, order, chain, made[-1], own)
    return None if made_s is None or gap is None else (made_s, gap)


def draw_gaps(problem: Problem, draws: Sequence[Draw]) -> Iterator[DrawGap]:
    """Yield the gaps between any two draws of a series that are still to be made.

    Where a gap between them is not stated, they only keep their order. The draws of two orders of one test that state
    different times keep their order too (rule ``stated-times``), and most of the gap stated (``stated-spacing``).
    """
    return gaps_between(problem, {order.id: draw.id for draw in draws for order in draw.request.orders})


def gaps_between(problem: Problem, draw_of: Mapping[OrderId, DrawId]) -> Iterator[DrawGap]:
    """Yield the same gaps, by the draw that each open order is in; an order that is in none is left out."""
    yield from _in_stated_order(problem, draw_of)
    seen: set[tuple[str, str | None, str]] = set()
    for first_order in problem.open_orders:
        key = (first_order.patient_id, first_order.series, first_order.test)
        if not is_in_series(problem, first_order) or key in seen:
            continue
        seen.add(key)
        chain = _chain(problem, first_order)
        for (i, one), (j, other) in combinations(enumerate(chain), 2):
            if one.order is None or other.order is None:
                continue
            first, second = draw_of.get(one.order.id), draw_of.get(other.order.id)
            if first is None or second is None or first == second:
                continue
            gap = _gap(problem, other.order, chain, i, j) or Gap(least_s=1, most_s=NO_END_S)
            yield DrawGap(first=first, second=second, least_s=gap.least_s, most_s=gap.most_s)


def _in_stated_order(problem: Problem, draw_of: Mapping[OrderId, DrawId]) -> Iterator[DrawGap]:
    timed = sorted((o for o in problem.open_orders if o.id in draw_of and o.is_timed), key=lambda o: o.test)
    by_test: dict[tuple[PatientId, TestCode], list[Order]] = {}
    for order in timed:
        by_test.setdefault((order.patient_id, order.test), []).append(order)
    for orders in by_test.values():
        for one, other in permutations(orders, 2):
            is_series = is_in_series(problem, one) and one.series == other.series
            if not is_series and asked_s(one) < asked_s(other) and draw_of[one.id] != draw_of[other.id]:
                least_s = max(1, least_spacing_s(problem, one, other))
                yield DrawGap(first=draw_of[one.id], second=draw_of[other.id], least_s=least_s, most_s=NO_END_S)


def least_spacing_s(problem: Problem, one: Order, other: Order) -> int:
    """Return how long after the draw of one order that of another comes at least: a part of the gap that they state.

    The gap is that of the instants asked for, else that of the begins of the spans asked for; 0 where it is not stated.
    """
    for first_s, second_s in (
        (one.collect_at_s, other.collect_at_s),
        (one.collect_from_s, other.collect_from_s),
    ):
        if first_s is not None and second_s is not None:
            return max(0, second_s - first_s) * problem.policy.windows.stated_spacing_pct // 100
    return 0


def spaced_from_made(problem: Problem, order: Order) -> int | None:
    """Return the first second that keeps its spacing from the draws made of orders of the same test that were asked
    for earlier; None when there is none."""
    ends = [
        drawn_s + spacing_s
        for past, drawn_s in problem.drawn_orders
        if (past.patient_id, past.test) == (order.patient_id, order.test)
        and not (is_in_series(problem, order) and past.series == order.series)
        and (spacing_s := least_spacing_s(problem, past, order))
    ]
    return max(ends, default=None)


def asked_s(order: Order) -> int:
    """Return the first of the instant, the begin and the end that a timed order states."""
    stated = (order.collect_at_s, order.collect_from_s, order.collect_to_s)
    return next((at_s for at_s in stated if at_s is not None), 0)


def _chain(problem: Problem, order: Order) -> list[_Link]:
    """Return the draws of an order's series in their order: those made, then those to come."""
    key = (order.patient_id, order.series, order.test)
    made = [
        _Link(
            order_id=None,
            order=None,
            made_s=draw.draw_s,
            stated_s=draw.draw_s if draw.collect_at_s is None else draw.collect_at_s,
        )
        for draw in problem.earlier_draws
        if (draw.patient_id, draw.series, draw.test) == key
    ]
    made += [
        _Link(
            order_id=past.id,
            order=None,
            made_s=draw_s,
            stated_s=draw_s if past.collect_at_s is None else past.collect_at_s,
        )
        for past, draw_s in problem.drawn_orders
        if (past.patient_id, past.series, past.test) == key
    ]
    to_come = sorted((o for o in problem.open_orders if (o.patient_id, o.series, o.test) == key), key=_stated)
    return [
        *sorted(made, key=lambda link: link.made_s or 0),
        *(_Link(order_id=o.id, order=o, made_s=None, stated_s=o.collect_at_s) for o in to_come),
    ]


def _place(chain: Sequence[_Link], order: Order) -> int:
    """Return where an order stands in its series, drawn or still to come.

    Raises
    ------
    ValueError
        If the round does not know the order. Nothing may raise StopIteration here: the rules are generators.
    """
    for place, link in enumerate(chain):
        if link.order_id == order.id:
            return place
    raise ValueError(f"order {order.id} is not in its series {order.series}")


def _stated(order: Order) -> tuple[bool, int, str]:
    at_s = order.collect_at_s if order.collect_at_s is not None else order.collect_from_s
    return at_s is None, at_s or 0, order.id


def _gap(problem: Problem, order: Order, chain: Sequence[_Link], first: int, second: int) -> Gap | None:
    """Return the gap between two places of a series: the sum of those between; None where one is not stated."""
    test = problem.test_of(order)
    tolerance_s = test.serial_tolerance_s
    if tolerance_s is None:
        tolerance_s = problem.policy.windows.drug_tolerance_s
    offsets = next((o for o in test.serial_offsets if len(o) >= len(chain)), None)
    wanted_s = 0
    for place in range(first + 1, second + 1):
        before, after = chain[place - 1], chain[place]
        if before.stated_s is not None and after.stated_s is not None:
            wanted_s += after.stated_s - before.stated_s
        elif offsets is not None:
            wanted_s += offsets[place] - offsets[place - 1]
        else:
            return None
    tolerance_s *= second - first
    return Gap(least_s=max(0, wanted_s - tolerance_s), most_s=wanted_s + tolerance_s)
