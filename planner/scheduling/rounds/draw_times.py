"""Which starts of a visit its orders' own times pull to, or away from: parts ``last-minutes`` and ``off-time``."""

from __future__ import annotations

from planner.domain.draws import Draw, Strength
from planner.domain.orders import Priority
from planner.domain.problem import Problem
from planner.visits.to_laboratory import OWN_RULES


def last_minutes_s(problem: Problem, draw: Draw) -> int | None:
    """Return the start from which the last minutes before the first hard end of a draw's own times count.

    In a span that is shorter, from its begin. None: its own times have no hard end.
    """
    ends = [
        end
        for window in draw.request.order_windows
        for end in window.ends
        if end.rule in OWN_RULES and end.strength is Strength.HARD
    ]
    lasts_s = [end.latest_s for end in ends if end.latest_s is not None]
    if not lasts_s:
        return None
    from_s = min(lasts_s) - problem.policy.windows.last_minutes_s
    return max([from_s, *(end.earliest_s for end in ends if end.earliest_s is not None)]) - draw.lead_s


def wished_spans(problem: Problem, draw: Draw) -> tuple[tuple[int | None, int | None], ...]:
    """Return the spans of the start that stated times and preferences wish for, each once, as (first, last).

    A stat wishes for nothing; what lies before or behind all of the round pulls nowhere.
    """
    urgent = {order.id for order in draw.request.orders if order.priority is Priority.STAT}
    spans: set[tuple[int | None, int | None]] = {
        (order.collect_at_s, order.collect_at_s)
        for order in draw.request.orders
        if order.collect_at_s is not None and order.id not in urgent
    }
    for window in draw.request.order_windows:
        spans |= {(wish.earliest_s, wish.latest_s) for wish in window.preferences}
    found = [
        (None if first_s is None else first_s - draw.lead_s, None if last_s is None else last_s - draw.lead_s)
        for first_s, last_s in spans
        if max(problem.begin_s, problem.begin_s if first_s is None else first_s)
        <= min(problem.end_s, problem.end_s if last_s is None else last_s)
    ]
    return tuple(sorted(found, key=lambda span: (span[0] or 0, span[1] or 0)))
