"""A whole round in numbers: the stops of every route, and its goals as one tuple that compares in their order."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from planner.scheduling.instance import Instance
from planner.scheduling.timing import Stops, Timing, time_route

GOALS: tuple[tuple[str, str], ...] = (
    ("uncollected", "weight"),
    ("late", "weighted s"),
    ("punctures", "draws"),
    ("delivery", "weighted s"),
    ("arrival", "s"),
    ("time", "s"),
    ("finish", "s"),
)
"""Name and unit of every goal, compared strictly in this order."""

Values = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Solution:
    """Stops by collector, their timings, and the goals' values."""

    routes: tuple[Stops, ...]
    timings: tuple[Timing, ...]
    values: Values


class Evaluator:
    """Times routes, remembers those it has seen, and counts how many it had to time."""

    def __init__(self, instance: Instance, cache_size: int = 200_000) -> None:
        self.instance = instance
        self.total_weight = sum(v.weight for v in instance.visits)
        self.num_timed = 0
        self._timing = lru_cache(maxsize=cache_size)(self._time)

    def _time(self, collector: int, stops: Stops) -> Timing | None:
        self.num_timed += 1
        return time_route(self.instance, collector, stops)

    def timing(self, collector: int, stops: Stops) -> Timing | None:
        """Return the earliest schedule of one route, None when it breaks a hard rule."""
        return self._timing(collector, stops)

    def solution(self, routes: tuple[Stops, ...]) -> Solution | None:
        """Return the routes with their goals, None when one of them breaks a hard rule."""
        timings: list[Timing] = []
        for collector, stops in enumerate(routes):
            timing = self._timing(collector, stops)
            if timing is None:
                return None
            timings.append(timing)
        if not self.keeps_one_at_the_bed(routes, tuple(timings)):
            return None
        return Solution(routes, tuple(timings), self.values(routes, tuple(timings)))

    def keeps_one_at_the_bed(self, routes: tuple[Stops, ...], timings: tuple[Timing, ...]) -> bool:
        """Return whether no two visits of one patient, made by whomever, overlap."""
        if not self.instance.same_bed:
            return True
        start_s = {
            stop: timing.starts_s[position]
            for stops, timing in zip(routes, timings, strict=True)
            for position, stop in enumerate(stops)
            if stop >= 0
        }
        visits = self.instance.visits
        return all(
            start_s[i] + visits[i].service_s <= start_s[j] or start_s[j] + visits[j].service_s <= start_s[i]
            for i, j in self.instance.same_bed
            if i in start_s and j in start_s
        )

    def values(self, routes: tuple[Stops, ...], timings: tuple[Timing, ...]) -> Values:
        """Return the goals in their order."""
        visits = self.instance.visits
        served = [stop for stops in routes for stop in stops if stop >= 0]
        start_s = self.instance.start_s
        return (
            self.total_weight - sum(visits[i].weight for i in served),
            sum(t.late for t in timings),
            len(served),
            sum(t.delivery for t in timings),
            sum(t.arrival for t in timings),
            sum(t.time_s for t in timings),
            max(0, max(t.finish_s for t in timings) - start_s),
        )
