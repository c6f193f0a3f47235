"""Says what somebody lacks for the stops to come: what these need, less what was loaded for an earlier revision."""

from __future__ import annotations

from collections import Counter

from planner.domain.places import PlaceId
from planner.domain.plan import Route, Visit
from planner.exporters.view.context import ViewContext
from planner.exporters.view.notes.changes import NoteKind, NoteLine
from planner.exporters.view.supplies import Need, needs_of, num_spare
from planner.exporters.view.words import count_words


def lacking_line(context: ViewContext, route: Route) -> NoteLine | None:
    """Return what is lacking, by the bed at which it first runs short; None where all is there or is loaded now.

    Loaded is what the visits of the revision needed for which supplies were taken, spares included; used, what the
    visits made since needed. What was fetched after an earlier note, or lost, is not known.
    """
    replan = context.problem.replan
    loaded = next((one for one in replan.loaded if one.phlebotomist == route.phlebotomist), None) if replan else None
    if loaded is None:
        return None
    taken = _counted(context, loaded.visits)
    one_in = context.problem.policy.tubes.spare_one_in
    left = Counter({rank: number + num_spare(number, one_in) for rank, number in taken.items()})
    made = [stop for stop in route.stops[: context.num_past(route)] if isinstance(stop, Visit)]
    left.subtract(_counted(context, made))
    short: dict[PlaceId, list[str]] = {}
    for visit in context.visits_to_come(route):
        own: dict[tuple[object, ...], Need] = {}
        wanted: Counter[tuple[object, ...]] = Counter()
        for need in needs_of(context, visit):
            own[need.rank] = need
            wanted[need.rank] += need.number
        for rank, number in wanted.items():
            before = max(0, left[rank])
            left[rank] -= number
            if number > before:
                short.setdefault(visit.place, []).append(f"{number - before} x {own[rank].item}")
    if not short:
        return None
    said = "; ".join(f"for bed {context.place(bed)}: {', '.join(items)}" for bed, items in short.items())
    base = context.place(context.problem.staff[route.phlebotomist].starts_at)
    others = f" and {count_words(len(short) - 1, 'more bed')}" if len(short) > 1 else ""
    return NoteLine(
        text=f"YOU LACK, against what you loaded for revision {loaded.revision}: {said}. Fetch it at {base} before "
        "you go there.",
        kind=NoteKind.LACK,
        short=f"YOU LACK things for bed {context.place(next(iter(short)))}{others} "
        f"(see the note): fetch them at {base}.",
    )


def _counted(context: ViewContext, visits: tuple[Visit, ...] | list[Visit]) -> Counter[tuple[object, ...]]:
    """Return how many of each thing visits need."""
    counts: Counter[tuple[object, ...]] = Counter()
    for visit in visits:
        for need in needs_of(context, visit):
            counts[need.rank] += need.number
    return counts
