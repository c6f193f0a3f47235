"""Says where a route changes the ward: to which one, on which floor, and through what."""

from __future__ import annotations

from itertools import pairwise

from planner.domain.places import PlaceId
from planner.domain.plan import Route, Visit
from planner.exporters.view.context import ViewContext
from planner.exporters.view.drawn.ways import shortest_way


def ward_change_words(context: ViewContext, route: Route, index: int) -> str:
    """Return 'GO TO Heron, floor 2, through Lift A' before a bed of another ward than the bed before; else nothing.

    A round of one ward has none. Of the way only those places are named at which the floor or the ward changes.
    """
    places = context.problem.places
    stop = route.stops[index]
    beds = [earlier.place for earlier in route.stops[:index] if isinstance(earlier, Visit)]
    ward = places[stop.place].ward
    if not context.names.has_several_wards or (beds and places[beds[-1]].ward == ward):
        return ""
    left = route.stops[index - 1].place if index else context.begins(route)[1]
    floor = places[stop.place].floor
    on = f", floor {context.clean(floor)}" if floor else ""
    through = ", ".join(_passed(context, left, stop.place))
    return f"GO TO {context.clean(ward)}{on}" + (f", through {through}" if through else "")


def _passed(context: ViewContext, start: PlaceId, end: PlaceId) -> list[str]:
    if not context.problem.corridors or start == end:
        return []
    places = context.problem.places
    named: dict[str, None] = {}
    for one, other in pairwise(shortest_way(context.problem.corridors, context.problem.policy.walking, start, end)):
        if places[one].floor != places[other].floor:
            named[context.place(one)] = None
        elif places[one].ward != places[other].ward and other != end:
            named[context.place(other)] = None
    return [name for name in named if name not in (context.place(start), context.place(end))]
