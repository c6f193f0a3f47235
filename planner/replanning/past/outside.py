"""Draws reported at a time at which their specimens may not count: recorded as they were, and asked about."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from planner.domain.draws import Ends, OrderWindow
from planner.domain.orders import Order
from planner.domain.problem import Problem
from planner.domain.revisions.reported import Reported
from planner.findings import Finding, Severity
from planner.replanning.past.happened import FILLED
from planner.visits.windows import RULE_WORDS, window_of


def drawn_outside(problem: Problem, reports: Iterable[Reported]) -> Iterator[Finding]:
    """Yield a finding for each rule that the reported time of a draw misses, with all orders of the draw that it binds.

    ``problem`` is the round as it is known now: a time that the ward moved is the moved one.
    """
    orders = {order.id: order for order in problem.orders}
    for report in reports:
        if report.at_s is None or report.outcome not in FILLED:
            continue
        missed: dict[str, list[Order]] = {}
        for order in (orders[order_id] for order_id in report.order_ids if order_id in orders):
            window = window_of(problem, order)
            ends = window.missed_by(report.at_s) if isinstance(window, OrderWindow) else None
            if ends is not None:
                missed.setdefault(_side(problem, ends, report.at_s), []).append(order)
        for side, own in missed.items():
            yield _finding(problem, report.at_s, side, own)


def _side(problem: Problem, ends: Ends, draw_s: int) -> str:
    """Return what a draw misses: 'before 05:30 (the time the order asks for)'."""
    is_early = ends.earliest_s is not None and draw_s < ends.earliest_s
    at_s = ends.earliest_s if is_early else ends.latest_s
    assert at_s is not None
    return f"{'before' if is_early else 'after'} {problem.clock.format_clock(at_s)} ({RULE_WORDS[ends.rule]})"


def _finding(problem: Problem, draw_s: int, side: str, orders: list[Order]) -> Finding:
    bed = problem.place_name(problem.patient_of(orders[0]).bed)
    tests, ids = ", ".join(dict.fromkeys(o.test for o in orders)), tuple(order.id for order in orders)
    message = (
        f"bed {bed}, {tests}: drawn at {problem.clock.format_clock(draw_s)}, {side}. It counts as drawn. Phone the "
        f"laboratory: does the result count at that time? If not: {' '.join(f'--recollect {i}' for i in ids)}"
    )
    return Finding(code="drawn-outside", severity=Severity.WARNING, message=message, order_ids=ids)
