"""The earliest schedule of a route whose stops are in a given order, and what it costs.

Every rule between two instants of a route says "not before": walking, a window's begin, the previous courier, and
stability (a specimen that leaves at a fixed time must not be drawn too early). Such rules have one least solution,
in which every stop is as early as it can be; every goal grows with time, so it is the best. It is found by passing
over the route until nothing moves; each pass lets every specimen go with the stop that then brings it in first (the
least of several "not before" rules is one too; a full tray asks for more, see `full_tray`). A stop is an index of a
visit, ``~j`` for pickup ``j``, or `BREAK`.

Example: a tube good for 60 minutes, drawn at 05:05, and a courier who brings specimens in at 06:15: the second
pass moves the draw to 05:15, and the stops behind it where they get in the way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from planner.domain.goals import EFFORT_PER_S
from planner.domain.orders import TimeWindow
from planner.scheduling.timing.full_tray import Chosen, Takers, full_tray, given_before
from planner.scheduling.timing.instance import BREAK, Instance, SpecimenData

Stops = tuple[int, ...]

MAX_PASSES = 60

NEVER = 10**9
"""Past every second of a round; the price of a place that a visit cannot have."""


@dataclass(frozen=True, slots=True)
class Timing:
    """Instants of a route: starts of its stops, and for each visit the positions of its specimens' hand-overs.

    ``handovers[position][n]`` is the position of the stop that takes the n-th specimens of the visit there.
    """

    starts_s: tuple[int, ...]
    handovers: tuple[tuple[int, ...], ...]
    late: int
    delivery: int
    to_lab: int
    """Weighted seconds of stat and asap specimens past when they should be in the laboratory."""
    changes: int
    """Promised visits made by another collector, out of their order, or later by more than ``change_s``."""
    arrival: int
    """Sum over the visits of when all their specimens are in the laboratory, counted from the begin of the round."""
    precautions: int
    """Pairs of visits of which the first should come after the second (`Instance.turns`)."""
    exposures: int
    """Pairs of which the first is in airborne, the second in protective isolation (`Instance.exposures`)."""
    ward_changes: int
    """Visits on another ward than the visit before, the last one made included."""
    wait_s: int
    """Seconds by which stats are drawn later than they could be."""
    time_s: int
    """Walking, waiting and handing over: all that is not spent at a bed."""
    finish_s: int
    """Last departure, 0 for an empty route."""
    bed_s: int
    """Work at beds."""
    service: int
    """What the route counts in tier ``service``: `late` and `delivery`, `to_lab` and `changes` at their prices."""
    effort: int
    """What it counts in tier ``effort``: all its parts but `finish` and `share`, which are one for the round."""


EMPTY = Timing((), (), 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)

Floors = tuple[tuple[int, int], ...]
"""Visits that must not start before a second, because of visits on other routes; ascending."""


def time_route(instance: Instance, collector: int, stops: Stops, floors: Floors = ()) -> Timing | None:
    """Return the earliest schedule of one route, or None when no schedule keeps all hard rules."""
    if not stops:
        return EMPTY
    takers = _takers(instance, collector, stops)
    if takers is None:
        return None
    floor_s = dict(floors)
    floor = [floor_s.get(stop, 0) for stop in stops]
    for _ in range(len(stops)):
        least = _least(instance, stops, collector, takers, [*floor])
        if least is None:
            return None
        starts_s, arrivals, chosen = least
        full = full_tray(instance, stops, chosen)
        if full is None:
            return _cost(instance, collector, stops, starts_s, arrivals, chosen)
        sooner = given_before(instance, stops, takers, chosen, full)
        if sooner == takers:
            return None
        takers = sooner
    return None


def _least(
    instance: Instance, stops: Stops, collector: int, takers: Takers, not_before: list[int]
) -> tuple[list[int], list[int | None], Chosen] | None:
    """Return the least starts, the arrivals of what is given away, and who takes what; None without a schedule."""
    for _ in range(MAX_PASSES):
        starts_s = _forward(instance, collector, stops, not_before)
        if starts_s is None:
            return None
        arrivals = [_arrival_s(instance, stop, start_s) for stop, start_s in zip(stops, starts_s, strict=True)]
        chosen = _choose(takers, arrivals)
        moved = _stability(instance, stops, starts_s, arrivals, chosen, not_before)
        if moved is None:
            return None
        if not moved:
            return starts_s, arrivals, chosen
    return None


def empty_handovers(stops: Stops, timing: Timing) -> list[int]:
    """Return the positions of the hand-overs of a route that take nothing (rule ``handover-empty``).

    They are timed like others, so that a round can be built and changed step by step. Only beside a break can one make
    a round better: it brings the collector nearer to the next bed before she rests.
    """
    taking = {position for takers in timing.handovers for position in takers}
    return [position for position, stop in enumerate(stops) if stop < 0 and stop != BREAK and position not in taking]


def fits(instance: Instance, collector: int, stops: Stops) -> bool:
    """Return whether the stops can be made in their windows and the shift, whatever becomes of the specimens."""
    return _forward(instance, collector, stops, [0] * len(stops), owes_break=False) is not None


def _takers(instance: Instance, collector: int, stops: Stops) -> Takers | None:
    """Return, for each stop and each of its specimens, the later stops that may take them; None if some have none."""
    hand: tuple[int, ...] = ()
    free: tuple[int, ...] = ()
    takers: list[tuple[tuple[int, ...], ...]] = []
    sends = [0] * len(instance.pickups)
    for position in range(len(stops) - 1, -1, -1):
        stop = stops[position]
        if stop == BREAK:
            takers.append(())
            continue
        if stop < 0:
            sends[~stop] += 1
            if sends[~stop] > instance.max_sends and not instance.pickups[~stop].departures_s:
                return None
            free = (position, *free)
            if instance.pickups[~stop].takes_hand:
                hand = (position, *hand)
            takers.append(())
            continue
        visit = instance.visits[stop]
        if collector not in visit.able:
            return None
        mine = tuple(hand if s.by_hand else free for s in visit.specimens)
        if not all(mine):
            return None
        takers.append(mine)
    return tuple(reversed(takers))


def _forward(
    instance: Instance, collector: int, stops: Stops, not_before: Sequence[int], owes_break: bool = True
) -> list[int] | None:
    """Return the earliest starts that keep walking, windows, the shift, its break, and the given lower ends."""
    who = instance.collectors[collector]
    clock_s, node = who.from_s, who.node
    starts_s: list[int] = []
    for position, stop in enumerate(stops):
        if stop >= 0:
            visit = instance.visits[stop]
            start_s = _first_in(visit.windows, max(clock_s + instance.walk[node][visit.node], not_before[position]))
            if start_s < 0:
                return None
            clock_s, node = start_s + visit.service_s, visit.node
        elif stop == BREAK:
            window = (who.break_window,) if who.break_window else ()
            start_s = _first_in(window, max(clock_s, not_before[position]))
            if start_s < 0:
                return None
            clock_s = start_s + who.break_s
        else:
            pickup = instance.pickups[~stop]
            start_s = max(clock_s + instance.walk[node][pickup.node], not_before[position])
            clock_s, node = start_s + instance.handover_s, pickup.node
        if clock_s > who.until_s:
            return None
        starts_s.append(start_s)
    if owes_break and who.owes_break(clock_s) and BREAK not in stops:
        return None
    return starts_s


def _first_in(windows: tuple[TimeWindow, ...], at_s: int) -> int:
    """Return the first second at or after ``at_s`` that some window holds, -1 when there is none."""
    for window in windows:
        if at_s <= window.latest_s:
            return max(at_s, window.earliest_s)
    return -1


def _arrival_s(instance: Instance, stop: int, start_s: int) -> int | None:
    """Return when specimens given away at a stop are in the laboratory; None for other stops or no courier left."""
    if stop >= 0 or stop == BREAK:
        return None
    return instance.pickups[~stop].lab_arrival_s(start_s + instance.handover_s)


def _choose(takers: Takers, arrivals: Sequence[int | None]) -> Chosen:
    """Return, for all specimens, the stop that brings them in first; the earlier stop when two do."""

    reach_s = [NEVER if arrival_s is None else arrival_s for arrival_s in arrivals]
    chosen: dict[tuple[int, ...], int] = {}
    for mine in takers:
        for options in mine:
            if options not in chosen:
                chosen[options] = min(options, key=reach_s.__getitem__)  # of equals the first, and they ascend
    return tuple([tuple([chosen[options] for options in mine]) for mine in takers])


def _stability(
    instance: Instance,
    stops: Stops,
    starts_s: Sequence[int],
    arrivals: Sequence[int | None],
    chosen: Chosen,
    not_before: list[int],
) -> bool | None:
    """Raise the lower ends of draws that would be too old on arrival; True if any rose, None if a courier is missed."""
    moved = False
    for position, mine in enumerate(chosen):
        for specimens, taker in zip(instance.visits[stops[position]].specimens if mine else (), mine, strict=True):
            arrival_s = arrivals[taker]
            if arrival_s is None:
                return None
            if starts_s[position] < arrival_s - specimens.limit_s:
                not_before[position] = arrival_s - specimens.limit_s
                moved = True
    return moved


def _cost(
    instance: Instance,
    collector: int,
    stops: Stops,
    starts_s: Sequence[int],
    arrivals: Sequence[int | None],
    chosen: Chosen,
) -> Timing:
    late = delivery = to_lab = arrival = wait_s = service_s = 0
    who = instance.collectors[collector]
    for position, stop in enumerate(stops):
        if stop < 0:
            continue
        visit = instance.visits[stop]
        service_s += visit.service_s
        late += sum(w * (starts_s[position] - t) for t, w in visit.targets if starts_s[position] > t)
        if visit.wish_s is not None:
            wait_s += max(0, starts_s[position] - visit.wish_s)
        brought_s = [arrivals[taker] or 0 for taker in chosen[position]]
        arrival += max(brought_s, default=instance.start_s) - instance.start_s
        for specimens, arrival_s in zip(visit.specimens, brought_s, strict=True):
            delivery += _past_need(visit.need_by_s, specimens, arrival_s)
            to_lab += sum(weight * (arrival_s - due_s) for due_s, weight in specimens.to_lab if arrival_s > due_s)
    finish_s = starts_s[-1] + stop_service_s(instance, collector, stops[-1])
    visits = [stop for stop in stops if stop >= 0]
    precautions, exposures = instance.turns.on(visits), instance.exposures.on(visits)
    wards = [] if who.ward is None else [who.ward]
    wards += [instance.visits[stop].ward for stop in visits if not instance.visits[stop].is_tray]
    ward_changes = sum(here != there for here, there in pairwise(wards))
    changes, prices = _changes(instance, collector, stops, starts_s), instance.prices
    time_s = finish_s - who.from_s - service_s
    pair, exposure = instance.effort_of_pairs
    return Timing(
        starts_s=tuple(starts_s),
        handovers=chosen,
        late=late,
        delivery=delivery,
        to_lab=to_lab,
        changes=changes,
        arrival=arrival,
        precautions=precautions,
        exposures=exposures,
        ward_changes=ward_changes,
        wait_s=wait_s,
        time_s=time_s,
        finish_s=finish_s,
        bed_s=service_s,
        service=late + delivery + prices.to_lab * to_lab + prices.moved_stop_s * changes,
        effort=EFFORT_PER_S * time_s
        + prices.stat_wait_pct * wait_s
        + prices.arrival_pct * arrival
        + EFFORT_PER_S * prices.ward_change_s * ward_changes
        + pair * precautions
        + exposure * exposures,
    )


def _changes(instance: Instance, collector: int, stops: Stops, starts_s: Sequence[int]) -> int:
    """Return how many promised visits a route changes: its person, its place in the order, or its time."""
    changed, furthest = 0, -1
    for stop, start_s in zip(stops, starts_s, strict=True):
        promise = instance.visits[stop].promise if stop >= 0 else None
        if promise is None:
            continue
        if promise.collector != collector:
            changed += 1
            continue
        changed += promise.position < furthest or start_s > promise.start_s + instance.change_s
        furthest = max(furthest, promise.position)
    return changed


def stop_service_s(instance: Instance, collector: int, stop: int) -> int:
    """Return how long a stop takes."""
    if stop >= 0:
        return instance.visits[stop].service_s
    return instance.collectors[collector].break_s if stop == BREAK else instance.handover_s


def _past_need(need_by_s: int | None, specimens: SpecimenData, arrival_s: int) -> int:
    return 0 if need_by_s is None else specimens.need_weight * max(0, arrival_s - need_by_s)
