"""A whole round in numbers: the stops of every route, and its tiers of goals as one tuple that compares in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

from planner.domain.goals import EFFORT_PER_S, Part
from planner.scheduling.timing.instance import Instance
from planner.scheduling.timing.timing import Floors, Stops, Timing, time_route

Values = tuple[int, ...]
"""What a round counts in each tier of goals, in the order of `Tier`."""

MAX_ROUNDS = 40
"""Times that visits bound to one another are moved before a round is given up."""


MAX_CONTESTED = 3
"""Of so many beds that two want at once all ways to share them are tried, of more only one at a time."""


@dataclass(frozen=True, slots=True)
class Solution:
    """Stops by collector, their timings, and what the tiers of goals count."""

    routes: tuple[Stops, ...]
    timings: tuple[Timing, ...]
    values: Values


class Evaluator:
    """Times routes, remembers those it has seen, and counts how many it had to time."""

    def __init__(self, instance: Instance, cache_size: int = 200_000) -> None:
        self.instance = instance
        self.total_weight = sum(v.weight for v in instance.visits)
        self.shares_pct = instance.shares_pct
        self.num_timed = 0
        pairs = [*instance.same_bed, *((gap.first, gap.second) for gap in instance.gaps)]
        self._bound = frozenset(visit for pair in pairs for visit in pair)
        self._timing = lru_cache(maxsize=cache_size)(self._time)

    def _time(self, collector: int, stops: Stops, floors: Floors) -> Timing | None:
        self.num_timed += 1
        return time_route(self.instance, collector, stops, floors)

    def timing(self, collector: int, stops: Stops, floors: Floors = ()) -> Timing | None:
        """Return the earliest schedule of one route, None when it breaks a hard rule."""
        return self._timing(collector, stops, floors)

    def solution(self, routes: tuple[Stops, ...]) -> Solution | None:
        """Return the routes with their tiers of goals, None when one of them breaks a hard rule."""
        timings: list[Timing] = []
        for collector, stops in enumerate(routes):
            timing = self._timing(collector, stops, ())
            if timing is None:
                return None
            timings.append(timing)
        return self.settled(routes, tuple(timings))

    def settled(self, routes: tuple[Stops, ...], timings: tuple[Timing, ...]) -> Solution | None:
        """Return the round of routes that are timed each by itself; None when rules between routes cannot be kept.

        Where two visits are bound to one another (a gap of a series, one collector at a bed at a time), the one that
        is too early is moved to the first second that the rule allows, and its route is timed again, until nothing
        moves: the least schedule of the round, given who is at a bed first. That is who comes first; where both want
        the bed at once, the other way round is tried too (of several such beds together, while they are few).
        """
        if not self._bound:
            return Solution(routes, timings, self.values(routes, timings))
        alone = [self._timing(collector, stops, ()) for collector, stops in enumerate(routes)]
        timings = tuple(timing for timing in alone if timing is not None)
        assert len(timings) == len(routes)
        contested = self._contested(routes, timings)
        together = len(contested) if len(contested) <= MAX_CONTESTED else 1
        turned = (chosen for num in range(together + 1) for chosen in combinations(contested, num))
        found = [self._moved(routes, timings, dict(chosen)) for chosen in turned]
        return min((s for s in found if s is not None), key=lambda s: s.values, default=None)

    def _moved(
        self, routes: tuple[Stops, ...], timings: tuple[Timing, ...], firsts: dict[tuple[int, int], int]
    ) -> Solution | None:
        """Return the least schedule in which some visits are first at a bed that they share with another."""
        floors: dict[int, int] = {}
        for _ in range(MAX_ROUNDS):
            moved = self._too_early(self._starts(routes, timings), firsts)
            if not moved:
                return Solution(routes, timings, self.values(routes, timings))
            floors |= moved
            again: list[Timing] = []
            for collector, (stops, timing) in enumerate(zip(routes, timings, strict=True)):
                mine = tuple(sorted((i, s) for i, s in floors.items() if i in stops))
                retimed = self._timing(collector, stops, mine) if mine else timing
                if retimed is None:
                    return None
                again.append(retimed)
            timings = tuple(again)
        return None

    def _contested(self, routes: tuple[Stops, ...], timings: tuple[Timing, ...]) -> list[tuple[tuple[int, int], int]]:
        """Return the pairs of visits at one bed that two collectors would make at once, and who came second."""
        start_s, visits = self._starts(routes, timings), self.instance.visits
        found = []
        for pair in self.instance.same_bed:
            if pair[0] in start_s and pair[1] in start_s:
                first, second = sorted(pair, key=lambda i: (start_s[i], i))
                if start_s[second] < start_s[first] + visits[first].service_s:  # never so on one route
                    found.append((pair, second))
        return found

    def _starts(self, routes: tuple[Stops, ...], timings: tuple[Timing, ...]) -> dict[int, int]:
        """Return the starts of the visits that are bound to another."""
        bound = self._bound
        return {
            stop: timing.starts_s[position]
            for stops, timing in zip(routes, timings, strict=True)
            for position, stop in enumerate(stops)
            if stop in bound
        }

    def _too_early(self, start_s: dict[int, int], firsts: dict[tuple[int, int], int]) -> dict[int, int]:
        """Return the visits that a rule between two visits lets start only later, and when."""
        visits = self.instance.visits
        moved: dict[int, int] = {}
        for gap in self.instance.gaps:
            if gap.first in start_s and gap.second in start_s:
                first_s, second_s = start_s[gap.first], start_s[gap.second]
                if second_s < first_s + gap.least_s:
                    moved[gap.second] = max(moved.get(gap.second, 0), first_s + gap.least_s)
                elif first_s < second_s - gap.most_s:
                    moved[gap.first] = max(moved.get(gap.first, 0), second_s - gap.most_s)
        for pair in self.instance.same_bed:
            if pair[0] in start_s and pair[1] in start_s:
                first, second = sorted(pair, key=lambda i: (i != firsts.get(pair, i), start_s[i], i))
                free_s = start_s[first] + visits[first].service_s
                if start_s[second] < free_s:
                    moved[second] = max(moved.get(second, 0), free_s)
        return moved

    def values(self, routes: tuple[Stops, ...], timings: tuple[Timing, ...]) -> Values:
        """Return what the round counts in each tier of goals."""
        visits, prices = self.instance.visits, self.instance.prices
        return (
            self.total_weight - sum([visits[stop].weight for stops in routes for stop in stops if stop >= 0]),
            sum([t.service for t in timings]) + prices.puncture_s * self.second_punctures(routes),
            sum([t.effort for t in timings])
            + prices.finish_pct * self.finish(timings)
            + prices.share * self.share([t.bed_s for t in timings]),
        )

    def second_punctures(self, routes: tuple[Stops, ...]) -> int:
        """Return the number of visits beyond each patient's first."""
        groups = self.instance.same_patient
        if not groups:
            return 0
        served = {stop for stops in routes for stop in stops}
        return sum(max(0, sum(visit in served for visit in group) - 1) for group in groups)

    def finish(self, timings: tuple[Timing, ...]) -> int:
        """Return the seconds from the begin of the round until the last person is done."""
        return max(0, max(t.finish_s for t in timings) - self.instance.start_s)

    def share(self, work_s: Sequence[int]) -> int:
        """Return by how much the busiest works more at beds than a fair share, in hundredths of a second."""
        total_s = sum(work_s)
        return max(0, max([100 * own_s - pct * total_s for own_s, pct in zip(work_s, self.shares_pct, strict=True)]))


def part_values(evaluator: Evaluator, solution: Solution) -> dict[Part, int]:
    """Return the parts of all tiers with their own values."""
    timings = solution.timings
    return {
        Part.UNCOLLECTED: solution.values[0],
        Part.LATE: sum(t.late for t in timings),
        Part.DELIVERY: sum(t.delivery for t in timings),
        Part.STAT_TO_LAB: sum(t.to_lab for t in timings),
        Part.SECOND_PUNCTURES: evaluator.second_punctures(solution.routes),
        Part.CHANGES: sum(t.changes for t in timings),
        Part.TIME: sum(t.time_s for t in timings),
        Part.STAT_WAIT: sum(t.wait_s for t in timings),
        Part.ARRIVAL: sum(t.arrival for t in timings),
        Part.FINISH: evaluator.finish(timings),
        Part.SHARE: evaluator.share([t.bed_s for t in timings]),
        Part.WARD_CHANGES: sum(t.ward_changes for t in timings),
        Part.PRECAUTIONS: sum(t.precautions for t in timings),
        Part.PROTECTIVE_AFTER_AIRBORNE: sum(t.exposures for t in timings),
    }


def part_prices(instance: Instance) -> dict[Part, int]:
    """Return what one of each part counts in its tier."""
    prices = instance.prices
    pair, exposure = instance.effort_of_pairs
    return {
        Part.UNCOLLECTED: 1,
        Part.LATE: 1,
        Part.DELIVERY: 1,
        Part.STAT_TO_LAB: prices.to_lab,
        Part.SECOND_PUNCTURES: prices.puncture_s,
        Part.CHANGES: prices.moved_stop_s,
        Part.TIME: EFFORT_PER_S,
        Part.STAT_WAIT: prices.stat_wait_pct,
        Part.ARRIVAL: prices.arrival_pct,
        Part.FINISH: prices.finish_pct,
        Part.SHARE: prices.share,
        Part.WARD_CHANGES: EFFORT_PER_S * prices.ward_change_s,
        Part.PRECAUTIONS: pair,
        Part.PROTECTIVE_AFTER_AIRBORNE: exposure,
    }
