"""A timed route laid out for quick estimates: how far each stop may slip, and what slips with it.

With ``walked_s[p]`` the bare seconds of walking and stays from the begin of the route to stop p, a delay is simple:
if stop p cannot start before t, stop q behind it starts at the larger of its present start and t + walked_s[q] -
walked_s[p], for whatever waiting lies between swallows its part. Example: starts 05:10, 05:40 (20 minutes of waiting
before it), 05:50; the first slips by 25 minutes to 05:35: the second by 5, the third by 5.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate

from planner.scheduling.timing.full_tray import carried
from planner.scheduling.timing.instance import BREAK, Instance
from planner.scheduling.timing.timing import NEVER, Stops, Timing, stop_service_s


@dataclass(frozen=True, slots=True)
class Taken:
    """What a hand-over takes: where, its arrival, how many visits it completes, needs, and when all are too old."""

    position: int
    pickup: int
    arrival_s: int
    num_last: int
    needs: tuple[tuple[int, int], ...]
    """`Instance.dues` of its specimens."""
    due_s: int


class Profile:
    """A timed route, laid out for quick estimates. Positions are those of its stops; gap g lies before stop g.

    ``ends_s[g]`` and ``nodes[g]`` say when and where the collector is free before gap g. ``latest_s`` is the latest
    start of a stop from which the rest can be made (within the windows it is made in now). ``taken`` are its
    hand-overs, ``next_taken[g]`` the index of the first behind gap g. ``soft`` are (position, target, weight) of what
    may become late, ``promised`` (position, last start as promised) of what may break a promise, ``places``
    (position, place in the promised order) of the same, ``wished`` (position, first start) of
    stats. ``room[g]`` is how many tubes more could be drawn in gap g and
    given away there (rule ``tray-limit``), ``room_on[g]`` how many could be carried on to the next hand-over.
    ``seen[g]`` are the visits before gap g, as bits; ``ward_before[g]`` and ``ward_after[g]`` the wards of the visits
    next to it, the last one made included, None where there is none.
    """

    __slots__ = (
        "collector",
        "ends_s",
        "finish_s",
        "latest_s",
        "next_taken",
        "nodes",
        "places",
        "promised",
        "room",
        "room_on",
        "seen",
        "soft",
        "starts_s",
        "stops",
        "taken",
        "timing",
        "walked_s",
        "ward_after",
        "ward_before",
        "wished",
    )

    def __init__(self, instance: Instance, collector: int, stops: Stops, timing: Timing) -> None:
        who = instance.collectors[collector]
        self.collector, self.stops, self.timing = collector, stops, timing
        self.starts_s = timing.starts_s
        self.ends_s = [who.from_s]
        self.nodes = [who.node]
        self.walked_s = []
        walked_s, node = 0, who.node
        for stop, start_s in zip(stops, timing.starts_s, strict=True):
            stay_s = stop_service_s(instance, collector, stop)
            if stop != BREAK:
                there = instance.visits[stop].node if stop >= 0 else instance.pickups[~stop].node
                walked_s, node = walked_s + instance.walk[node][there], there
            self.walked_s.append(walked_s)
            walked_s += stay_s
            self.ends_s.append(start_s + stay_s)
            self.nodes.append(node)
        self.walked_s.append(walked_s)
        self.finish_s = self.ends_s[-1]
        self._lay_out_visits(instance)
        self.latest_s = _latest(instance, collector, self)
        self.taken = _taken(instance, stops, timing)
        self.next_taken = [0] * (len(stops) + 1)
        index = len(self.taken)
        for gap in range(len(stops), -1, -1):
            if index and self.taken[index - 1].position >= gap:
                index -= 1
            self.next_taken[gap] = index
        self.room = _room(instance, stops, timing)
        self.room_on = [*self.room]
        for gap in range(len(stops) - 1, -1, -1):
            if stops[gap] >= 0 or stops[gap] == BREAK:
                self.room_on[gap] = min(self.room[gap], self.room_on[gap + 1])

    def _lay_out_visits(self, instance: Instance) -> None:
        self.soft: list[tuple[int, int, int]] = []
        self.promised: list[tuple[int, int]] = []
        self.places: list[tuple[int, int]] = []
        self.wished: list[tuple[int, int]] = []
        self.seen = [0]
        wards = [
            None if stop < 0 or instance.visits[stop].is_tray else instance.visits[stop].ward for stop in self.stops
        ]
        self.ward_before = [*accumulate([instance.collectors[self.collector].ward, *wards], _next_ward)]
        self.ward_after = [*accumulate([None, *reversed(wards)], _next_ward)][::-1]
        for position, stop in enumerate(self.stops):
            self.seen.append(self.seen[-1] | (1 << stop if stop >= 0 else 0))
            if stop < 0:
                continue
            visit = instance.visits[stop]
            self.soft += [(position, target_s, weight) for target_s, weight in visit.targets]
            if visit.wish_s is not None:
                self.wished.append((position, visit.wish_s))
            if visit.promise is not None and visit.promise.collector == self.collector:
                self.promised.append((position, visit.promise.start_s + instance.change_s))
                self.places.append((position, visit.promise.position))

    def ward_changes(self, gap: int, ward: int) -> int:
        """Return how many changes of ward more a visit on a ward makes in a gap."""
        before, after = self.ward_before[gap], self.ward_after[gap]
        beside = [other for other in (before, after) if other is not None]
        return sum(other != ward for other in beside) - (len(beside) == 2 and before != after)

    def gained(self, instance: Instance, gap: int, takes_hand: bool, arrival_s: int) -> tuple[int, int]:
        """Return what tier ``service`` and part ``arrival`` gain by all that could be given away in a gap so early."""
        arrivals = {taken.position: taken.arrival_s for taken in self.taken}
        service = arrival = 0
        for position, takers in enumerate(self.timing.handovers[:gap]):
            if not takers or max(takers) < gap:
                continue
            visit = instance.visits[self.stops[position]]
            before_s = [arrivals[t] for t in takers]
            after_s = [
                min(was_s, arrival_s) if t >= gap and (takes_hand or not s.by_hand) else was_s
                for s, t, was_s in zip(visit.specimens, takers, before_s, strict=True)
            ]
            arrival += max(before_s) - max(after_s)
            service += sum(
                weight * (max(was_s, due_s) - max(now_s, due_s))
                for s, was_s, now_s in zip(visit.specimens, before_s, after_s, strict=True)
                if now_s < was_s
                for due_s, weight in instance.dues(visit, s)
            )
        return service, arrival


def _next_ward(last: int | None, here: int | None) -> int | None:
    """Return the ward of the nearest visit: hand-overs, breaks and trays (None) lie on none."""
    return last if here is None else here


def _latest(instance: Instance, collector: int, profile: Profile) -> list[int]:
    """Return the latest start of every stop from which the stops behind it can still be made."""
    who = instance.collectors[collector]
    latest_s, walked_s = [0] * len(profile.stops), profile.walked_s
    bound_s = who.until_s
    for position in range(len(profile.stops) - 1, -1, -1):
        stop = profile.stops[position]
        bound_s -= walked_s[position + 1] - walked_s[position]
        if stop >= 0:
            now_s = profile.starts_s[position]
            bound_s = min(bound_s, next(w.latest_s for w in instance.visits[stop].windows if now_s <= w.latest_s))
        elif stop == BREAK:
            bound_s = min(bound_s, who.break_window.latest_s if who.break_window else bound_s)
        elif departures := instance.pickups[~stop].departures_s:
            bound_s = min(bound_s, departures[-1] - instance.handover_s)
        latest_s[position] = bound_s
    return latest_s


def _room(instance: Instance, stops: Stops, timing: Timing) -> list[int]:
    """Return how many tubes more the tray could hold in each gap."""
    if instance.tray_limit is None:
        return [NEVER] * (len(stops) + 1)
    return [instance.tray_limit - held for held in (0, *carried(instance, stops, timing.handovers))]


def _taken(instance: Instance, stops: Stops, timing: Timing) -> list[Taken]:
    """Return what every hand-over of a route takes, in their order."""
    arrivals = [
        None if stop >= 0 or stop == BREAK else instance.pickups[~stop].lab_arrival_s(start_s + instance.handover_s)
        for stop, start_s in zip(stops, timing.starts_s, strict=True)
    ]
    num_last = [0] * len(stops)
    due_s = [NEVER] * len(stops)
    needs: list[list[tuple[int, int]]] = [[] for _ in stops]
    for position, takers in enumerate(timing.handovers):
        if not takers:
            continue
        visit = instance.visits[stops[position]]
        num_last[max(takers, key=lambda p: arrivals[p] or 0)] += 1
        for specimens, taker in zip(visit.specimens, takers, strict=True):
            due_s[taker] = min(due_s[taker], timing.starts_s[position] + specimens.limit_s)
            needs[taker] += instance.dues(visit, specimens)
    return [
        Taken(position, ~stops[position], arrival_s, num_last[position], tuple(needs[position]), due_s[position])
        for position, arrival_s in enumerate(arrivals)
        if arrival_s is not None
    ]
