"""Says what a replanned round takes for granted: visits that nobody has told, as made; visits due, as still to come."""

from __future__ import annotations

from planner.domain.places import PlaceId
from planner.domain.plan import Visit
from planner.exporters.view.context import ViewContext

STILL_TO_COME = "planned as still to come; what is done, give with --done"


def assumed_words(context: ViewContext) -> tuple[str, ...]:
    """Return the visits behind each person that are only assumed, an earlier revision's too: 'AB: beds 3, 4 done'."""
    replan = context.problem.replan
    words: list[str] = []
    for past in replan.past if replan else ():
        done: list[PlaceId] = []
        now: list[PlaceId] = []
        for index, stop in enumerate(past.stops):
            if isinstance(stop, Visit) and index in past.assumed:
                assert replan is not None
                (now if stop.depart_s > replan.now_s else done).append(stop.place)
        parts = [f"{context.beds(done)} done"] if done else []
        parts += [f"at {context.beds(now)} now"] if now else []
        if parts:
            words.append(f"{_initials(context, past.phlebotomist)}: {', '.join(parts)}")
    return tuple(words)


def untold_words(context: ViewContext) -> tuple[str, ...]:
    """Return the visits of each person that the last sheet has before now and that are still to come."""
    replan = context.problem.replan
    if replan is None:
        return ()
    coming = {o for r in context.plan.routes for v in r.visits if v.outcome is None for o in v.order_ids}
    due: dict[int, list[str]] = {}
    for visit in sorted(replan.promised, key=lambda visit: visit.draw_s):
        if visit.draw_s <= replan.now_s and coming & set(visit.order_ids):
            bed = f"bed {context.place(visit.place)} ({context.clock(visit.draw_s)})"
            due.setdefault(visit.phlebotomist, []).append(bed)
    return tuple(f"{_initials(context, person)}: {', '.join(beds)}" for person, beds in sorted(due.items()))


def _initials(context: ViewContext, person: int) -> str:
    return context.clean(context.problem.staff[person].initials)
