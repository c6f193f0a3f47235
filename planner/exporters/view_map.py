"""Builds the map of the view: from coordinates and corridors where they are known, else along an assumed corridor."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from planner.domain.places import Place, PlaceId, PlaceKind
from planner.domain.plan import Route
from planner.exporters.view_assumed_map import AssumedCorridor
from planner.exporters.view_context import ViewContext
from planner.exporters.view_pictures import MapLine, MapPlace, MapStop, MapView, Point
from planner.exporters.view_ways import shortest_way

Way = Callable[[PlaceId, PlaceId], Sequence[Point]]
"""Points between two places, both included."""


def map_view(context: ViewContext) -> MapView:
    """Return the ward with the stops and ways of all routes."""
    shown = _shown(context)
    measured = all(place.x_m is not None and place.y_m is not None for place in shown)
    return _measured(context, shown) if measured else _assumed(context, shown)


def _shown(context: ViewContext) -> list[Place]:
    """Return beds, and whatever else a route touches: a laboratory far away would only shrink the ward."""
    problem, routes = context.problem, context.plan.routes
    touched = {stop.place for route in routes for _, stop in context.coming(route)}
    touched |= {context.begins(route)[1] for route in routes}
    return [place for place in problem.places.values() if place.kind is PlaceKind.BED or place.id in touched]


def _measured(context: ViewContext, shown: Sequence[Place]) -> MapView:
    places = context.problem.places
    at = {p.id: (float(p.x_m), float(p.y_m)) for p in places.values() if p.x_m is not None and p.y_m is not None}
    kept = {p.id for p in shown} | {p.id for p in places.values() if p.kind is PlaceKind.WAYPOINT}
    corridors = [c for c in context.problem.corridors if {c.from_place, c.to_place} <= kept & at.keys()]

    def way(start: PlaceId, end: PlaceId) -> Sequence[Point]:
        if not context.problem.corridors:
            return (at[start], (at[end][0], at[start][1]), at[end])
        stops = shortest_way(context.problem.corridors, context.problem.policy.walking, start, end)
        return [at[stop] for stop in stops if stop in at]

    return MapView(
        places=_places(context, shown, at),
        corridors=tuple((at[c.from_place], at[c.to_place]) for c in corridors),
        lines=tuple(_line(context, route, at, way) for route in context.plan.routes),
        note="" if context.problem.corridors else "No corridors are given: the way is drawn along and across.",
    )


def _assumed(context: ViewContext, shown: Sequence[Place]) -> MapView:
    corridor = AssumedCorridor.of(shown)
    missing = "The map has no coordinates" if context.problem.corridors else "No map is given"
    return MapView(
        places=_places(context, shown, corridor.at),
        corridors=corridor.corridors,
        lines=tuple(_line(context, route, corridor.at, corridor.way) for route in context.plan.routes),
        note=f"{missing}: beds are drawn in their order along one corridor, not to scale.",
    )


def _places(context: ViewContext, shown: Sequence[Place], at: dict[PlaceId, Point]) -> tuple[MapPlace, ...]:
    return tuple(
        MapPlace(label=context.place(place.id), is_bed=place.kind is PlaceKind.BED, at=at[place.id]) for place in shown
    )


def _line(context: ViewContext, route: Route, at: dict[PlaceId, Point], way: Way) -> MapLine:
    _, place = context.begins(route)
    start = at[place]
    numbers: dict[PlaceId, list[int]] = {}
    walks = []
    for number, stop in context.coming(route):
        if stop.place != place:
            walks.append(tuple(way(place, stop.place)))
        numbers.setdefault(stop.place, []).append(number)
        place = stop.place
    return MapLine(
        start=start,
        stops=tuple(
            MapStop(
                numbers=tuple(own),
                label=context.place(p),
                is_bed=context.problem.places[p].kind is PlaceKind.BED,
                at=at[p],
            )
            for p, own in numbers.items()
        ),
        walks=tuple(walks),
    )
