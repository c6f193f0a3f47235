"""Finds the way that a walk takes over the corridors, to be drawn."""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from functools import lru_cache

from planner.domain.places import Corridor, PlaceId
from planner.domain.policy import WalkingPolicy


def shortest_way(
    corridors: Sequence[Corridor], policy: WalkingPolicy, start: PlaceId, end: PlaceId
) -> tuple[PlaceId, ...]:
    """Return the places on the quickest way, both ends included; only the ends when no corridor leads there.

    Of equally quick ways the one found first in the order of the corridors is taken, always the same.
    """
    links = _links(tuple(corridors), policy.speed_m_per_s)
    best: dict[PlaceId, float] = {start: 0.0}
    before: dict[PlaceId, PlaceId] = {}
    queue = [(0.0, 0, start)]
    count = 0
    while queue:
        so_far, _, place = heapq.heappop(queue)
        if place == end:
            break
        for there, seconds in links.get(place, ()):
            reached = so_far + seconds
            if reached < best.get(there, float("inf")):
                best[there], before[there] = reached, place
                count += 1
                heapq.heappush(queue, (reached, count, there))
    if end not in before:
        return (start, end)
    way = [end]
    while way[-1] != start:
        way.append(before[way[-1]])
    return tuple(reversed(way))


@lru_cache(maxsize=4)
def _links(corridors: tuple[Corridor, ...], metres_per_s: float) -> dict[PlaceId, tuple[tuple[PlaceId, float], ...]]:
    """Return the neighbours of each place with the seconds to them."""
    links: dict[PlaceId, list[tuple[PlaceId, float]]] = {}
    for corridor in corridors:
        seconds = corridor.seconds if corridor.seconds is not None else (corridor.metres or 0.0) / metres_per_s
        links.setdefault(corridor.from_place, []).append((corridor.to_place, seconds))
        if not corridor.is_one_way:
            links.setdefault(corridor.to_place, []).append((corridor.from_place, seconds))
    return {place: tuple(ends) for place, ends in links.items()}
