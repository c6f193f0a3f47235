"""Builds the timeline of the view: each stop over time, the window of each draw, couriers and breaks."""

from __future__ import annotations

from planner.domain.places import PickupKind
from planner.domain.plan import Handover, Route, Visit
from planner.exporters.view.context import ViewContext
from planner.exporters.view.drawn.pictures import TimeBar, TimelineView, TimeRow
from planner.units import SECONDS_PER_HOUR

_TICK_S = SECONDS_PER_HOUR // 2


def timeline_view(context: ViewContext) -> TimelineView:
    """Return the round over time, from the half hour before it begins to the half hour after it ends."""
    routes = context.plan.routes
    ends = [stop.depart_s for route in routes for stop in route.stops]
    leaves = [
        s.departs_s for r in routes for _, s in context.coming(r) if isinstance(s, Handover) and s.departs_s is not None
    ]
    from_s = min(context.begins(route)[0] for route in routes) // _TICK_S * _TICK_S
    to_s = -(-max([*ends, *leaves, from_s + _TICK_S]) // _TICK_S) * _TICK_S
    step_s = _TICK_S if to_s - from_s <= 6 * SECONDS_PER_HOUR else SECONDS_PER_HOUR
    return TimelineView(
        from_s=from_s,
        to_s=to_s,
        ticks=tuple((s, context.clock(s)) for s in range(from_s, to_s + 1, step_s)),
        rows=tuple(_row(context, route) for route in routes),
    )


def _row(context: ViewContext, route: Route) -> TimeRow:
    couriers = {
        (stop.departs_s, f"courier {context.clock(stop.departs_s)}")
        for _, stop in context.coming(route)
        if isinstance(stop, Handover) and stop.kind is PickupKind.COURIER and stop.departs_s is not None
    }
    return TimeRow(
        bars=tuple(_bar(context, route, number - 1) for number, _ in context.coming(route)),
        couriers=tuple(sorted(couriers)),
    )


def _bar(context: ViewContext, route: Route, index: int) -> TimeBar:
    stop = route.stops[index]
    name = context.place(stop.place)
    if not isinstance(stop, Visit):
        kind = "handover" if isinstance(stop, Handover) else "break"
        words = name if kind == "handover" else "break"
        return TimeBar(kind=kind, label=f"{index + 1}  {words}", start_s=stop.start_s, end_s=stop.depart_s)
    window = context.window_of(stop)
    bed = context.place(context.problem.patients[stop.patient_id].bed)
    return TimeBar(
        kind="visit",
        label=f"{index + 1}  bed {bed}",
        start_s=stop.start_s,
        end_s=stop.depart_s,
        draw_s=stop.draw_s,
        from_s=None if window.earliest is None else window.earliest.at_s,
        wished_to_s=None if window.target is None else window.target.at_s,
        to_s=None if window.latest is None else window.latest.at_s,
        is_late=window.late_s > 0,
    )
