"""Routes of visits with windows in arrays: all gaps of all routes are priced at once.

With ``run_s`` the bare seconds from the begin of a route to a stop, a stop starts at ``run_s`` plus the greatest of
``opens_s - run_s`` so far, and must start by ``run_s`` plus the least of ``closes_s - run_s`` from there on. So a
route is timed without a loop over its stops, and a visit priced without a loop over the gaps.

Example: a begin at 0, beds that open at 100 and 0, 10 s of way to each, stays of 300 s. ``run_s`` is 10 and 320;
``opens_s - run_s`` is 90 and -320: the starts are 10 + 90 = 100 and 320 + 90 = 410.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from planner.scheduling.timing import NEVER

Numbers = npt.NDArray[np.int64]

State = tuple[list[list[int]], Numbers, list[int], list[int], dict[int, int]]
"""Routes, arrays, times, walking and homes of the visits, as `Layout.state` keeps them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beds:
    """Visits with windows and collectors, in whole seconds.

    ``way_s`` is square over the visits, then the begins of the collectors, then the way out as the last (only ways
    to it count; its hand-over is in them). ``windows[v]`` are (earliest, latest) starts, ascending. ``weight[v]`` is
    what a visit left out counts. ``able[v]`` has True for the collectors who may make the visit.
    """

    way_s: Numbers
    stay_s: Numbers
    windows: tuple[tuple[tuple[int, int], ...], ...]
    weight: tuple[int, ...]
    able: npt.NDArray[np.bool_]
    begin_s: tuple[int, ...]
    until_s: tuple[int, ...]

    @property
    def num_visits(self) -> int:
        """Number of visits."""
        return len(self.windows)


class Layout:
    """The routes of a search in arrays, a row for each: gap g lies before its stop g, the way out being the last.

    Of each gap: `before` and `behind`, the stops at its sides; `free_s`, when the collector leaves the one before;
    `latest_s`, by when the one behind must start; `rest_s`, the bare seconds from there to the route's end;
    `least_end_s`, the end if nothing is delayed (none behind the last stop); `end_s`, as it is; `leg_s`, the way.
    """

    def __init__(self, beds: Beds, prices: tuple[int, int]) -> None:
        self.beds, self.end_price, self.walking_price = beds, *prices
        num, people = beds.num_visits, len(beds.begin_s)
        self.way_out = num + people
        self.opens_s = np.array([w[0][0] for w in beds.windows] + [0] * (people + 1), dtype=np.int64)
        self.closes_s = np.array([w[-1][1] for w in beds.windows] + [NEVER] * (people + 1), dtype=np.int64)
        self.stay_s = np.concatenate([beds.stay_s, np.zeros(people + 1, dtype=np.int64)])
        self.has_several = [len(w) > 1 for w in beds.windows]
        self.num_several = sum(self.has_several)
        self.is_for_all = [bool(row.all()) for row in beds.able]
        self.into_s = np.ascontiguousarray(beds.way_s.T)
        self.routes: list[list[int]] = [[] for _ in beds.begin_s]
        self.time_s, self.walking_s = [0] * people, [0] * people
        self.home: dict[int, int] = {}
        self._make_room(8)

    def _make_room(self, gaps: int) -> None:
        self.grid = np.zeros((8, len(self.routes), gaps), dtype=np.int64)
        self.before, self.behind, self.free_s, self.latest_s = self.grid[:4]
        self.rest_s, self.least_end_s, self.end_s, self.leg_s = self.grid[4:]
        for k in range(len(self.routes)):
            self.lay_out(k)

    def lay_out(self, k: int) -> None:
        """Time a route whose visits have changed; they are known to fit."""
        beds, route = self.beds, self.routes[k]
        gaps, begin_s = len(route) + 1, beds.begin_s[k]
        if gaps > self.before.shape[1]:
            self._make_room(2 * gaps)
            return
        stops = np.array([beds.num_visits + k, *route, self.way_out])
        left, met = stops[:-1], stops[1:]
        legs_s = beds.way_s[left, met]
        run_s = (self.stay_s[left] + legs_s).cumsum()
        opens_s, closes_s = self.opens_s[met], self.closes_s[met]
        closes_s[-1] = beds.until_s[k]
        if self.num_several and any(self.has_several[v] for v in route):
            self._settle_windows(route, begin_s, run_s, opens_s, closes_s)
        starts_s = run_s + np.maximum(np.maximum.accumulate(opens_s - run_s), begin_s)
        self.before[k, :gaps], self.behind[k, :gaps] = left, met
        self.free_s[k, 0] = begin_s
        self.free_s[k, 1:gaps] = starts_s[:-1] + self.stay_s[met[:-1]]
        self.latest_s[k, :gaps] = run_s + np.minimum.accumulate((closes_s - run_s)[::-1])[::-1]
        self.latest_s[k, gaps:] = -1
        self.rest_s[k, :gaps] = run_s[-1] - run_s
        end_s = int(starts_s[-1]) if route else begin_s
        self.least_end_s[k, : gaps - 1], self.least_end_s[k, gaps - 1] = end_s, 0
        self.end_s[k, :gaps] = end_s
        self.leg_s[k, :gaps] = legs_s if route else 0
        self.time_s[k], self.walking_s[k] = end_s - begin_s, int(self.leg_s[k, :gaps].sum())

    def _settle_windows(
        self, route: Sequence[int], begin_s: int, run_s: Numbers, opens_s: Numbers, closes_s: Numbers
    ) -> None:
        """Give each visit of several windows the first that it can still make."""
        shift_s = begin_s
        for place, v in enumerate(route):
            ready_s = int(run_s[place]) + shift_s
            earliest_s, latest_s = next(w for w in self.beds.windows[v] if ready_s <= w[1])
            opens_s[place], closes_s[place] = earliest_s, latest_s
            shift_s = max(shift_s, earliest_s - int(run_s[place]))

    def prices(self, v: int) -> Numbers:
        """Return what a visit would add in each gap of each route, `NEVER` where it has no room."""
        into_s, onward_s = self.into_s[v].take(self.before), self.beds.way_s[v].take(self.behind)
        arrive_s = self.free_s + into_s
        windows = self.beds.windows[v]
        starts_s = np.maximum(arrive_s, windows[0][0])
        for (_earliest, missed_s), (earliest_s, _latest) in pairwise(windows):
            starts_s = np.where(arrive_s > missed_s, np.maximum(arrive_s, earliest_s), starts_s)
        next_s = starts_s + onward_s
        next_s += self.stay_s[v]
        added: Numbers = into_s + onward_s
        added -= self.leg_s
        added *= self.walking_price
        if self.end_price:
            added += self.end_price * (np.maximum(self.least_end_s, next_s + self.rest_s) - self.end_s)
        added[(next_s > self.latest_s) | (arrive_s > windows[-1][1])] = NEVER
        if not self.is_for_all[v]:
            added[~self.beds.able[v]] = NEVER
        return added

    def insert(self, v: int, skips_best: bool = False) -> bool:
        """Put a visit where it costs least, or second least; False when it has no room."""
        added = self.prices(v)
        best = int(added.argmin())
        if added.flat[best] >= NEVER:
            return False
        if skips_best:
            added.flat[best] = NEVER
            other = int(added.argmin())
            best = other if added.flat[other] < NEVER else best
        k, gap = divmod(best, added.shape[1])
        self.routes[k].insert(gap, v)
        self.home[v] = k
        self.lay_out(k)
        return True

    def take_out(self, gone: set[int]) -> None:
        """Take visits out of their routes."""
        for k in sorted({self.home.pop(v) for v in gone}):
            self.routes[k] = [v for v in self.routes[k] if v not in gone]
            self.lay_out(k)

    def set_routes(self, routes: Sequence[Sequence[int]]) -> None:
        """Lay out other routes; they are known to fit."""
        self.routes = [[*route] for route in routes]
        self.home = {v: k for k, route in enumerate(self.routes) for v in route}
        self._make_room(2 + max(len(route) for route in routes))

    def state(self) -> State:
        """Return what `go_back` needs."""
        return [[*route] for route in self.routes], self.grid.copy(), [*self.time_s], [*self.walking_s], {**self.home}

    def go_back(self, state: State) -> None:
        """Undo what has changed since a state."""
        routes, grid, time_s, walking_s, home = state
        self.routes, self.time_s, self.walking_s = [[*route] for route in routes], [*time_s], [*walking_s]
        self.home = {**home}
        if grid.shape == self.grid.shape:
            self.grid[...] = grid
        else:
            self._make_room(self.grid.shape[2])
