"""Walking times between the stops of a round, by shortest paths over corridors, or along an assumed corridor."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from math import ceil, lcm

from planner.domain.places import Corridor, Place, PlaceId, PlaceKind, WalkingTimes
from planner.domain.policy import WalkingPolicy

BASE = PlaceId("Base")
LABORATORY = PlaceId("Laboratory")


def walking_times(
    places: Mapping[PlaceId, Place],
    corridors: Sequence[Corridor],
    policy: WalkingPolicy,
    stops: Iterable[PlaceId],
) -> tuple[WalkingTimes, list[PlaceId]]:
    """Return walking times between all stops, and the stops that cannot be reached from, or cannot reach, others.

    With corridors: shortest paths over them, one-way ones in their direction only. Without, and with coordinates
    at every stop: distance along x plus distance along y. Without either: positions along one corridor, see
    `corridor_positions`. Whole seconds; metres are turned into seconds by `seconds_for`.

    A pair without a way between them is missing from the times. A stop is named as unreachable when it lies
    outside the largest group of stops that all reach one another (of two such groups, the one with the base,
    then the one whose first stop comes first, counts as the larger).
    """
    wanted = sorted(set(stops))
    if corridors:
        seconds = _by_corridors(places, corridors, policy, wanted)
        return WalkingTimes(seconds), _unreachable(places, wanted, seconds)
    if all(places[stop].x_m is not None and places[stop].y_m is not None for stop in wanted):
        return WalkingTimes(_by_coordinates(places, policy, wanted)), []
    return WalkingTimes(_along_one_corridor(places, policy, wanted)), []


def seconds_for(metres: float | Fraction, policy: WalkingPolicy) -> int:
    """Return whole seconds for a distance, rounded up.

    Both figures are taken as the decimals that a person wrote (6.0 m at 1.2 m/s is exactly 5 s, where binary
    floating point would give 5.000000000000001 and so 6), divided exactly and rounded up once.
    """
    return ceil(_exact(metres) / _exact(policy.speed_m_per_s))


def _exact(number: float | Fraction) -> Fraction:
    return number if isinstance(number, Fraction) else Fraction(str(number))


def _by_corridors(
    places: Mapping[PlaceId, Place],
    corridors: Sequence[Corridor],
    policy: WalkingPolicy,
    stops: Sequence[PlaceId],
) -> dict[tuple[PlaceId, PlaceId], int]:
    """Return shortest walking seconds by (from, to); of parallel corridors the quickest counts."""
    import networkx as nx

    walk_s: dict[tuple[PlaceId, PlaceId], int] = {}
    for corridor in corridors:
        own_s = corridor.seconds if corridor.seconds is not None else seconds_for(corridor.metres or 0, policy)
        ends = [(corridor.from_place, corridor.to_place)]
        ends += [] if corridor.is_one_way else [(corridor.to_place, corridor.from_place)]
        for pair in ends:
            walk_s[pair] = min(own_s, walk_s.get(pair, own_s))
    graph: nx.DiGraph[PlaceId] = nx.DiGraph()
    graph.add_nodes_from(places)
    graph.add_weighted_edges_from((start, end, seconds) for (start, end), seconds in walk_s.items())
    found: dict[tuple[PlaceId, PlaceId], int] = {}
    for start in stops:
        reached = nx.single_source_dijkstra_path_length(graph, start)
        found |= {(start, end): int(reached[end]) for end in stops if end in reached and end != start}
    return found


class MeasuredTimes(Mapping[tuple[PlaceId, PlaceId], int]):
    """Walking seconds by (from, to), each computed when it is asked for: a whole house has a million pairs.

    Metres along each axis are multiplied by the smallest number that makes all of them whole, ``scale``; a
    distance d then takes ceil(d * q / (scale * p)) seconds at p/q metres a second. Ways between a place in
    ``apart`` and one outside it take ``apart_s`` more.
    """

    def __init__(
        self,
        axes: Sequence[Mapping[PlaceId, Fraction]],
        policy: WalkingPolicy,
        stops: Sequence[PlaceId],
        apart: frozenset[PlaceId] = frozenset(),
        apart_s: int = 0,
    ) -> None:
        speed = _exact(policy.speed_m_per_s)
        scale = lcm(*(axis[stop].denominator for axis in axes for stop in stops))
        self._points = {stop: tuple(int(axis[stop] * scale) for axis in axes) for stop in stops}
        self._numerator, self._denominator = speed.denominator, scale * speed.numerator
        self._apart, self._apart_s = apart, apart_s

    def __getitem__(self, pair: tuple[PlaceId, PlaceId]) -> int:
        start, end = pair
        if start == end:
            raise KeyError(pair)
        distance = sum(abs(a - b) for a, b in zip(self._points[start], self._points[end], strict=True))
        extra_s = self._apart_s if (start in self._apart) != (end in self._apart) else 0
        return -(-distance * self._numerator // self._denominator) + extra_s

    def __iter__(self) -> Iterator[tuple[PlaceId, PlaceId]]:
        return ((start, end) for start in self._points for end in self._points if start != end)

    def __len__(self) -> int:
        return len(self._points) * max(0, len(self._points) - 1)


def _by_coordinates(places: Mapping[PlaceId, Place], policy: WalkingPolicy, stops: Sequence[PlaceId]) -> MeasuredTimes:
    x = {stop: _exact(places[stop].x_m or 0) for stop in stops}
    y = {stop: _exact(places[stop].y_m or 0) for stop in stops}
    return MeasuredTimes([x, y], policy, stops)


def _along_one_corridor(
    places: Mapping[PlaceId, Place], policy: WalkingPolicy, stops: Sequence[PlaceId]
) -> MeasuredTimes:
    laboratories = frozenset(stop for stop in stops if places[stop].kind is PlaceKind.LABORATORY)
    axis = corridor_positions(places.values(), policy)
    return MeasuredTimes([axis], policy, stops, laboratories, policy.laboratory_walk_s)


def corridor_positions(places: Iterable[Place], policy: WalkingPolicy) -> dict[PlaceId, Fraction]:
    """Return each place's metres along one assumed corridor that begins at the base.

    The base and everything that is on no ward with beds lie at its start (0 m); the laboratory too, because its way,
    ``laboratory_walk_s``, leads from there. Wards follow in natural order, ``ward_gap_m`` before each after the
    first; in a ward each bed lies ``bed_spacing_m`` behind the one before it, in the order of ``position``, else
    in natural order. A ward's own pickup lies beside its last bed that is not behind it in the order of ``position``,
    else at the ward's begin.

    Example: spacing 4, gap 40; ward A with beds 1 and 2, ward B with bed 3: 4 m, 8 m, 8 + 40 + 4 = 52 m.
    """
    listed = list(places)
    positions = {place.id: Fraction(0) for place in listed}
    beds = [place for place in listed if place.kind is PlaceKind.BED]
    reached = Fraction(0)
    for number, ward in enumerate(sorted({bed.ward for bed in beds}, key=natural_key)):
        reached += _exact(policy.ward_gap_m) if number else 0
        door = reached
        for bed in sorted((b for b in beds if b.ward == ward), key=_bed_key):
            reached += _exact(policy.bed_spacing_m)
            positions[bed.id] = reached
        for place in (p for p in listed if p.ward == ward and p.kind in _ON_THE_WARD):
            at = place.position
            before = [b for b in beds if b.ward == ward and None not in (at, b.position) and _order(b) <= _order(place)]
            positions[place.id] = max((positions[bed.id] for bed in before), default=door)
    return positions


_ON_THE_WARD = frozenset({PlaceKind.PICKUP, PlaceKind.TUBE_STATION})


def _order(place: Place) -> int:
    return place.position or 0


def _bed_key(bed: Place) -> tuple[bool, int, tuple[tuple[bool, int, str], ...]]:
    return (bed.position is None, bed.position or 0, natural_key(bed.id))


def natural_key(text: str) -> tuple[tuple[bool, int, str], ...]:
    """Return a sort key that puts numbers inside a name in order of their value: "2" before "10", "9" before "A1"."""
    parts = [part for part in re.split(r"(\d{1,18})", text) if part]  # more digits in a row are no number of a bed
    return tuple((False, int(p), p) if p.isdecimal() else (True, 0, p.casefold()) for p in parts)


def assumed_places(beds_by_ward: Mapping[str, Iterable[PlaceId]]) -> dict[PlaceId, Place]:
    """Return the places of a round without a map: a base, a laboratory and the beds of each ward.

    Wards and beds come in natural order; each bed's ``position`` counts from 1 within its ward.

    Raises
    ------
    ValueError
        If a bed has the name of the base or the laboratory, or two wards have a bed of one name.
    """
    places = {
        BASE: Place(id=BASE, ward="", kind=PlaceKind.BASE),
        LABORATORY: Place(id=LABORATORY, ward="", kind=PlaceKind.LABORATORY),
    }
    for ward in sorted(beds_by_ward, key=natural_key):
        for position, bed in enumerate(sorted(set(beds_by_ward[ward]), key=natural_key), start=1):
            if bed in places:
                raise ValueError(f"bed {bed} has the name of another place")
            places[bed] = Place(id=bed, ward=ward, kind=PlaceKind.BED, position=position)
    return places


def _unreachable(
    places: Mapping[PlaceId, Place],
    stops: Sequence[PlaceId],
    seconds: Mapping[tuple[PlaceId, PlaceId], int],
) -> list[PlaceId]:
    """Return the stops outside the largest group whose members all reach one another."""
    groups: dict[PlaceId, list[PlaceId]] = {}
    for stop in stops:
        leader = next((g for g in groups if (stop, g) in seconds and (g, stop) in seconds), stop)
        groups.setdefault(leader, []).append(stop)

    def size(group: list[PlaceId]) -> tuple[int, bool]:
        return len(group), any(places[stop].kind is PlaceKind.BASE for stop in group)

    largest = max(groups.values(), key=size, default=[])
    return [stop for stop in stops if stop not in largest]
