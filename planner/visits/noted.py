"""Orders of one patient that are several samples by their notes or their test alone: never one draw, and who waits.

'0 h' and '3 h', 'fasting' and '2 h after breakfast', three orders of a glucose tolerance test: as one draw the first
result would be filed for all. Nothing says when each is due, so a person decides, and what may be drawn is drawn.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planner.domain.derived.two_samples import are_two_samples
from planner.domain.doses import dose_base_s
from planner.domain.orders import NoteSays, Order, OrderId, PatientId, Priority
from planner.domain.problem import Problem
from planner.visits.series import is_in_series

_FIRST = frozenset({"0", "baseline", "basal", "first", "1st"})
"""Words by which a note names the first of several samples."""


def is_noted_apart(problem: Problem, one: Order, other: Order) -> bool:
    """Return whether notes, or the samples of their test, set two orders of one patient apart (rule ``noted-apart``).

    Of one test: the notes differ and one speaks of a time, or it is a test of several samples and the orders state
    neither time nor series. Of two tests that may share a tube: one counts, by its note, from something.
    """
    if one.id == other.id or problem.test_of(one).is_culture or are_two_samples(problem, one, other):
        return False
    if one.test != other.test:
        return _is_counted_beside(problem, one, other) or _is_counted_beside(problem, other, one)
    if is_in_series(problem, one) and one.series == other.series:
        return False
    return one.time_in_note != other.time_in_note or _is_sample_unmarked(problem, one, other)


def orders_that_wait(problem: Problem) -> Mapping[OrderId, tuple[OrderId, ...]]:
    """Return the open orders that wait for a person's decision, each with the orders that it is set apart from.

    Not waiting: an order that states its time where the others do not; a stat that is alone, or the first of several;
    where there is none of these, orders whose notes speak of no time. No sample of a dynamic test is drawn.
    """
    by_patient: dict[PatientId, list[Order]] = {}
    for order in problem.orders:
        by_patient.setdefault(order.patient_id, []).append(order)
    drawn = {order.id for order, _ in problem.drawn_orders}
    found: dict[OrderId, tuple[OrderId, ...]] = {}
    for order in problem.open_orders:
        apart = [o for o in by_patient[order.patient_id] if _is_unsettled_pair(problem, order, o)]
        if apart and not _goes(problem, order, apart, drawn):
            found[order.id] = tuple(sorted(o.id for o in apart))
    return found


def _goes(problem: Problem, order: Order, apart: Sequence[Order], drawn: set[OrderId]) -> bool:
    """Return whether an order is drawn although notes set it apart from others."""
    if _is_settled(problem, order) and not any(_is_settled(problem, other) for other in apart):
        return True
    alike = [other for other in apart if other.test == order.test]
    is_stat = order.priority is Priority.STAT
    if len(alike) < len(apart) and NoteSays.COUNTED in order.note_says and not is_stat:
        return False
    if not alike:
        return True
    if problem.test_of(order).counts_from is not None:
        return False
    if any(other.id in drawn or _is_settled(problem, other) for other in alike):
        return is_stat and not order.time_in_note
    own = (order, *alike)
    stats = [other for other in own if other.priority is Priority.STAT]
    leaders = stats or [other for other in own if not other.time_in_note]
    if not leaders:
        return False
    leader = min(leaders, key=_first_sample)
    return order.id == leader.id or not is_noted_apart(problem, order, leader)


def _first_sample(order: Order) -> tuple[bool, bool, str]:
    return bool(order.time_in_note), _FIRST.isdisjoint(order.time_in_note.split()), order.id


def _is_unsettled_pair(problem: Problem, one: Order, other: Order) -> bool:
    return is_noted_apart(problem, one, other) and not state_different_times(problem, one, other)


def _is_settled(problem: Problem, order: Order) -> bool:
    """Return whether an order states when it is drawn: its time, or the instant that its dose rule counts from."""
    rule = problem.test_of(order).dose_rule
    return order.is_timed or (rule is not None and dose_base_s(order, rule.kind) is not None)


def _is_counted_beside(problem: Problem, counted: Order, other: Order) -> bool:
    group = problem.test_of(counted).share_group
    return (
        NoteSays.COUNTED in counted.note_says
        and counted.time_in_note != other.time_in_note
        and group is not None
        and group == problem.test_of(other).share_group
        and not _is_settled(problem, counted)
    )


def _is_sample_unmarked(problem: Problem, one: Order, other: Order) -> bool:
    """Return whether neither of two orders of a test of several samples says which sample it is."""
    has_samples = bool(problem.test_of(one).serial_offsets)
    return has_samples and not any(order.is_timed or order.series for order in (one, other))


def state_different_times(problem: Problem, one: Order, other: Order) -> bool:
    """Return whether two orders of one test state different times, their own or of the dose (rule ``stated-times``)."""
    if one.test != other.test:
        return False
    if one.is_timed and other.is_timed and _stated(one) != _stated(other):
        return True
    rule = problem.test_of(one).dose_rule
    doses = {None} if rule is None else {dose_base_s(one, rule.kind), dose_base_s(other, rule.kind)}
    return len(doses) > 1 and None not in doses


def _stated(order: Order) -> tuple[int | None, int | None, int | None]:
    return order.collect_at_s, order.collect_from_s, order.collect_to_s
