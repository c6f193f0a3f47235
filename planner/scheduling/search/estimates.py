"""What one more stop would cost a timed route: quick estimates that choose where to put it, before it is timed.

A route is timed exactly by `planner.scheduling.timing.timing`, which is dear. The search asks about every gap of every
route, so it asks here first:

1. Going forward through a timed route, the earliest end of every stop is known; going backward, the latest start
   from which windows, couriers and the shift can still be kept. A gap that they rule out is left at once.
2. A delay is followed through the stops behind the gap only until waiting swallows it.
3. Specimens keep their hand-over; the new visit's take the stop that brings them in first. A gap where some would
   be too old on arrival, have no taker, or fill the tray too full on the way there, is tried with a hand-over of
   its own behind the visit.

Example: stops end at 05:10 and 05:20 and the next bed opens at 05:40. A visit of 8 minutes, 2 minutes off the way,
is over and back by 05:32: the delay is swallowed, and its cost is its own arrival at the laboratory alone.

What is chosen is always timed exactly afterwards: a wrong estimate costs a chance, never a rule.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from planner.scheduling.timing.instance import BREAK, Instance
from planner.scheduling.timing.solution import Evaluator
from planner.scheduling.timing.timing import Stops, Timing

if TYPE_CHECKING:
    from planner.scheduling.timing.arrays import Numbers

    Timed = tuple[Numbers, Numbers, Numbers]
    """Stops, starts and takers of a route as compiled code reads them."""


class Cost(NamedTuple):
    """What a route gains in each tier but the first, in time, and when it is then over; compared in this order.

    The finish of the round is no part of it: it hangs on the other routes too.
    """

    service: int
    effort: int
    time_s: int
    finish_s: int


NOTHING = Cost(0, 0, 0, 0)


class Option(NamedTuple):
    """A way to put a visit into a route, by estimate: its cost, and where; compared in this order.

    ``pickup`` is that of a hand-over right behind the visit; -1: it has none of its own.
    """

    service: int
    effort: int
    time_s: int
    finish_s: int
    gap: int
    pickup: int


Options = tuple[tuple[Option, ...], tuple[Option, ...]]
"""The best ways to put a visit into a route: by cost, and by the time they take."""

NEAR_PICKUPS = 4
"""Hand-overs of a visit's own are tried at so many of the nearest pickups."""

MAX_KEPT = 60_000


class Estimator:
    """Estimates insertions into routes, remembers them, and counts its work in gaps looked at."""

    def __init__(self, evaluator: Evaluator) -> None:
        import numpy as np

        from planner.scheduling.search.kernel import MAX_OPTIONS, find_places, handover_cost

        self.evaluator = evaluator
        self.instance = evaluator.instance
        self.num_gaps = 0
        self._find_places, self._handover_cost = find_places, handover_cost
        self._best = np.empty((2, MAX_OPTIONS, 6), np.int64)
        self._timed: dict[tuple[int, Stops], Timed | None] = {}
        self._options: dict[tuple[int, int, Stops], Options] = {}
        self._earlier_draws, self._later_draws = _series(self.instance)
        walk, pickups = self.instance.walk, self.instance.pickups
        order = range(len(pickups))
        self._near = [tuple(sorted(order, key=lambda j: (row[pickups[j].node], j))[:NEAR_PICKUPS]) for row in walk]
        self._near_hand = [
            tuple(sorted((j for j in order if pickups[j].takes_hand), key=lambda j: (row[pickups[j].node], j))[:2])
            for row in walk
        ]
        self._tried = [
            np.array(self.pickups_near(visit.node, any(s.by_hand for s in visit.specimens)), np.int64)
            for visit in self.instance.visits
        ]

    def timed(self, collector: int, stops: Stops) -> Timed | None:
        """Return the stops, starts and takers of a route in arrays, None when it breaks a rule."""
        key = (collector, stops)
        if key not in self._timed:
            if len(self._timed) > MAX_KEPT:
                self._timed.clear()
            timing = self.evaluator.timing(collector, stops)
            self._timed[key] = None if timing is None else _in_arrays(stops, timing)
        return self._timed[key]

    def options(self, visit: int, collector: int, stops: Stops) -> Options:
        """Return the cheapest ways to put a visit into a route, by estimate, the cheapest first."""
        key = (visit, collector, stops)
        found = self._options.get(key)
        if found is None:
            if len(self._options) > MAX_KEPT:
                self._options.clear()
            found = self._options[key] = self._find(visit, collector, stops)
        return found

    def pickups_near(self, node: int, by_hand: bool = False) -> tuple[int, ...]:
        """Return the nearest pickups of a place (those that take what must go by hand)."""
        return self._near_hand[node] if by_hand else self._near[node]

    def handover_cost(self, collector: int, stops: Stops, gap: int, pickup: int) -> Cost | None:
        """Return the cost (below zero: the gain) of one more hand-over in a gap of a route; None: it gains nothing."""
        timed = self.timed(collector, stops)
        self.num_gaps += 1
        option = self._best[0, 0]
        if timed is None or not self._handover_cost(self.instance.rules, collector, *timed, gap, pickup, option):
            return None
        return Cost(*option[:4].tolist())

    def _find(self, visit: int, collector: int, stops: Stops) -> Options:
        timed = self.timed(collector, stops)
        if timed is None:
            return (), ()
        gaps, best = self._between_bound(visit, stops), self._best
        num, looked = self._find_places(self.instance.rules, collector, *timed, visit, gaps, self._tried[visit], best)
        self.num_gaps += looked
        by_cost, by_time = best[:, :num].tolist()
        return tuple([Option(*row) for row in by_cost]), tuple([Option(*row) for row in by_time])

    def _between_bound(self, visit: int, stops: Stops) -> tuple[int, int]:
        """Return the first and the last gap of a route that keep the order of a series (rule ``series-gap``)."""
        earlier, later = self._earlier_draws.get(visit, ()), self._later_draws.get(visit, ())
        if not (earlier or later):
            return 0, len(stops)
        first = max((gap for gap, stop in enumerate(stops, start=1) if stop in earlier), default=0)
        last = min((gap for gap, stop in enumerate(stops) if stop in later), default=len(stops))
        return first, last


def with_visit(stops: Stops, gap: int, visit: int, pickup: int) -> Stops:
    """Return a route with a visit in a gap, and a hand-over behind it where ``pickup`` is one."""
    return (*stops[:gap], visit, *((~pickup,) if pickup >= 0 else ()), *stops[gap:])


def _in_arrays(stops: Stops, timing: Timing) -> Timed:
    import numpy as np

    return np.array(stops, np.int64), np.array(timing.starts_s, np.int64), np.array(timing.takers, np.int64)


def _series(instance: Instance) -> tuple[dict[int, set[int]], dict[int, set[int]]]:
    """Return for each visit of a series those that come before it, and those behind it, over others too."""
    earlier: dict[int, set[int]] = {}
    later: dict[int, set[int]] = {}
    for gap in instance.gaps:
        if gap.least_s > 0:
            before = {gap.first, *earlier.get(gap.first, ())}
            behind = {gap.second, *later.get(gap.second, ())}
            for visit in before:
                later.setdefault(visit, set()).update(behind)
            for visit in behind:
                earlier.setdefault(visit, set()).update(before)
    return earlier, later


def places_to_give(stops: Stops) -> list[int]:
    """Return the gaps right behind a visit or a break: behind a hand-over nothing new is in the tray."""
    return [gap for gap, stop in enumerate(stops, start=1) if stop >= 0 or stop == BREAK]
