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
    alone: tuple[Timing, ...]
    """The timings of the routes each by itself, whatever rules between visits of two routes ask."""


class Evaluator:
    """Times routes, remembers those it has seen, and counts how many it had to time."""

    def __init__(self, instance: Instance, cache_size: int = 200_000) -> None:
        self.instance = instance
        self.total_weight = sum(v.weight for v in instance.visits)
        self.shares_pct = instance.shares_pct
        self.num_timed = 0
        self.nearest = lru_cache(maxsize=None)(self._nearest)
        self._group_of = {visit: n for n, group in enumerate(instance.same_patient) for visit in group}
        stays_s = [visit.service_s for visit in instance.visits]
        self._beds = [(i, j, stays_s[i], stays_s[j]) for i, j in instance.same_bed]
        self._gaps = [(gap.first, gap.second, gap.least_s, gap.most_s) for gap in instance.gaps]
        self._timing = lru_cache(maxsize=cache_size)(self._time)

    def _nearest(self, visit: int) -> tuple[int, ...]:
        """Return all visits in the order of the walk from one, itself first."""
        visits, row = self.instance.visits, self.instance.walk[self.instance.visits[visit].node]
        return tuple(sorted(range(len(visits)), key=lambda i: (row[visits[i].node], i)))

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

    def settled(
        self, routes: tuple[Stops, ...], alone: tuple[Timing, ...], below: Values | None = None
    ) -> Solution | None:
        """Return the round of routes that are timed each by itself; None when rules between routes cannot be kept.

        Where two visits are bound to one another (a gap of a series, one collector at a bed at a time), the one that
        is too early is moved to the first second that the rule allows, and its route is timed again, until nothing
        moves: the least schedule of the round, given who is at a bed first. That is who comes first; where both want
        the bed at once, the other way round is tried too (of several such beds together, while they are few).

        ``below``: None as well where the round is sure to be worse than these values, as it is when each route by
        itself already is: nothing becomes earlier by being moved. (Nearer to a stated time it may come: that is not
        looked at.)
        """
        values = self.values(routes, alone)
        if below is not None and values > below:
            return None
        if not self.instance.bound:
            return Solution(routes, alone, values, alone)
        start_s = _starts(alone)
        contested = self._contested(start_s) if self.instance.same_bed else []
        if not contested:
            return self._moved(routes, alone, values, start_s, {})
        together = len(contested) if len(contested) <= MAX_CONTESTED else 1
        turned = (chosen for num in range(together + 1) for chosen in combinations(contested, num))
        found = [self._moved(routes, alone, values, start_s, dict(chosen)) for chosen in turned]
        return min((s for s in found if s is not None), key=lambda s: s.values, default=None)

    def _moved(
        self,
        routes: tuple[Stops, ...],
        alone: tuple[Timing, ...],
        values: Values,
        start_s: dict[int, int],
        firsts: dict[tuple[int, int], int],
    ) -> Solution | None:
        """Return the least schedule in which some visits are first at a bed that they share with another.

        ``start_s``: when linked visits start in the routes each by itself.
        """
        floors: dict[int, int] = {}
        timings = alone
        for _ in range(MAX_ROUNDS):
            moved = self._too_early(start_s, firsts)
            if not moved:
                return Solution(routes, timings, self.values(routes, timings) if floors else values, alone)
            floors |= moved
            again = [*timings]
            for collector, timing in enumerate(timings):
                if any(visit in moved for visit, _start_s in timing.linked):
                    mine = tuple(sorted([(visit, floors[visit]) for visit, _s in timing.linked if visit in floors]))
                    retimed = self._timing(collector, routes[collector], mine)
                    if retimed is None:
                        return None
                    again[collector] = retimed
            timings = tuple(again)
            start_s = _starts(timings)
        return None

    def _contested(self, start_s: dict[int, int]) -> list[tuple[tuple[int, int], int]]:
        """Return the pairs of visits at one bed that two collectors would make at once, and who came second."""
        found = []
        for i, j, i_stays_s, j_stays_s in self._beds:
            if i in start_s and j in start_s:
                i_s, j_s = start_s[i], start_s[j]
                if i_s <= j_s:  # two that begin at once are contested either way
                    if j_s < i_s + i_stays_s:  # never so on one route
                        found.append(((i, j), j))
                elif i_s < j_s + j_stays_s:
                    found.append(((i, j), i))
        return found

    def _too_early(self, start_s: dict[int, int], firsts: dict[tuple[int, int], int]) -> dict[int, int]:
        """Return the visits that a rule between two visits lets start only later, and when."""
        moved: dict[int, int] = {}
        for i, j, least_s, most_s in self._gaps:
            if i in start_s and j in start_s:
                first_s, second_s = start_s[i], start_s[j]
                if second_s < first_s + least_s:
                    moved[j] = max(moved.get(j, 0), first_s + least_s)
                elif first_s < second_s - most_s:
                    moved[i] = max(moved.get(i, 0), second_s - most_s)
        for i, j, i_stays_s, j_stays_s in self._beds:
            if i in start_s and j in start_s:
                i_s, j_s = start_s[i], start_s[j]
                first = firsts.get((i, j)) if firsts else None
                if first == i or (first is None and i_s <= j_s):
                    if j_s < i_s + i_stays_s:
                        moved[j] = max(moved.get(j, 0), i_s + i_stays_s)
                elif i_s < j_s + j_stays_s:
                    moved[i] = max(moved.get(i, 0), j_s + j_stays_s)
        return moved

    def values(self, _routes: tuple[Stops, ...], timings: tuple[Timing, ...]) -> Values:
        """Return what the round counts in each tier of goals."""
        prices = self.instance.prices
        return (
            self.total_weight - sum([t.weight for t in timings]),
            sum([t.service for t in timings]) + prices.puncture_s * self.second_punctures(timings),
            sum([t.effort for t in timings])
            + prices.finish_pct * self.finish(timings)
            + prices.share * self.share([t.bed_s for t in timings]),
        )

    def second_punctures(self, timings: tuple[Timing, ...]) -> int:
        """Return the number of visits beyond each patient's first."""
        group_of = self._group_of
        if not group_of:
            return 0
        served = [group_of[visit] for timing in timings for visit, _start_s in timing.linked if visit in group_of]
        return len(served) - len(set(served))

    def finish(self, timings: tuple[Timing, ...]) -> int:
        """Return the seconds from the begin of the round until the last person is done."""
        return max(0, max(t.finish_s for t in timings) - self.instance.start_s)

    def share(self, work_s: Sequence[int]) -> int:
        """Return by how much the busiest works more at beds than a fair share, in hundredths of a second."""
        total_s = sum(work_s)
        return max(0, max([100 * own_s - pct * total_s for own_s, pct in zip(work_s, self.shares_pct, strict=True)]))


def _starts(timings: tuple[Timing, ...]) -> dict[int, int]:
    """Return the starts of the visits that are linked to another."""
    return {visit: start_s for timing in timings for visit, start_s in timing.linked}


def part_values(evaluator: Evaluator, solution: Solution) -> dict[Part, int]:
    """Return the parts of all tiers with their own values."""
    timings = solution.timings
    return {
        Part.UNCOLLECTED: solution.values[0],
        Part.LATE: sum(t.late for t in timings),
        Part.DELIVERY: sum(t.delivery for t in timings),
        Part.STAT_TO_LAB: sum(t.to_lab for t in timings),
        Part.SECOND_PUNCTURES: evaluator.second_punctures(timings),
        Part.CHANGES: sum(t.changes for t in timings),
        Part.TIME: sum(t.time_s for t in timings),
        **_draw_times(evaluator.instance, solution),
        Part.ARRIVAL: sum(t.arrival for t in timings),
        Part.FINISH: evaluator.finish(timings),
        Part.SHARE: evaluator.share([t.bed_s for t in timings]),
        Part.WARD_CHANGES: sum(t.ward_changes for t in timings),
        Part.OTHER_WARDS: sum(
            v >= 0 and k in evaluator.instance.visits[v].strange
            for k, stops in enumerate(solution.routes)
            for v in stops
        ),
        Part.PRECAUTIONS: sum(t.precautions for t in timings),
        Part.PROTECTIVE_AFTER_AIRBORNE: sum(t.exposures for t in timings),
    }


def _draw_times(instance: Instance, solution: Solution) -> dict[Part, int]:
    """Return the parts that the start of each visit counts by itself."""
    wait_s = last_s = off_s = 0
    for stops, timing in zip(solution.routes, solution.timings, strict=True):
        for stop, start_s in zip(stops, timing.starts_s, strict=True):
            if stop >= 0:
                visit = instance.visits[stop]
                wait_s += 0 if visit.wish_s is None else max(0, start_s - visit.wish_s)
                last_s += 0 if visit.last_minutes_s is None else max(0, start_s - visit.last_minutes_s)
                for first_s, end_s in visit.wished:
                    off_s += max(0, (first_s or 0) - start_s, 0 if end_s is None else start_s - end_s)
    return {Part.STAT_WAIT: wait_s, Part.LAST_MINUTES: last_s, Part.OFF_TIME: off_s}


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
        Part.LAST_MINUTES: prices.last_minutes_pct,
        Part.OFF_TIME: prices.off_time_pct,
        Part.ARRIVAL: prices.arrival_pct,
        Part.FINISH: prices.finish_pct,
        Part.SHARE: prices.share,
        Part.WARD_CHANGES: EFFORT_PER_S * prices.ward_change_s,
        Part.OTHER_WARDS: EFFORT_PER_S * prices.other_ward_s,
        Part.PRECAUTIONS: pair,
        Part.PROTECTIVE_AFTER_AIRBORNE: exposure,
    }
