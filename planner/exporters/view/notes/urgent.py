"""Says at a bed that comes before a stat why it does, and until when it may."""

from __future__ import annotations

from planner.domain.orders import Precaution, Priority
from planner.domain.plan import Route, Visit
from planner.exporters.view.context import ViewContext
from planner.units import SECONDS_PER_MINUTE


def why_now(context: ViewContext, route: Route, index: int, priority: Priority) -> str:
    """Return why the visit with this index comes before the next stat; empty when none that could be drawn waits.

    The time printed is the last at which the visit may begin so that the stat, all between as planned, is still drawn
    by its target.
    """
    here = route.stops[index]
    assert isinstance(here, Visit)
    if priority is Priority.STAT:
        return ""
    for stop in route.stops[index + 1 :]:
        if not isinstance(stop, Visit) or all(o.priority is not Priority.STAT for o in context.orders_of(stop)):
            continue
        window = context.window_of(stop)
        if window.target is None or (window.earliest is not None and window.earliest.at_s > here.start_s):
            return ""  # it could not be drawn yet
        bed = context.place(context.problem.patients[stop.patient_id].bed)
        left_s = window.target.at_s - stop.draw_s
        if left_s < 0:
            return ""  # its own card says that it is late
        last_s = (here.start_s + left_s) // SECONDS_PER_MINUTE * SECONDS_PER_MINUTE
        is_protected = Precaution.PROTECTIVE in context.problem.patients[here.patient_id].precautions
        why = "protective isolation first; " if is_protected else ""
        return f"{why}stat at bed {bed} still in time. Not begun by {context.clock(last_s)}: bed {bed} first."
    return ""
