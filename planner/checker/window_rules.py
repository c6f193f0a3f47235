"""Is each order drawn when it may be? One rule for each line of the rule book's table of windows.

The line ``round`` has no rule of its own: `shift` and `lead` keep every draw between the first and last instant.
"""

from __future__ import annotations

from collections.abc import Iterator

from planner.checker.broken import Broken, Rule
from planner.checker.facts import Facts, VisitAt
from planner.checker.windows import (
    Span,
    clock_span,
    closed_at,
    counts_from_stated,
    dose_span,
    fasting_span,
    has_no_time_before_dose,
    holds_now,
    is_after_what_is_given,
    must_fast,
    requested_spans,
)
from planner.domain.orders import Order, Priority


def window_requested(facts: Facts) -> Iterator[Broken]:
    """A timed order is drawn within its tolerance, before the give-up."""
    for at, order, _ in facts.draws:
        for span in requested_spans(facts, order):
            yield from _outside(facts, at, order, span)


def window_clock(facts: Facts) -> Iterator[Broken]:
    """A test with a required clock time is drawn within it, unless it is stat."""
    for at, order, test in facts.draws:
        if test.clock_rule is not None and test.clock_rule.is_required and holds_now(order):
            yield from _outside(facts, at, order, clock_span(facts, test.clock_rule))


def window_fasting(facts: Facts) -> Iterator[Broken]:
    """A fasting draw comes after the fast and before the next meal, unless it is stat."""
    for at, order, _ in facts.draws:
        if must_fast(facts, order) and holds_now(order):
            yield from _outside(facts, at, order, fasting_span(facts, order))


def window_dose(facts: Facts) -> Iterator[Broken]:
    """A drug level is drawn where its rule counts from the dose; without the dose's time only a timed order is.

    A stat is drawn at once, unless its rule holds a stat from a stated dose.
    """
    for at, order, test in facts.draws:
        rule = test.dose_rule
        if rule is None or not holds_now(order, rule):
            continue
        span = dose_span(rule, order)
        if span is not None:
            yield from _outside(facts, at, order, span)
        if has_no_time_before_dose(rule, order):
            yield Broken(
                f"{at.where}, order {order.id}: drawn although no time before its next dose is valid", (order.id,)
            )
        if not order.is_timed and not counts_from_stated(rule, order):
            yield Broken(
                f"{at.where}, order {order.id}: drawn although neither it nor its dose has a time", (order.id,)
            )


def window_quiet_hours(facts: Facts) -> Iterator[Broken]:
    """In quiet hours only stat, timed and dose-ruled orders are drawn."""
    quiet = facts.problem.policy.round.quiet_hours
    for at, order, test in facts.draws:
        if order.priority is Priority.STAT or order.is_timed or test.dose_rule is not None:
            continue
        for span in (*quiet.get(at.patient.ward, ()), *(quiet.get("*", ()) if at.patient.ward != "*" else ())):
            if span.earliest_s <= at.visit.draw_s < span.latest_s:
                yield Broken(
                    f"{at.where}, order {order.id}: drawn at {facts.time(at.visit.draw_s)}, in the quiet hours "
                    f"{facts.time(span.earliest_s)} to {facts.time(span.latest_s)}",
                    (order.id,),
                )


def window_closed(facts: Facts) -> Iterator[Broken]:
    """No test is drawn on a day or at an hour at which the laboratory does not take it, a stat neither."""
    for at, order, test in facts.draws:
        if closed_at(facts, test, at.visit.draw_s):
            yield Broken(
                f"{at.where}, order {order.id}: drawn at {facts.time(at.visit.draw_s)}, when the laboratory does not "
                f"take {test.code}",
                (order.id,),
            )


def preferences_listed(facts: Facts) -> Iterator[Broken]:
    """Each preferred clock time or fasting state that is missed is listed once, and nothing else is."""
    missed = {(order.id, rule) for at, order, rule, span in wishes(facts) if not span.holds(at.visit.draw_s)}
    listed = facts.plan.preferences_missed
    for order_id, rule in sorted(missed - set(listed)):
        yield Broken(f"order {order_id}: preference {rule} is missed, but not listed", (order_id,))
    for order_id, rule in sorted(set(listed)):
        if (order_id, rule) not in missed or listed.count((order_id, rule)) > 1:
            yield Broken(f"order {order_id}: preference {rule} is listed, but not missed or listed twice", (order_id,))


def wishes(facts: Facts) -> Iterator[tuple[VisitAt, Order, str, Span]]:
    """Yield the preferred spans of the orders drawn in the round, each with its visit, its order and its rule."""
    for at, order, test in facts.draws:
        if order.priority is Priority.STAT:
            continue
        if test.clock_rule is not None and not test.clock_rule.is_required:
            yield at, order, "clock", clock_span(facts, test.clock_rule)
        if is_after_what_is_given(facts, order):
            continue
        if test.fasting_s > 0 and not must_fast(facts, order) and order.fasting is not False:
            yield at, order, "fasting", fasting_span(facts, order)


def _outside(facts: Facts, at: VisitAt, order: Order, span: Span) -> Iterator[Broken]:
    draw_s = at.visit.draw_s
    if span.holds(draw_s):
        return
    is_early = span.earliest_s is not None and draw_s < span.earliest_s
    end_s = (span.earliest_s if is_early else span.latest_s) or 0
    yield Broken(
        f"{at.where}, order {order.id}: drawn at {facts.time(draw_s)}, expected not "
        f"{'before' if is_early else 'after'} {facts.time(end_s)}",
        (order.id,),
    )


RULES: tuple[Rule, ...] = (
    window_requested,
    window_clock,
    window_fasting,
    window_dose,
    window_quiet_hours,
    window_closed,
    preferences_listed,
)
