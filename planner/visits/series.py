"""Series of repeated draws: the gap that each draw keeps from the one before it, whoever made that.

The draws of one patient, series and test follow one another in the order of their stated times, else of their order
numbers; those already made come first. The gap wanted between two neighbours is the difference of their stated
instants, else that of the offsets in the test's protocol: the first protocol that has an offset for every draw.

Example: troponin with the protocols 0;60 and 0;180, tolerance 10 min, drawn at 05:12 by the ward, second draw
ordered without a time: 05:12 + 60 min, so between 06:02 and 06:22.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from planner.domain.draws import Draw, DrawId
from planner.domain.orders import Order
from planner.domain.problem import Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Seconds that may pass from one draw to the next of its series; both ends included."""

    least_s: int
    most_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawGap:
    """The draw ``second`` comes between ``least_s`` and ``most_s`` after the draw ``first`` (draw times)."""

    first: DrawId
    second: DrawId
    least_s: int
    most_s: int


def is_in_series(problem: Problem, order: Order) -> bool:
    """Return whether an order repeats a test over time; culture sets of one series are drawn at once."""
    return order.series is not None and not problem.test_of(order).is_culture


def gap_before(problem: Problem, order: Order) -> Gap | None:
    """Return the gap that an order keeps from the draw before it; None when it is the first or nothing states one."""
    made, chain = _chain(problem, order)
    place = chain.index(order)
    if place == 0 and not made:
        return None
    previous = chain[place - 1] if place else made[-1][1]
    return _gap(problem, order, previous, len(made) + place, len(made) + len(chain))


def has_draw_before(problem: Problem, order: Order) -> bool:
    """Return whether the series has a draw before this one, made or still to come."""
    made, chain = _chain(problem, order)
    return bool(made) or chain[0] != order


def is_first_to_come(problem: Problem, order: Order) -> bool:
    """Return whether no other draw of the series is still to be made before this one."""
    return _chain(problem, order)[1][0] == order


def last_made_s(problem: Problem, order: Order) -> int | None:
    """Return when the last draw of the order's series was made; None when none was."""
    made, _chain_to_come = _chain(problem, order)
    return made[-1][0] if made else None


def draw_gaps(problem: Problem, draws: Sequence[Draw]) -> Iterator[DrawGap]:
    """Yield the gaps between draws that are still to be made."""
    draw_of = {order.id: draw.id for draw in draws for order in draw.request.orders}
    for order in problem.open_orders:
        if order.id not in draw_of or not is_in_series(problem, order) or is_first_to_come(problem, order):
            continue
        chain = _chain(problem, order)[1]
        previous = chain[chain.index(order) - 1]
        gap = gap_before(problem, order)
        if gap is not None and previous.id in draw_of and draw_of[previous.id] != draw_of[order.id]:
            yield DrawGap(first=draw_of[previous.id], second=draw_of[order.id], least_s=gap.least_s, most_s=gap.most_s)


def _chain(problem: Problem, order: Order) -> tuple[list[tuple[int, Order | None]], list[Order]]:
    """Return the draws of an order's series already made (instant, order if it is ours), and its orders to come."""
    key = (order.patient_id, order.series, order.test)
    made: list[tuple[int, Order | None]] = [
        (draw.draw_s, None) for draw in problem.earlier_draws if (draw.patient_id, draw.series, draw.test) == key
    ]
    made += [
        (draw_s, past) for past, draw_s in problem.drawn_orders if (past.patient_id, past.series, past.test) == key
    ]
    chain = [o for o in problem.open_orders if (o.patient_id, o.series, o.test) == key]
    return sorted(made, key=lambda m: m[0]), sorted(chain, key=_stated)


def _stated(order: Order) -> tuple[bool, int, str]:
    at_s = order.collect_at_s if order.collect_at_s is not None else order.collect_from_s
    return at_s is None, at_s or 0, order.id


def _gap(problem: Problem, order: Order, previous: Order | None, number: int, total: int) -> Gap | None:
    """Return the gap between the draws ``number - 1`` and ``number`` (from 0) of a series of ``total`` draws."""
    test = problem.test_of(order)
    tolerance_s = test.serial_tolerance_s
    if tolerance_s is None:
        tolerance_s = problem.policy.windows.drug_tolerance_s
    if previous is not None and previous.collect_at_s is not None and order.collect_at_s is not None:
        wanted_s = order.collect_at_s - previous.collect_at_s
    else:
        offsets = next((o for o in test.serial_offsets if len(o) >= total), None)
        if offsets is None:
            return None
        wanted_s = offsets[number] - offsets[number - 1]
    return Gap(least_s=max(0, wanted_s - tolerance_s), most_s=wanted_s + tolerance_s)
