"""What one more stop would cost a timed route, gap by gap, compiled to machine code: the arithmetic of `estimates`.

Positions are those of the stops of a route (see `layout`); gap g lies before stop g. Columns are those of
`planner.scheduling.timing.arrays`.
"""

from __future__ import annotations

import numpy as np

from planner.scheduling.compiled import compiled, kept_on_disk
from planner.scheduling.search import delays, layout
from planner.scheduling.search.delays import Behind, delay, first_brought
from planner.scheduling.search.layout import (
    ARRIVALS,
    ENDS,
    LATEST,
    NODES,
    ROOM,
    ROOM_ON,
    Profile,
    lay_out,
)
from planner.scheduling.timing import arrays, steps
from planner.scheduling.timing.arrays import (
    ARRIVAL_PRICE,
    BREAK_LAST,
    BY_HAND,
    CHANGE,
    COUNTS_PAIRS,
    EXPOSURE_PRICE,
    FIRST_SPECIMENS,
    FIRST_TARGET,
    GOOD_FOR,
    HANDOVER,
    IS_EXPOSURE,
    IS_PAIR,
    IS_TRAY,
    LAST_WARD,
    MOVED_PRICE,
    NODE,
    NONE,
    NUM_TUBES,
    PAIR_PRICE,
    PROMISED_PLACE,
    PROMISED_START,
    PROMISED_TO,
    STAY,
    TAKES_HAND,
    TIME_PRICE,
    WARD_PRICE,
    Numbers,
    Rules,
)
from planner.scheduling.timing.instance import BREAK, NEVER
from planner.scheduling.timing.steps import first_start, lab_arrival, past_dues, pulled, ward_at

MAX_OPTIONS = 3
"""So many places are returned, by cost and by time."""

SERVICE, EFFORT, TIME, FINISH, GAP, PICKUP = range(6)
"""Columns of an option: what it costs, the gap, and the pickup of a hand-over behind the visit (-1: none)."""


@compiled
def _plain(rules: Rules, route: Profile, gap: int, v: int, start_s: int, option: Numbers) -> bool:
    """Put into ``option`` the cost of a visit in a gap, its specimens given away at a later stop that is there."""
    first, end = rules.visits[v, FIRST_SPECIMENS], rules.visits[v + 1, FIRST_SPECIMENS]
    brought = np.empty(end - first, np.int64)
    while True:
        behind = delay(rules, route, gap, start_s + rules.visits[v, STAY], rules.visits[v, NODE])
        if not behind.is_kept:
            return False
        raise_to_s = start_s
        for row in range(first, end):
            arrival_s = first_brought(rules, route, gap, rules.specimens[row, BY_HAND] != 0, behind.shift_s)
            if arrival_s == NEVER:
                return False
            brought[row - first] = arrival_s
            raise_to_s = max(raise_to_s, arrival_s - rules.specimens[row, GOOD_FOR])
        if raise_to_s <= start_s:
            break
        start_s = first_start(rules, v, raise_to_s)
        if start_s < 0:
            return False
    _cost(rules, route, gap, v, start_s, behind, brought, option)
    return True


@compiled
def _with_handover(rules: Rules, route: Profile, gap: int, v: int, start_s: int, pickup: int, option: Numbers) -> bool:
    """Put into ``option`` the cost of a visit with a hand-over right behind it."""
    first, end = rules.visits[v, FIRST_SPECIMENS], rules.visits[v + 1, FIRST_SPECIMENS]
    there = rules.pickups[pickup, NODE]
    more_s = rules.visits[v, STAY] + rules.walk[rules.visits[v, NODE], there] + rules.numbers[HANDOVER]
    arrival_s = lab_arrival(rules, pickup, start_s + more_s)
    if arrival_s == NEVER:
        return False
    raise_to_s = start_s
    for row in range(first, end):
        raise_to_s = max(raise_to_s, arrival_s - rules.specimens[row, GOOD_FOR])
    if raise_to_s > start_s:
        start_s = first_start(rules, v, raise_to_s)
        if start_s < 0 or lab_arrival(rules, pickup, start_s + more_s) != arrival_s:
            return False
    behind = delay(rules, route, gap, start_s + more_s, there)
    if not behind.is_kept:
        return False
    brought = np.empty(end - first, np.int64)
    brought[:] = arrival_s
    _cost(rules, route, gap, v, start_s, behind, brought, option)
    option[EFFORT] -= rules.numbers[ARRIVAL_PRICE] * _earlier(rules, route, gap, pickup, arrival_s)
    return True


@compiled
def _earlier(rules: Rules, route: Profile, gap: int, pickup: int, arrival_s: int) -> int:
    """Return the seconds by which specimens drawn before a gap arrive earlier by a hand-over in it.

    Less than `_gained` says: of visits that give all behind the gap, and not of tier ``service``. Asked for
    every pickup in every gap, that cost more time and gave no better rounds (seven of 120 visits).
    """
    takes_hand, gain = rules.pickups[pickup, TAKES_HAND] != 0, 0
    for p in range(gap):
        last_s, is_all = 0, True
        for n in range(route.firsts[p], route.firsts[p + 1]):
            row = rules.visits[route.stops[p], FIRST_SPECIMENS] + n - route.firsts[p]
            if route.takers[n] < gap or (rules.specimens[row, BY_HAND] and not takes_hand):
                is_all = False
            last_s = max(last_s, route.at[route.takers[n], ARRIVALS])
        if is_all:
            gain += max(0, last_s - arrival_s)
    return gain


@compiled
def _gained(rules: Rules, route: Profile, gap: int, takes_hand: bool, arrival_s: int) -> tuple[int, int]:
    """Return what tier ``service`` and part ``arrival`` gain by all that could be given away in a gap so early."""
    service = arrival = 0
    for p in range(gap):
        before_s = after_s = 0
        for n in range(route.firsts[p], route.firsts[p + 1]):
            row = rules.visits[route.stops[p], FIRST_SPECIMENS] + n - route.firsts[p]
            was_s = now_s = route.at[route.takers[n], ARRIVALS]
            if route.takers[n] >= gap and (takes_hand or not rules.specimens[row, BY_HAND]):
                now_s = min(was_s, arrival_s)
            before_s, after_s = max(before_s, was_s), max(after_s, now_s)
            if now_s < was_s:
                service += past_dues(rules, route.stops[p], row, was_s, now_s)
        arrival += before_s - after_s
    return service, arrival


@compiled
def _cost(
    rules: Rules,
    route: Profile,
    gap: int,
    v: int,
    start_s: int,
    behind: Behind,
    brought: Numbers,
    option: Numbers,
) -> None:
    """Put into ``option`` the cost of a visit in a gap; ``brought``: when its specimens arrive."""
    numbers, visit = rules.numbers, rules.visits[v]
    service, last_s = behind.service, 0
    for n in range(visit[FIRST_TARGET], rules.visits[v + 1, FIRST_TARGET]):
        service += rules.targets[n, 1] * max(0, start_s - rules.targets[n, 0])
    for n in range(brought.size):
        none = int(np.int64(0))  # a constant would be a kind of its own
        service += past_dues(rules, v, visit[FIRST_SPECIMENS] + n, brought[n], none)
        last_s = max(last_s, brought[n])
    if visit[PROMISED_TO] != NONE:
        service += numbers[MOVED_PRICE] * _breaks_promises(rules, route, gap, v, start_s)
    time_s = behind.finish_s - route.at[-1, ENDS] - visit[STAY]
    effort = numbers[TIME_PRICE] * time_s + numbers[ARRIVAL_PRICE] * (behind.arrival + last_s)
    effort += rules.pays[v, route.k] + behind.pulls + pulled(rules, v, start_s)
    effort += numbers[WARD_PRICE] * _ward_changes(rules, route, gap, v)
    if numbers[COUNTS_PAIRS]:
        for p in range(route.stops.size):
            stop = route.stops[p]
            if stop >= 0:
                kind = rules.pairs[stop, v] if p < gap else rules.pairs[v, stop]
                effort += numbers[PAIR_PRICE] * ((kind & IS_PAIR) != 0)
                effort += numbers[EXPOSURE_PRICE] * ((kind & IS_EXPOSURE) != 0)
    option[SERVICE], option[EFFORT], option[TIME], option[FINISH] = service, effort, time_s, behind.finish_s


@compiled
def _ward_changes(rules: Rules, route: Profile, gap: int, v: int) -> int:
    """Return how many changes of ward more a visit makes in a gap."""
    ward, before, after = ward_at(rules, v), rules.people[route.k, LAST_WARD], NONE
    if ward == NONE:
        return 0
    for p in range(route.stops.size):
        here = ward_at(rules, route.stops[p])
        if here != NONE and p < gap:
            before = here
        elif here != NONE and after == NONE:
            after = here
    more = int(before != NONE and before != ward) + int(after != NONE and after != ward)
    return more - int(before != NONE and after != NONE and before != after)


@compiled
def _breaks_promises(rules: Rules, route: Profile, gap: int, v: int, start_s: int) -> int:
    """Return how many promises about whom and in which order a visit in a gap breaks, its own and others'."""
    visit = rules.visits[v]
    if visit[PROMISED_TO] != route.k:
        return 1
    others, breaks_own = 0, start_s - visit[PROMISED_START] > rules.numbers[CHANGE]
    for p in range(route.stops.size):
        stop = route.stops[p]
        if stop < 0 or rules.visits[stop, PROMISED_TO] != route.k:
            continue
        place = rules.visits[stop, PROMISED_PLACE]
        if p >= gap:
            others += place < visit[PROMISED_PLACE]
        elif place > visit[PROMISED_PLACE]:
            breaks_own = True
    return int(others + breaks_own)


@kept_on_disk(arrays, steps, layout, delays)
def handover_cost(
    rules: Rules, k: int, stops: Numbers, starts: Numbers, takers: Numbers, gap: int, pickup: int, option: Numbers
) -> bool:
    """Put into ``option`` the cost (below zero: the gain) of one more hand-over in a gap; False: it gains nothing."""
    route, there = lay_out(rules, k, stops, starts, takers), rules.pickups[pickup, NODE]
    end_s = route.at[gap, ENDS] + rules.walk[route.at[gap, NODES], there] + rules.numbers[HANDOVER]
    arrival_s = lab_arrival(rules, pickup, end_s)
    if arrival_s == NEVER:
        return False
    service, arrival = _gained(rules, route, gap, rules.pickups[pickup, TAKES_HAND] != 0, arrival_s)
    if service == 0 and arrival == 0:
        return False
    behind = delay(rules, route, gap, end_s, there)
    time_s = behind.finish_s - route.at[-1, ENDS]
    option[SERVICE], option[TIME], option[FINISH] = behind.service - service, time_s, behind.finish_s
    option[EFFORT] = (
        rules.numbers[TIME_PRICE] * time_s + rules.numbers[ARRIVAL_PRICE] * (behind.arrival - arrival) + behind.pulls
    )
    return behind.is_kept


@kept_on_disk(arrays, steps, layout, delays)
def find_places(
    rules: Rules,
    k: int,
    stops: Numbers,
    starts: Numbers,
    takers: Numbers,
    v: int,
    gaps: tuple[int, int],
    near: Numbers,
    best: Numbers,
) -> tuple[int, int]:
    """Put the best places of a visit in a route into ``best``; return their number, and how many gaps were looked at.

    ``gaps``: the first and the last in question. ``near``: the pickups to try, the nearest first. ``best`` (2,
    `MAX_OPTIONS`, 6) are those by cost and those by time. Places that owe a break are dropped, unless there are no
    others.
    """
    route, size, looked = lay_out(rules, k, stops, starts, takers), stops.size, 0
    found, num = np.empty(((size + 1) * max(1, near.size), 6), np.int64), 0
    num_tubes = 0
    for row in range(rules.visits[v, FIRST_SPECIMENS], rules.visits[v + 1, FIRST_SPECIMENS]):
        num_tubes += 0 if rules.visits[v, IS_TRAY] else rules.specimens[row, NUM_TUBES]
    for gap in range(gaps[0], gaps[1] + 1):
        start_s = first_start(rules, v, route.at[gap, ENDS] + rules.walk[route.at[gap, NODES], rules.visits[v, NODE]])
        if start_s < 0:
            break
        looked += 1
        if gap < size and start_s + rules.visits[v, STAY] > route.at[gap, LATEST]:
            continue
        if num_tubes > route.at[gap, ROOM]:
            continue
        found[num, GAP], found[num, PICKUP] = gap, -1
        if num_tubes <= route.at[gap, ROOM_ON] and _plain(rules, route, gap, v, start_s, found[num]):
            num += 1
            continue
        for pickup in near:
            looked += 1
            found[num, GAP], found[num, PICKUP] = gap, pickup
            num += _with_handover(rules, route, gap, v, start_s, pickup, found[num])
    return _select(found[:num], rules.people[k, BREAK_LAST], stops, best), looked


@compiled
def _select(found: Numbers, break_last: int, stops: Numbers, best: Numbers) -> int:
    """Put the best options into ``best``, by cost and by time; return how many."""
    is_free = break_last == NONE
    for stop in stops:
        is_free = is_free or stop == BREAK
    kept = 0
    for n in range(found.shape[0]):
        kept += is_free or found[n, FINISH] <= break_last
    keeps_all, num = kept == 0 or kept == found.shape[0], 0
    for n in range(found.shape[0]):
        if not keeps_all and found[n, FINISH] > break_last:
            continue
        for way in range(2):
            at = min(num, MAX_OPTIONS)
            while at and _is_less(found[n], best[way, at - 1], way == 1):
                if at < MAX_OPTIONS:
                    _put(best[way, at - 1], best[way, at])
                at -= 1
            if at < MAX_OPTIONS:
                _put(found[n], best[way, at])
        num += 1
    return min(num, MAX_OPTIONS)


@compiled
def _put(option: Numbers, place: Numbers) -> None:
    """Copy an option, number by number: what complains of arrays of other sizes takes seconds to compile."""
    for column in range(6):
        place[column] = option[column]


@compiled
def _is_less(one: Numbers, other: Numbers, by_time: bool) -> bool:
    if by_time and one[TIME] != other[TIME]:
        return bool(one[TIME] < other[TIME])
    for column in range(4):
        if one[column] != other[column]:
            return bool(one[column] < other[column])
    return False
