"""Shortest walks over the corridors by Dijkstra's method, written here so that the checker owes the planner nothing."""

from __future__ import annotations

import math
from fractions import Fraction
from heapq import heappop, heappush

from planner.domain.places import Corridor, PlaceId
from planner.domain.problem import Problem


class ShortestWalks:
    """Walking seconds between places: recomputed from corridors; without corridors as the problem states them."""

    def __init__(self, problem: Problem) -> None:
        self.has_map = bool(problem.corridors)
        self._stated = problem.walking.seconds
        self._links: dict[PlaceId, list[tuple[PlaceId, int]]] = {}
        self._from: dict[PlaceId, dict[PlaceId, int]] = {}
        for corridor in problem.corridors:
            seconds = _seconds(corridor, problem.policy.walking.speed_m_per_s)
            self._links.setdefault(corridor.from_place, []).append((corridor.to_place, seconds))
            if not corridor.is_one_way:
                self._links.setdefault(corridor.to_place, []).append((corridor.from_place, seconds))

    def between(self, start: PlaceId, end: PlaceId) -> int | None:
        """Return seconds of the shortest walk, 0 for a place to itself, None when there is no way."""
        if start == end:
            return 0
        if not self.has_map:
            return self._stated.get((start, end))
        if start not in self._from:
            self._from[start] = self._dijkstra(start)
        return self._from[start].get(end)

    def _dijkstra(self, start: PlaceId) -> dict[PlaceId, int]:
        settled: dict[PlaceId, int] = {}
        queue = [(0, start)]
        while queue:
            seconds, place = heappop(queue)
            if place in settled:
                continue
            settled[place] = seconds
            for neighbour, step in self._links.get(place, ()):
                if neighbour not in settled:
                    heappush(queue, (seconds + step, neighbour))
        return settled


def _seconds(corridor: Corridor, speed_m_per_s: float) -> int:
    """Return a corridor's seconds; metres at the policy's speed, as decimals are written, rounded up."""
    if corridor.seconds is not None:
        return corridor.seconds
    return math.ceil(Fraction(str(corridor.metres or 0)) / Fraction(str(speed_m_per_s)))
