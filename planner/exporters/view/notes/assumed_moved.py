"""Says of a patient who was moved and who only counts as drawn: whoever was to draw them may have found nobody there.

Example: bed 4 counts as drawn by AB at 05:20, and at 05:40 its patient is said to lie in bed 9. Nobody is sent there,
so AB is asked, once: in the revision that brings the move.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.domain.plan import Visit
from planner.domain.revisions.events import PatientMoved
from planner.exporters.view.context import ViewContext, who_words
from planner.exporters.view.notes.change_words import lies_now
from planner.exporters.view.notes.changes import NoteKind, NoteLine


@dataclass(frozen=True, slots=True, kw_only=True)
class AssumedMoved:
    """A visit that counts as made, or as being made, although nobody said so, of a patient who lies elsewhere now."""

    phlebotomist: int
    visit: Visit
    is_under_way: bool


def assumed_moved(context: ViewContext) -> Iterator[AssumedMoved]:
    """Yield these visits of the patients whom the revision's events move."""
    replan = context.problem.replan
    if replan is None:
        return
    moved = {event.what.patient_id for event in replan.events if isinstance(event.what, PatientMoved)}
    for past in replan.past:
        for index in sorted(past.assumed):
            stop = past.stops[index]
            if isinstance(stop, Visit) and stop.patient_id in moved and lies_now(context, stop.patient_id, stop.place):
                yield AssumedMoved(
                    phlebotomist=past.phlebotomist, visit=stop, is_under_way=stop.depart_s > replan.now_s
                )


def assumed_moved_lines(context: ViewContext, phlebotomist: int) -> Iterator[NoteLine]:
    """Yield what is said to whoever was to draw them: where the patient lies now, and what to answer."""
    for one in assumed_moved(context):
        visit = one.visit
        if one.phlebotomist != phlebotomist:
            continue
        bed, is_stat = context.place(visit.place), context.problem.has_stat(visit.order_ids)
        counts = (
            "you count as being there now" if one.is_under_way else f"counts as drawn at {context.clock(visit.draw_s)}"
        )
        text = (
            f"Bed {bed}, {who_words(context, visit.patient_id)}: {counts}, not reported. "
            f"{lies_now(context, visit.patient_id, visit.place)}. "
            "If you did not draw them, say so now: nobody else is sent."
        )
        yield NoteLine(text=text, kind=NoteKind.ASK_STAT if is_stat else NoteKind.ASK, bed=bed, is_stat=is_stat)
