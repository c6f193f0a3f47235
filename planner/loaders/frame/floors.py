"""A map in few rows: places by metres and floor, floors joined by lifts and stairs, and so made one with corridors.

Corridors that are given stay the only ways between the places that they join. Places that no corridor reaches are
joined to the nearest of their kind on their floor by x and y; parts of a floor that are still apart are joined where
they come nearest. So planner and checker go by corridors alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations, pairwise
from math import inf

from planner.domain.places import Corridor, Place, PlaceId, PlaceKind
from planner.domain.policy import WalkingPolicy
from planner.loaders.values.fields import word
from planner.loaders.values.words import FLOORS
from planner.walking import natural_key

NEAREST = 4
"""So many nearest ones of its floor a place without corridors is joined to (engineering choice)."""


def floor_key(floor: str) -> tuple[float, tuple[tuple[bool, int, str], ...]]:
    """Return a sort key for floors from the lowest up: numbers by value (ground is 0, basement -1), then names."""
    number = FLOORS.get(word(floor))
    try:
        return float(floor) if number is None else number, natural_key(floor)
    except ValueError:
        return inf, natural_key(floor)


def lift_ways(lifts: Iterable[Sequence[Place]], policy: WalkingPolicy) -> list[Corridor]:
    """Return the ways of lifts: from each floor that a lift serves to each other one."""
    pairs = [pair for lift in lifts for pair in combinations(lift, 2)]
    return [Corridor(from_place=a.id, to_place=b.id, seconds=policy.lift_s) for a, b in pairs]


def stair_ways(stairs: Iterable[Sequence[Place]], policy: WalkingPolicy) -> list[Corridor]:
    """Return the ways of stairs, each given from the lowest floor up: from each floor to the next one."""
    pairs = [pair for flight in stairs for pair in pairwise(flight)]
    return [Corridor(from_place=a.id, to_place=b.id, seconds=policy.stairs_floor_s) for a, b in pairs]


def ways_by_metres(
    places: Mapping[PlaceId, Place], given: Sequence[Corridor], between_floors: Sequence[Corridor]
) -> list[Corridor]:
    """Return ways by metres for places that no given corridor reaches, and between parts of a floor that are apart.

    ``between_floors`` are the ways of lifts and stairs. None where every place in use that has metres is on one part of
    the map already.
    """
    parts = _Parts(places)
    corridors = (*given, *between_floors)
    for corridor in corridors:
        parts.join(corridor.from_place, corridor.to_place)
    measured = [p for p in places.values() if p.x_m is not None and p.y_m is not None]
    used = [p for p in measured if p.kind is not PlaceKind.WAYPOINT]
    if len({parts.of(p.id) for p in used} | {parts.of(c.from_place) for c in corridors}) < 2:
        return []
    reached = {end for corridor in given for end in (corridor.from_place, corridor.to_place)}
    ways: list[Corridor] = []
    for floor in sorted({p.floor for p in measured}, key=floor_key):
        on_floor = [p for p in measured if p.floor == floor]
        ways += _on_floor(on_floor, [p for p in on_floor if p.id not in reached], parts)
    return ways


def _on_floor(on_floor: Sequence[Place], alone: Sequence[Place], parts: _Parts) -> list[Corridor]:
    """Return the ways of one floor: between neighbours among the places alone, then one way from part to part.

    One way only, lest a place that is near two ends of a corridor becomes a short cut between them.
    """
    pairs: dict[tuple[PlaceId, PlaceId], float] = {}
    for place in alone:
        others = sorted((_metres(place, other), other.id) for other in alone if other.id != place.id)
        for metres, other_id in others[:NEAREST]:
            pairs.setdefault((min(place.id, other_id), max(place.id, other_id)), metres)
    for one, other in pairs:
        parts.join(one, other)
    if len({parts.of(p.id) for p in on_floor}) > 1:
        nearest = sorted((_metres(a, b), min(a.id, b.id), max(a.id, b.id)) for a, b in combinations(on_floor, 2))
        for metres, one, other in nearest:
            if parts.of(one) != parts.of(other):
                pairs[one, other] = metres
                parts.join(one, other)
    return [Corridor(from_place=a, to_place=b, metres=metres) for (a, b), metres in sorted(pairs.items())]


def _metres(one: Place, other: Place) -> float:
    """Return the metres along x and along y between two places that have both."""
    along = abs((one.x_m or 0) - (other.x_m or 0)) + abs((one.y_m or 0) - (other.y_m or 0))
    return round(along, 2)


class _Parts:
    """Which places hang together."""

    def __init__(self, places: Iterable[PlaceId]) -> None:
        self._leader = {place: place for place in places}

    def of(self, place: PlaceId) -> PlaceId:
        """Return the place that stands for the part that a place belongs to."""
        while (leader := self._leader[place]) != place:
            self._leader[place] = self._leader[leader]
            place = leader
        return place

    def join(self, one: PlaceId, other: PlaceId) -> None:
        """Make one part of the parts of two places."""
        self._leader[self.of(one)] = self.of(other)
