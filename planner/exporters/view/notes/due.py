"""Says of visits that were due and that nobody reported, and that are still to come: whom to ask before a draw."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.domain.plan import Route, Visit
from planner.exporters.view.context import ViewContext


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """A visit to come that was due on the last sheet or an older one: it may have been made, and nobody has said so.

    ``asked`` is whose visit it was on that sheet, ``phlebotomist`` whose it is now.
    """

    visit: Visit
    phlebotomist: int
    asked: int
    due_s: int
    is_stat: bool


def dues(context: ViewContext) -> tuple[Due, ...]:
    """Return the visits to come that were due by now, in the order of the routes."""
    routes = context.plan.routes if context.problem.replan else ()
    return tuple(
        due for route in routes for visit in context.visits_to_come(route) for due in _due(context, route, visit)
    )


def due_words(context: ViewContext, route: Route, visit: Visit) -> tuple[str, ...]:
    """Return what the card of a visit says that was due and is not reported."""
    return tuple(_on_card(context, due) for due in _due(context, route, visit))


def _due(context: ViewContext, route: Route, visit: Visit) -> Iterator[Due]:
    """Yield whose visit one was when it was due, each person once: they may have made it.

    Who has it still is asked by the next revision only, as they will be at the bed, and where it comes back because
    something is taken back; others are asked until it is reported, and of a stat everybody is.
    """
    replan = context.problem.replan
    if replan is None:
        return
    comes_back = any(set(visit.order_ids).intersection(one.order_ids) for one in replan.came_back)
    due = [
        held
        for held in replan.held(visit.order_ids)
        if held.is_due
        and (comes_back or held.is_stat or held.until_s == replan.now_s or held.phlebotomist != route.phlebotomist)
    ]
    first = {held.phlebotomist: held for held in reversed(due)}
    for held in sorted(first.values(), key=lambda held: held.until_s):
        yield Due(
            visit=visit,
            phlebotomist=route.phlebotomist,
            asked=held.phlebotomist,
            due_s=held.draw_s,
            is_stat=held.is_stat,
        )


def due_sentence(context: ViewContext, due: Due, who: str) -> str:
    """Return the sentence that stands in the notes of both; ``who`` names the patient."""
    asked, kind = context.person(due.asked), "STAT, bed" if due.is_stat else "Bed"
    bed, at = context.place(due.visit.place), context.clock(due.due_s)
    said = f"{kind} {bed}, {who}: due at {at} with {asked}, not reported"
    if due.phlebotomist == due.asked:
        return f"{said}. If you drew it, say so now, and do not draw again."
    return f"{said}: ask {asked} before anybody draws again. It is planned for {context.person(due.phlebotomist)} now."


def _on_card(context: ViewContext, due: Due) -> str:
    at = context.clock(due.due_s)
    if due.phlebotomist == due.asked:
        return f"was due at {at}, not reported: if you drew it, do not draw again, phone the lead"
    asked = context.person(due.asked)
    return f"was due at {at} with {asked}, not reported: ask {asked} before anybody draws again"
