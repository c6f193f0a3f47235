"""Would a draw at an instant that has passed have been right for an order? Written from the rule book's windows."""

from __future__ import annotations

from collections.abc import Iterator

from planner.domain.catalogue import DoseKind
from planner.domain.orders import Order
from planner.domain.problem import Problem
from planner.units import hours_to_s

_OTHER_DAY_S = hours_to_s(12)
"""A clock time of the policy or a test that lies farther before the round than this means the next day."""


def draw_time_fault(problem: Problem, order: Order, drawn_s: int) -> str:
    """Return which window of an order a draw would have missed; empty when it missed none.

    Only what is required counts: a fast or a clock time that is wished for costs nothing here either. A stated time
    must be met within its tolerance: past it, a new draw is late, but a draw made before it was asked for is not it.
    """
    for name, earliest_s, latest_s in _ends(problem, order):
        clock, at = problem.clock, problem.clock.format_clock(drawn_s)
        if earliest_s is not None and drawn_s < earliest_s:
            return f"drawn at {at}, {name} asks for a draw from {clock.format_clock(earliest_s)}"
        if latest_s is not None and drawn_s > latest_s:
            return f"drawn at {at}, {name} asks for a draw until {clock.format_clock(latest_s)}"
    rule = problem.test_of(order).dose_rule
    if (order.fasting or problem.test_of(order).fasting_required) and problem.patient_of(order).last_ate_s is None:
        return f"{order.test} is a fasting draw, and nobody knows when the patient last ate"
    if rule is not None and not order.is_timed and _base_s(order, rule.kind) is None:
        return f"{order.test} counts from a dose whose time the order does not state"
    return ""


def _ends(problem: Problem, order: Order) -> Iterator[tuple[str, int | None, int | None]]:
    """Yield name, earliest and latest second of each required window, both ends included."""
    test, windows, clock = problem.test_of(order), problem.policy.windows, problem.clock
    if order.collect_at_s is not None:
        is_strict = test.dose_rule is not None or bool(test.serial_offsets) or order.series is not None
        tolerance_s = windows.drug_tolerance_s if is_strict else windows.timed_tolerance_s
        yield "the time asked for", order.collect_at_s - tolerance_s, order.collect_at_s + tolerance_s
    if order.collect_from_s is not None or order.collect_to_s is not None:
        yield "the time asked for", order.collect_from_s, order.collect_to_s
    if test.clock_rule is not None and test.clock_rule.is_required:
        from_s, to_s = clock.wall_to_s(test.clock_rule.from_s), clock.wall_to_s(test.clock_rule.to_s)
        if problem.start_s - to_s > _OTHER_DAY_S:
            from_s, to_s = clock.day_after(from_s), clock.day_after(to_s)
        yield "its clock rule", from_s, to_s
    if order.fasting or test.fasting_required:
        yield "fasting", *_fast(problem, order)
    if (dose := _dose(problem, order)) is not None:
        yield "its dose rule", *dose


def _fast(problem: Problem, order: Order) -> tuple[int | None, int]:
    """Return when the fast is long enough, if it is known, and when the next meal ends it."""
    patient, policy = problem.patient_of(order), problem.policy
    breakfast_s = policy.round.breakfast_at_s
    if problem.start_s - breakfast_s > _OTHER_DAY_S:
        breakfast_s = problem.clock.day_after(breakfast_s)
    fast_s = problem.test_of(order).fasting_s or policy.windows.default_fast_s
    from_s = None if patient.last_ate_s is None else patient.last_ate_s + fast_s
    return from_s, breakfast_s if patient.next_meal_s is None else patient.next_meal_s


def _dose(problem: Problem, order: Order) -> tuple[int | None, int | None] | None:
    """Return the ends that the dose sets; after a dose, the next one ends them too."""
    rule = problem.test_of(order).dose_rule
    if rule is None or rule.kind == DoseKind.PROTOCOL:
        return None
    base_s = _base_s(order, rule.kind)
    if rule.kind == DoseKind.TROUGH:
        if base_s is None:
            return None
        return None if rule.to_s is None else base_s - rule.to_s, base_s - rule.from_s
    latest = [] if order.next_dose_s is None else [order.next_dose_s]
    if base_s is not None and rule.to_s is not None:
        latest.append(base_s + rule.to_s)
    return None if base_s is None else base_s + rule.from_s, min(latest, default=None)


def _base_s(order: Order, kind: DoseKind) -> int | None:
    """Return the second from which a dose rule counts; None when the order does not state it."""
    bases = {DoseKind.PROTOCOL: None, DoseKind.TROUGH: order.next_dose_s, DoseKind.POST_END: order.infusion_end_s}
    return bases.get(kind, order.last_dose_s)
