"""Says what a revision costs: what is late or left out that was not, and how much longer the round takes."""

from __future__ import annotations

from collections.abc import Iterable

from planner.domain.orders import OrderId
from planner.domain.revisions.events import CourierChanged, PhlebotomistLate, PhlebotomistLost, PhlebotomistNeverCame
from planner.domain.revisions.stop_changes import ChangeKind
from planner.exporters.view.cards.windows import late_minutes
from planner.exporters.view.context import ViewContext
from planner.exporters.view.words import count_words

_COSTLY = (PhlebotomistLate, PhlebotomistLost, PhlebotomistNeverCame, CourierChanged)
"""Events after which the cost is said even where there is none: somebody, or a courier, is missing."""


def cost_words(context: ViewContext) -> str:
    """Return what the stops to come cost against those of the last sheet; empty where nothing is worse.

    Compared are the draws later than their orders want, the orders that nobody draws any more, and the last draw.
    """
    replan = context.problem.replan
    if replan is None:
        return ""
    coming = [visit for route in context.plan.routes for visit in context.visits_to_come(route)]
    now = _late(context, ((visit.order_ids, visit.draw_s) for visit in coming))
    was = _late(context, ((one.order_ids, one.draw_s) for one in replan.promised))
    dropped = [change for change in context.changes if change.kind is ChangeKind.DROPPED]
    left_out = sum(item.reason.needs_decision for change in dropped for item in change.reasons)
    is_costly = any(isinstance(event.what, _COSTLY) for event in replan.events)
    if not is_costly and not left_out and sum(now) <= sum(was):
        return ""
    parts = [f"late: {_late_words(now)} (before: {_late_words(was)})" if now or was else "nothing is late"]
    parts.append(f"{count_words(left_out, 'order')} of the last sheet left out" if left_out else "nothing is left out")
    last_s, before_s = (max(times, default=None) for times in ([v.draw_s for v in coming], _drawn_s(context)))
    if last_s is not None and before_s is not None and last_s != before_s:
        parts.append(f"last draw at {context.clock(last_s)} (before: {context.clock(before_s)})")
    return "; ".join(parts)


def _drawn_s(context: ViewContext) -> list[int]:
    return [one.draw_s for one in context.problem.replan.promised] if context.problem.replan else []


def _late(context: ViewContext, visits: Iterable[tuple[tuple[OrderId, ...], int]]) -> list[int]:
    """Return by how many seconds each draw is later than its orders want, for those that are."""
    late: list[int] = []
    for order_ids, draw_s in visits:
        windows = (context.windows[order_id] for order_id in order_ids if order_id in context.windows)
        targets = [window.target_s for window in windows if window.target_s is not None]
        if targets and draw_s > min(targets):
            late.append(draw_s - min(targets))
    return late


def _late_words(late: list[int]) -> str:
    return f"{count_words(len(late), 'draw')} by {late_minutes(sum(late))} min in all" if late else "none"
