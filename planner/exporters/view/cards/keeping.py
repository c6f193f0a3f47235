"""Says how long what a visit draws keeps: when it must be in the laboratory, before when a draw is wasted."""

from __future__ import annotations

from collections.abc import Sequence

from planner.domain.draws import Tube
from planner.domain.plan import Handover, Route, Visit
from planner.exporters.view.context import ViewContext
from planner.exporters.view.words import ranges_words
from planner.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE

_LIMIT_SAID_S = SECONDS_PER_HOUR
"""Limits from draw to receipt up to this long are printed beside the hand-over."""

_EARLY_S = 5 * SECONDS_PER_MINUTE
"""A draw so little earlier than planned is to be expected: where it would be wasted, the card says so (our choice)."""


def limit_words(context: ViewContext, visit: Visit, tubes: Sequence[Tube]) -> str:
    """Return the latest receipt if the draw is as planned, and the time from the draw: who draws later has longer."""
    limits = [(t.stability_s, t.draw_position) for t in tubes if t.stability_s is not None]
    if not limits or min(limits)[0] > _LIMIT_SAID_S:
        return ""
    shortest_s = min(limits)[0]
    which = [position for limit_s, position in limits if limit_s == shortest_s]
    named = "" if len(which) == len(tubes) else f"tube {ranges_words(sorted(which))} "
    return f"{named}in lab by {context.clock(visit.draw_s + shortest_s)}, {_minutes(shortest_s)} from the draw"


def keeps_words(context: ViewContext, route: Route, visit: Visit) -> tuple[str, ...]:
    """Return before when a draw is wasted, where that is near: what waits for a courier keeps only so long."""
    found = [
        (stop.lab_arrival_s - planned.tube.stability_s, planned.tube.stability_s)
        for planned in visit.tubes
        if planned.handover is not None and planned.tube.stability_s is not None
        if isinstance(stop := route.stops[planned.handover], Handover) and stop.departs_s is not None
    ]
    earliest_s, keeps_s = max(found, default=(0, 0))
    if not found or not visit.draw_s - _EARLY_S < earliest_s <= visit.draw_s:
        return ()
    at = context.clock(earliest_s + SECONDS_PER_MINUTE - 1)
    return (f"NOT BEFORE {at} (it keeps {_minutes(keeps_s)} and waits for the courier)",)


def _minutes(seconds: int) -> str:
    return f"{seconds // SECONDS_PER_MINUTE} min"
