"""Says what a replanned round takes for granted: visits that nobody has told, as made; visits due, as still to come."""

from __future__ import annotations

from planner.domain.places import PlaceId
from planner.domain.plan import Visit
from planner.exporters.view.context import ViewContext
from planner.exporters.view.notes.due import dues

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
    """Return the visits of each person that a sheet had due before it was replaced and that are still to come."""
    due: dict[int, list[str]] = {}
    for one in sorted(dues(context), key=lambda one: one.due_s):
        bed = f"bed {context.place(one.visit.place)} ({context.clock(one.due_s)})"
        due.setdefault(one.asked, []).append(bed)
    return tuple(f"{_initials(context, person)}: {', '.join(beds)}" for person, beds in sorted(due.items()))


def _initials(context: ViewContext, person: int) -> str:
    return context.clean(context.problem.staff[person].initials)
