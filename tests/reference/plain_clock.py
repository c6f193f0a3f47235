"""The earliest schedule of a route in plain Python: what the compiled timing must come to, to the second.

It is the same method, read once more without arrays: passes over the route until nothing moves (see
`planner.scheduling.timing.timing`). `tests.reference.order_of_stops` says by trying that the method is right; this says
of routes too long to try that the machine code does just this.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from planner.domain.goals import EFFORT_PER_S
from planner.domain.orders import TimeWindow
from planner.scheduling.timing.instance import BREAK, NEVER, Instance, SpecimenData, VisitData
from planner.scheduling.timing.timing import Floors, Stops

MAX_PASSES = 60

Takers = tuple[tuple[tuple[int, ...], ...], ...]
"""For each stop and each of its specimens, the positions of the later stops that may take them."""

Chosen = tuple[tuple[int, ...], ...]
"""For each stop and each of its specimens, the position of the stop that takes them."""

Schedule = tuple[list[int], Chosen, tuple[int, ...]]
"""Starts, who takes what, and what is counted."""


def plain_time(instance: Instance, collector: int, stops: Stops, floors: Floors = ()) -> Schedule | None:
    """Return the earliest schedule of one route, or None when no schedule keeps all hard rules."""
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
            return starts_s, chosen, _counted(instance, collector, stops, starts_s, arrivals, chosen)
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


def plain_fits(instance: Instance, collector: int, stops: Stops) -> bool:
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


def _counted(
    instance: Instance,
    collector: int,
    stops: Stops,
    starts_s: Sequence[int],
    arrivals: Sequence[int | None],
    chosen: Chosen,
) -> tuple[int, ...]:
    """Return what a route costs, in the order of the fields of `Timing`."""
    late = delivery = to_lab = arrival = pulls = service_s = 0
    who = instance.collectors[collector]
    for position, stop in enumerate(stops):
        if stop < 0:
            continue
        visit = instance.visits[stop]
        service_s += visit.service_s
        late += sum(w * (starts_s[position] - t) for t, w in visit.targets if starts_s[position] > t)
        pulls += _pulls(instance, visit, starts_s[position])
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
    return (
        *(late, delivery, to_lab, changes, arrival, precautions, exposures, ward_changes, pulls),
        *(time_s, finish_s, service_s),
        late + delivery + prices.to_lab * to_lab + prices.moved_stop_s * changes,
        EFFORT_PER_S * time_s
        + pulls
        + prices.arrival_pct * arrival
        + EFFORT_PER_S * prices.ward_change_s * ward_changes
        + EFFORT_PER_S * prices.other_ward_s * sum(collector in instance.visits[v].strange for v in visits)
        + pair * precautions
        + exposure * exposures,
        sum(instance.visits[stop].weight for stop in visits),
    )


def _pulls(instance: Instance, visit: VisitData, start_s: int) -> int:
    """Return what the start of a visit counts by itself in tier ``effort``."""
    prices = instance.prices
    waits_s = 0 if visit.wish_s is None else max(0, start_s - visit.wish_s)
    last_s = 0 if visit.last_minutes_s is None else max(0, start_s - visit.last_minutes_s)
    off_s = sum(max(0, (a or 0) - start_s) + (0 if b is None else max(0, start_s - b)) for a, b in visit.wished)
    return prices.stat_wait_pct * waits_s + prices.last_minutes_pct * last_s + prices.off_time_pct * off_s


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


def full_tray(instance: Instance, stops: tuple[int, ...], chosen: Chosen) -> int | None:
    """Return the first stop behind which more tubes are carried than the tray holds (those there already apart)."""
    most = instance.tray_limit
    if most is None:
        return None
    held = carried(instance, stops, chosen)
    return next((position for position, num in enumerate(held) if num > most), None)


def carried(instance: Instance, stops: tuple[int, ...], chosen: Chosen) -> list[int]:
    """Return how many tubes are carried behind each stop (those there already apart)."""
    held = [0] * len(stops)
    for position, takers in enumerate(chosen):
        if not takers or instance.visits[stops[position]].is_tray:
            continue
        for specimens, taker in zip(instance.visits[stops[position]].specimens, takers, strict=True):
            for between in range(position, taker):
                held[between] += specimens.num_tubes
    return held


def given_before(instance: Instance, stops: tuple[int, ...], takers: Takers, chosen: Chosen, full: int) -> Takers:
    """Return the stops that may take specimens: of those carried past a full tray, the ones before it, if there are."""
    return tuple(
        tuple(
            tuple(p for p in options if p < full) or options if taker > full else options
            for options, taker in zip(mine, taken, strict=True)
        )
        if mine and not instance.visits[stops[position]].is_tray
        else mine
        for position, (mine, taken) in enumerate(zip(takers, chosen, strict=True))
    )
