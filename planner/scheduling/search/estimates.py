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

from collections.abc import Sequence
from typing import NamedTuple

from planner.domain.goals import EFFORT_PER_S
from planner.scheduling.search.profiles import Profile
from planner.scheduling.timing.instance import BREAK, Instance, PromiseData, SpecimenData, VisitData
from planner.scheduling.timing.solution import Evaluator
from planner.scheduling.timing.timing import NEVER, Stops


class Cost(NamedTuple):
    """What a route gains in each tier but the first, in time, and when it is then over; compared in this order.

    The finish of the round is no part of it: it hangs on the other routes too.
    """

    service: int
    effort: int
    time_s: int
    finish_s: int


NOTHING = Cost(0, 0, 0, 0)

Option = tuple[Cost, Stops]

Options = tuple[tuple[Option, ...], tuple[Option, ...]]
"""The best ways to put a visit into a route: by cost, and by the time they take."""

NEAR_PICKUPS = 4
"""Hand-overs of a visit's own are tried at so many of the nearest pickups."""

MAX_OPTIONS = 3
MAX_KEPT = 60_000


class Behind(NamedTuple):
    """What a delay costs behind a gap, when the route is then over, and when its hand-overs arrive, if others."""

    service: int
    arrival: int
    finish_s: int
    arrivals: tuple[int, ...] = ()
    wait_s: int = 0
    """By which stats are drawn later."""


class Estimator:
    """Estimates insertions into routes, remembers them, and counts its work in gaps looked at."""

    def __init__(self, evaluator: Evaluator) -> None:
        self.evaluator = evaluator
        self.instance = evaluator.instance
        self.num_gaps = 0
        prices, self._pairs = self.instance.prices, self.instance.effort_of_pairs
        self._arrival_pct, self._moved_stop_s = prices.arrival_pct, prices.moved_stop_s
        self._stat_wait_pct = prices.stat_wait_pct
        wards = {visit.ward for visit in self.instance.visits if not visit.is_tray}
        is_several = len(wards.union(who.ward for who in self.instance.collectors) - {None}) > 1
        self._ward_change = EFFORT_PER_S * prices.ward_change_s if is_several else 0
        self._counts_turns = bool(self.instance.turns.before or self.instance.exposures.before)
        self._profiles: dict[tuple[int, Stops], Profile | None] = {}
        self._options: dict[tuple[int, int, Stops], Options] = {}
        self._earlier_draws, self._later_draws = _series(self.instance)
        walk, pickups = self.instance.walk, self.instance.pickups
        order = range(len(pickups))
        self._near = [tuple(sorted(order, key=lambda j: (row[pickups[j].node], j))[:NEAR_PICKUPS]) for row in walk]
        self._near_hand = [
            tuple(sorted((j for j in order if pickups[j].takes_hand), key=lambda j: (row[pickups[j].node], j))[:2])
            for row in walk
        ]

    def profile(self, collector: int, stops: Stops) -> Profile | None:
        """Return a route laid out for estimates, None when it breaks a rule."""
        key = (collector, stops)
        if key not in self._profiles:
            if len(self._profiles) > MAX_KEPT:
                self._profiles.clear()
            timing = self.evaluator.timing(collector, stops)
            self._profiles[key] = None if timing is None else Profile(self.instance, collector, stops, timing)
        return self._profiles[key]

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

    def _find(self, visit: int, collector: int, stops: Stops) -> Options:
        profile = self.profile(collector, stops)
        if profile is None:
            return (), ()
        instance, data = self.instance, self.instance.visits[visit]
        row_of = instance.walk
        found: list[Option] = []
        first_gap, last_gap = self._between_bound(visit, stops)
        num_tubes = 0 if data.is_tray else sum([s.num_tubes for s in data.specimens])
        for gap in range(first_gap, last_gap + 1):
            start_s = _first_start(data, profile.ends_s[gap] + row_of[profile.nodes[gap]][data.node])
            if start_s < 0:
                break
            self.num_gaps += 1
            if gap < len(stops) and start_s + data.service_s > profile.latest_s[gap]:
                continue
            if num_tubes > profile.room[gap]:
                continue
            cost = self._plain(profile, gap, visit, start_s) if num_tubes <= profile.room_on[gap] else None
            if cost is not None:
                found.append((cost, (*stops[:gap], visit, *stops[gap:])))
                continue
            by_hand = any(s.by_hand for s in data.specimens)
            for pickup in self.pickups_near(data.node, by_hand):
                self.num_gaps += 1
                cost = self._with_handover(profile, gap, visit, start_s, pickup)
                if cost is not None:
                    found.append((cost, (*stops[:gap], visit, ~pickup, *stops[gap:])))
        return self._keeping_the_break(collector, found)

    def _between_bound(self, visit: int, stops: Stops) -> tuple[int, int]:
        """Return the first and the last gap of a route that keep the order of a series (rule ``series-gap``)."""
        earlier, later = self._earlier_draws.get(visit, ()), self._later_draws.get(visit, ())
        if not (earlier or later):
            return 0, len(stops)
        first = max((gap for gap, stop in enumerate(stops, start=1) if stop in earlier), default=0)
        last = min((gap for gap, stop in enumerate(stops) if stop in later), default=len(stops))
        return first, last

    def _keeping_the_break(self, collector: int, found: list[Option]) -> Options:
        """Drop options that would owe a break, unless no other is left: the caller then adds the break."""
        who = self.instance.collectors[collector]
        if who.break_window is not None:
            found = [o for o in found if BREAK in o[1] or not who.owes_break(o[0].finish_s)] or found
        return (
            tuple(sorted(found, key=lambda option: option[0])[:MAX_OPTIONS]),
            tuple(sorted(found, key=lambda option: (option[0].time_s, option[0]))[:MAX_OPTIONS]),
        )

    def _plain(self, profile: Profile, gap: int, visit: int, start_s: int) -> Cost | None:
        """Return the cost of a visit in a gap, its specimens given away at a later stop that is there already."""
        data = self.instance.visits[visit]
        while True:
            behind = self._delay(profile, gap, start_s + data.service_s, data.node)
            if behind is None:
                return None
            brought_s = self._brought_s(profile, gap, data, behind.arrivals)
            if brought_s is None:
                return None
            pairs = list(zip(data.specimens, brought_s, strict=True))
            raise_to_s = max([arrival_s - s.limit_s for s, arrival_s in pairs]) if pairs else 0
            if raise_to_s <= start_s:
                break
            start_s = _first_start(data, raise_to_s)
            if start_s < 0:
                return None
        return self._cost(profile, gap, visit, start_s, behind, pairs, 0)

    def _brought_s(self, profile: Profile, gap: int, data: VisitData, arrivals: tuple[int, ...]) -> list[int] | None:
        """Return when each kind of specimens of a visit in a gap arrives; None when some are never given away."""
        behind = profile.taken[profile.next_taken[gap] :]
        if not behind:
            return None if data.specimens else []
        brought_s: list[int] = []
        for specimens in data.specimens:
            first_s = NEVER
            for n, taken in enumerate(behind):
                if specimens.by_hand and not self.instance.pickups[taken.pickup].takes_hand:
                    continue
                arrival_s = arrivals[n] if n < len(arrivals) else taken.arrival_s
                if arrival_s < first_s:
                    first_s = arrival_s
            if first_s == NEVER:
                return None
            brought_s.append(first_s)
        return brought_s

    def _with_handover(self, profile: Profile, gap: int, visit: int, start_s: int, pickup: int) -> Cost | None:
        """Return the cost of a visit with a hand-over right behind it."""
        instance, there, data = self.instance, self.instance.pickups[pickup], self.instance.visits[visit]
        more_s = data.service_s + instance.walk[data.node][there.node] + instance.handover_s
        arrival_s = there.lab_arrival_s(start_s + more_s)
        if arrival_s is None:
            return None
        raise_to_s = max([arrival_s - s.limit_s for s in data.specimens], default=0)
        if raise_to_s > start_s:
            start_s = _first_start(data, raise_to_s)
            if start_s < 0 or there.lab_arrival_s(start_s + more_s) != arrival_s:
                return None
        behind = self._delay(profile, gap, start_s + more_s, there.node)
        if behind is None:
            return None
        gain = self._earlier(profile, gap, pickup, arrival_s)
        return self._cost(profile, gap, visit, start_s, behind, [(s, arrival_s) for s in data.specimens], gain)

    def _earlier(self, profile: Profile, gap: int, pickup: int, arrival_s: int) -> int:
        """Return the seconds by which specimens drawn before a gap arrive earlier by a hand-over in it.

        Less than `Profile.gained` says: of visits that give all behind the gap, and not of tier ``service``. Asked for
        every pickup in every gap, that cost more time and gave no better rounds (seven of 120 visits).
        """
        takes_hand = self.instance.pickups[pickup].takes_hand
        arrivals = {taken.position: taken.arrival_s for taken in profile.taken}
        gain = 0
        for position in range(gap):
            takers = profile.timing.handovers[position]
            if not takers or min(takers) < gap:
                continue
            if takes_hand or not any(s.by_hand for s in self.instance.visits[profile.stops[position]].specimens):
                before_s = max(arrivals[t] for t in takers)
                gain += max(0, before_s - arrival_s)
        return gain

    def handover_cost(self, profile: Profile, gap: int, pickup: int) -> Cost | None:
        """Return the cost (below zero: the gain) of one more hand-over in a gap."""
        instance, there = self.instance, self.instance.pickups[pickup]
        self.num_gaps += 1
        end_s = profile.ends_s[gap] + instance.walk[profile.nodes[gap]][there.node] + instance.handover_s
        arrival_s = there.lab_arrival_s(end_s)
        if arrival_s is None:
            return None
        service, arrival = profile.gained(instance, gap, there.takes_hand, arrival_s)
        if service == arrival == 0:
            return None
        behind = self._delay(profile, gap, end_s, there.node)
        if behind is None:
            return None
        time_s = behind.finish_s - profile.finish_s
        return Cost(
            behind.service - service,
            EFFORT_PER_S * time_s
            + self._arrival_pct * (behind.arrival - arrival)
            + self._stat_wait_pct * behind.wait_s,
            time_s,
            behind.finish_s,
        )

    def _cost(
        self,
        profile: Profile,
        gap: int,
        visit: int,
        start_s: int,
        behind: Behind,
        brought: Sequence[tuple[SpecimenData, int]],
        gain: int,
    ) -> Cost:
        """Return the cost of a visit in a gap: its start, its specimens with their arrivals, and what is behind.

        ``gain``: seconds by which other specimens arrive earlier.
        """
        instance, data = self.instance, self.instance.visits[visit]
        service, arrival, finish_s, _arrivals, wait_s = behind
        for target_s, weight in data.targets:
            if start_s > target_s:
                service += weight * (start_s - target_s)
        for specimens, arrival_s in brought:
            for due_s, weight in instance.dues(data, specimens):
                if arrival_s > due_s:
                    service += weight * (arrival_s - due_s)
        if data.wish_s is not None:
            wait_s += max(0, start_s - data.wish_s)
        if data.promise is not None:
            service += self._moved_stop_s * self._breaks_promise(profile, gap, data.promise, start_s)
        arrival += (max([arrival_s for _s, arrival_s in brought]) if brought else 0) - gain
        time_s = finish_s - profile.finish_s - data.service_s
        effort = EFFORT_PER_S * time_s + self._arrival_pct * arrival + self._stat_wait_pct * wait_s
        if self._ward_change and not data.is_tray:
            effort += self._ward_change * profile.ward_changes(gap, data.ward)
        if self._counts_turns:
            earlier, (pair, exposure) = profile.seen[gap], self._pairs
            later = profile.seen[-1] & ~earlier
            effort += pair * instance.turns.with_visit(visit, earlier, later)
            effort += exposure * instance.exposures.with_visit(visit, earlier, later)
        return Cost(service, effort, time_s, finish_s)

    def _breaks_promise(self, profile: Profile, gap: int, promise: PromiseData, start_s: int) -> int:
        """Return how many promises about whom and in which order a visit in a gap breaks, its own and others'."""
        if promise.collector != profile.collector:
            return 1
        broken = 0
        changes = start_s - promise.start_s > self.instance.change_s
        for position, place in profile.places:
            if position >= gap:
                broken += place < promise.position
            elif place > promise.position:
                changes = True
        return changes + broken

    def _delay(self, profile: Profile, gap: int, clock_s: int, node: int) -> Behind | None:
        """Follow what is behind a gap when the stop put there is over at a second, at a place.

        None when a window, a courier, a stability or the shift would be missed.
        """
        stops = profile.stops
        if gap == len(stops):
            return Behind(0, 0, clock_s)
        if stops[gap] != BREAK:
            clock_s += self.instance.walk[node][profile.nodes[gap + 1]]
        if clock_s <= profile.starts_s[gap]:
            return Behind(0, 0, profile.finish_s)
        if clock_s > profile.latest_s[gap]:
            return None
        walked_s, starts_s = profile.walked_s, profile.starts_s
        shift_s = clock_s - walked_s[gap]
        late = changes = 0
        for position, target_s, weight in profile.soft:
            if position >= gap and (start_s := shift_s + walked_s[position]) > target_s:
                late += weight * max(0, start_s - max(target_s, starts_s[position]))
        for position, last_s in profile.promised:
            changes += position >= gap and starts_s[position] <= last_s < shift_s + walked_s[position]
        wait_s = 0
        for position, wish_s in profile.wished:
            if position >= gap:
                wait_s += max(0, shift_s + walked_s[position] - max(wish_s, starts_s[position]))
        given = self._given_later(profile, gap, shift_s)
        if given is None:
            return None
        past, arrival, arrivals = given
        finish_s = max(profile.finish_s, shift_s + walked_s[-1])
        service = late + past + self._moved_stop_s * changes
        return Behind(service, arrival, finish_s, arrivals, wait_s)

    def _given_later(self, profile: Profile, gap: int, shift_s: int) -> tuple[int, int, tuple[int, ...]] | None:
        """Return what later hand-overs cost in service and in arrival, and when they arrive; None if too late."""
        instance = self.instance
        past = arrival = 0
        arrivals: list[int] = []
        for taken in profile.taken[profile.next_taken[gap] :]:
            start_s = shift_s + profile.walked_s[taken.position]
            if start_s <= profile.starts_s[taken.position]:
                break
            arrival_s = instance.pickups[taken.pickup].lab_arrival_s(start_s + instance.handover_s)
            if arrival_s is None or arrival_s > taken.due_s:
                return None
            arrivals.append(arrival_s)
            if arrival_s > taken.arrival_s:
                arrival += taken.num_last * (arrival_s - taken.arrival_s)
                for due_s, weight in taken.needs:
                    if arrival_s > due_s:
                        past += weight * (arrival_s - max(due_s, taken.arrival_s))
        return past, arrival, tuple(arrivals)


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


def _first_start(visit: VisitData, at_s: int) -> int:
    """Return the first allowed start at or after a second, -1 when there is none."""
    for window in visit.windows:
        if at_s <= window.latest_s:
            earliest_s = window.earliest_s
            return at_s if at_s > earliest_s else earliest_s
    return -1


def places_to_give(stops: Stops) -> list[int]:
    """Return the gaps right behind a visit or a break: behind a hand-over nothing new is in the tray."""
    return [gap for gap, stop in enumerate(stops, start=1) if stop >= 0 or stop == BREAK]
