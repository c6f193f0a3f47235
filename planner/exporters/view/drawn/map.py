"""Builds the map of the view: from coordinates and corridors where they are known, else along an assumed corridor."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import replace

from planner.domain.derived.metrics import natural_key
from planner.domain.places import Place, PlaceId, PlaceKind
from planner.domain.plan import Route
from planner.exporters.view.context import ViewContext
from planner.exporters.view.drawn.assumed_map import AssumedCorridor
from planner.exporters.view.drawn.pictures import MapLine, MapPlace, MapStop, MapView, Point
from planner.exporters.view.drawn.sides import Side, sides_assumed, sides_measured
from planner.exporters.view.drawn.ways import shortest_way
from planner.exporters.view.texts import TextCleaner

Way = Callable[[PlaceId, PlaceId], Sequence[Point]]
"""Points between two places, both included."""


def map_view(context: ViewContext) -> MapView:
    """Return the ward with the stops and ways of all routes, and for each route the wards that it touches."""
    routes = context.plan.routes
    whole = _map(context, _shown(context, routes), routes)
    wards = {place.ward for place in context.problem.places.values() if place.kind is PlaceKind.BED}
    touched = [_wards(context, route) for route in routes]
    if all(wards <= own for own in touched):
        return whole
    again = replace(context, clean=TextCleaner())  # what is taken out of names was counted for the whole map
    nearer = (_map(again, _shown(again, [r], own), [r]) for r, own in zip(routes, touched, strict=True))
    return replace(whole, nearer=tuple(nearer))


def _map(context: ViewContext, shown: Sequence[Place], routes: Sequence[Route]) -> MapView:
    measured = all(place.x_m is not None and place.y_m is not None for place in shown)
    return _measured(context, shown, routes) if measured else _assumed(context, shown, routes)


def _shown(context: ViewContext, routes: Sequence[Route], wards: Collection[str] | None = None) -> list[Place]:
    """Return beds (of these wards), and whatever else a route touches: a laboratory far away would only shrink them."""
    touched = {place for route in routes for place in _touched(context, route)}
    shown = (
        place
        for place in context.problem.places.values()
        if place.id in touched or (place.kind is PlaceKind.BED and (wards is None or place.ward in wards))
    )
    return sorted(shown, key=lambda place: natural_key(place.id))  # a plan read back has its places in another order


def _touched(context: ViewContext, route: Route) -> set[PlaceId]:
    return {context.begins(route)[1], *(stop.place for _, stop in context.coming(route))}


def _wards(context: ViewContext, route: Route) -> set[str]:
    """Return the wards in which a route has a bed."""
    touched = (context.problem.places[place] for place in _touched(context, route))
    return {place.ward for place in touched if place.kind is PlaceKind.BED}


_BETWEEN_FLOORS_M = 10.0
"""Metres between two floors on the map, which draws one above the other."""


def _points(places: Iterable[Place]) -> dict[PlaceId, Point]:
    """Return where places with metres are drawn: as they are measured, each floor above those before it."""
    measured = [(p, float(p.x_m), float(p.y_m)) for p in places if p.x_m is not None and p.y_m is not None]
    points: dict[PlaceId, Point] = {}
    above_m: float | None = None
    for floor in sorted({p.floor for p, _, _ in measured}, key=natural_key):
        own = [(p, x, y) for p, x, y in measured if p.floor == floor]
        low, high = min(y for _, _, y in own), max(y for _, _, y in own)
        shift_m = 0.0 if above_m is None else above_m + _BETWEEN_FLOORS_M - low
        points |= {p.id: (x, y + shift_m) for p, x, y in own}
        above_m = high + shift_m
    return points


def _measured(context: ViewContext, shown: Sequence[Place], routes: Sequence[Route]) -> MapView:
    places = context.problem.places
    at = _points(places.values())
    kept = {p.id for p in shown} | {p.id for p in places.values() if p.kind is PlaceKind.WAYPOINT}
    corridors = [c for c in context.problem.corridors if {c.from_place, c.to_place} <= kept & at.keys()]

    def way(start: PlaceId, end: PlaceId) -> Sequence[Point]:
        if not context.problem.corridors:
            return (at[start], (at[end][0], at[start][1]), at[end])
        stops = shortest_way(context.problem.corridors, context.problem.policy.walking, start, end)
        return [at[stop] for stop in stops if stop in at]

    return MapView(
        places=_places(context, shown, at, sides_measured(shown, at)),
        corridors=tuple((at[c.from_place], at[c.to_place]) for c in corridors),
        lines=tuple(_line(context, route, at, way) for route in routes),
        note="" if context.problem.corridors else "No corridors are given: the way is drawn along and across.",
    )


def _assumed(context: ViewContext, shown: Sequence[Place], routes: Sequence[Route]) -> MapView:
    corridor = AssumedCorridor.of(shown)
    missing = "The map has no coordinates" if context.problem.corridors else "No map is given"
    return MapView(
        places=_places(context, shown, corridor.at, sides_assumed(shown)),
        corridors=corridor.corridors,
        lines=tuple(_line(context, route, corridor.at, corridor.way) for route in routes),
        note=f"{missing}: beds are drawn in their order along one corridor, not to scale.",
        is_assumed=True,
    )


def _places(
    context: ViewContext, shown: Sequence[Place], at: dict[PlaceId, Point], sides: dict[PlaceId, Side]
) -> tuple[MapPlace, ...]:
    clean = TextCleaner()
    return tuple(
        MapPlace(
            name=context.place(place.id),
            label=context.label(place.id),
            is_bed=place.kind is PlaceKind.BED,
            at=at[place.id],
            ward=clean(place.ward),
            along=sides[place.id][0],
            is_across=sides[place.id][1],
        )
        for place in shown
    )


def _line(context: ViewContext, route: Route, at: dict[PlaceId, Point], way: Way) -> MapLine:
    _, place = context.begins(route)
    clean, places = TextCleaner(), context.problem.places
    start, starts_at, start_ward = at[place], context.place(place), clean(places[place].ward)
    numbers: dict[PlaceId, list[int]] = {}
    walks = []
    for number, stop in context.coming(route):
        if stop.place != place:
            walks.append(tuple(way(place, stop.place)))
        numbers.setdefault(stop.place, []).append(number)
        place = stop.place
    return MapLine(
        start=start,
        starts_at=starts_at,
        stops=tuple(
            MapStop(
                numbers=tuple(own),
                name=context.place(p),
                label=context.label(p),
                is_bed=places[p].kind is PlaceKind.BED,
                at=at[p],
                ward=clean(places[p].ward),
            )
            for p, own in numbers.items()
        ),
        walks=tuple(walks),
        start_ward=start_ward,
    )
