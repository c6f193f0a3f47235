"""Says at a protective room that the phlebotomist comes from isolation rooms, and what to do about it."""

from __future__ import annotations

from planner.domain.derived.isolation import exposures
from planner.domain.orders import Precaution
from planner.domain.plan import Route, Visit
from planner.exporters.view.context import ViewContext

_ROOM = {Precaution.UNCLEAR: "isolation not clear"}


def isolation_words(context: ViewContext, route: Route, visit: Visit) -> tuple[str, ...]:
    """Return a line for a protective room after isolation rooms; after an airborne one the lead is asked first.

    A room of which nobody knows the isolation may be protective: it has a line after an airborne one too.
    """
    found = next((e for e in exposures(context.problem, route) if e.visit is visit), None)
    if found is None:
        return ()
    rooms = ", ".join(f"bed {context.place(place)} ({_ROOM.get(room, room.value)})" for place, room in found.rooms)
    first = "phone the lead before you go in; " if found.is_airborne else ""
    if not found.is_protective:
        return (
            f"YOU COME FROM {rooms}: phone the lead first; if this room protects its patient, you may not be the one "
            "to go in",
        )
    return (f"PROTECTIVE AFTER {rooms} on your route: {first}fresh gown, gloves and mask, clean hands",)
