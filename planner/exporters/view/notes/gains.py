"""Says what moving a stop gains: how late it would be if everybody walked on in the order of the last sheet."""

from __future__ import annotations

from planner.domain.revisions.stop_changes import ChangeKind, Move, StopChange
from planner.exporters.view.cards.windows import late_minutes
from planner.exporters.view.context import ViewContext


def gain_words(context: ViewContext, change: StopChange) -> str:
    """Return how late a stop that went to another person, or to another place in the order, would else be drawn.

    Empty where it would not be late: then others are drawn sooner for it, or the ways are shorter.
    """
    before, visit, replan = change.before, change.visit, context.problem.replan
    if change.kind is not ChangeKind.MOVED or before is None or visit is None:
        return ""
    if not {Move.PERSON, Move.ORDER} & set(change.moves) or visit.draw_s >= before.due_s:
        return ""
    past = next((p for p in replan.past if p.phlebotomist == before.phlebotomist), None) if replan else None
    if past is not None and past.free_s >= context.problem.staff[before.phlebotomist].until_s:
        return ""  # they collect no more, which the summary says
    windows = [context.windows[o] for o in visit.order_ids if o in context.windows]
    ends = [window.windows[-1].latest_s for window in windows if window.windows]
    who, at = context.person(before.phlebotomist), context.clock(before.due_s)
    if ends and before.due_s > min(ends):
        return f"{who} could be there at {at} only, too late to draw"
    targets = [window.target_s for window in windows if window.target_s is not None]
    late_s = before.due_s - min(targets, default=before.due_s)
    return f"{who} could draw at {at} only, {late_minutes(late_s)} min late" if late_s > 0 else ""
