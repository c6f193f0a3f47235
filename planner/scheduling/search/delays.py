"""What a stop put into a gap of a timed route does to the stops behind it, compiled to machine code."""

from __future__ import annotations

from typing import NamedTuple

from planner.scheduling.compiled import compiled
from planner.scheduling.search.layout import ARRIVALS, DUE, ENDS, LATEST, NODES, NUM_LAST, WALKED, Profile
from planner.scheduling.timing.arrays import (
    CHANGE,
    FIRST_SPECIMENS,
    FIRST_TARGET,
    HANDOVER,
    MOVED_PRICE,
    PROMISED_START,
    PROMISED_TO,
    TAKES_HAND,
    Rules,
)
from planner.scheduling.timing.instance import BREAK, NEVER
from planner.scheduling.timing.steps import is_pickup, lab_arrival, past_dues, pulled


class Behind(NamedTuple):
    """What a delay costs behind a gap (``is_kept``: no rule is broken), and when the route is then over."""

    is_kept: bool
    service: int
    arrival: int
    finish_s: int
    pulls: int
    """What the later starts count in tier ``effort``."""
    shift_s: int
    """Later stops start at the larger of their present start and this plus `Profile.walked`."""


@compiled
def delay(rules: Rules, route: Profile, gap: int, clock_s: int, node: int) -> Behind:
    """Follow what is behind a gap when the stop put there is over at a second, at a place.

    Not kept: a window, a courier, a stability or the shift would be missed.
    """
    stops, starts, at, size = route.stops, route.starts, route.at, route.stops.size
    if gap == size:
        return Behind(True, 0, 0, clock_s, 0, -NEVER)
    if stops[gap] != BREAK:
        clock_s += rules.walk[node, at[gap + 1, NODES]]
    if clock_s <= starts[gap]:
        return Behind(True, 0, 0, at[size, ENDS], 0, -NEVER)
    if clock_s > at[gap, LATEST]:
        return Behind(False, 0, 0, 0, 0, 0)
    shift_s = clock_s - at[gap, WALKED]
    service = arrival = pulls = 0
    for p in range(gap, size):
        start_s, was_s, stop = shift_s + at[p, WALKED], starts[p], stops[p]
        if start_s <= was_s:
            break
        if stop >= 0:
            for n in range(rules.visits[stop, FIRST_TARGET], rules.visits[stop + 1, FIRST_TARGET]):
                service += rules.targets[n, 1] * max(0, start_s - max(rules.targets[n, 0], was_s))
            pulls += pulled(rules, stop, start_s) - pulled(rules, stop, was_s)
            if rules.visits[stop, PROMISED_TO] == route.k:
                last_s = rules.visits[stop, PROMISED_START] + rules.numbers[CHANGE]
                if was_s <= last_s < start_s:
                    service += rules.numbers[MOVED_PRICE]
        elif stop != BREAK and at[p, ARRIVALS] != NEVER:
            arrival_s = lab_arrival(rules, ~stop, start_s + rules.numbers[HANDOVER])
            if arrival_s == NEVER or arrival_s > at[p, DUE]:
                return Behind(False, 0, 0, 0, 0, 0)
            if arrival_s > at[p, ARRIVALS]:
                arrival += at[p, NUM_LAST] * (arrival_s - at[p, ARRIVALS])
                service += _past_more(rules, route, p, arrival_s)
    return Behind(True, service, arrival, max(at[size, ENDS], shift_s + at[size, WALKED]), pulls, shift_s)


@compiled
def _past_more(rules: Rules, route: Profile, taker: int, arrival_s: int) -> int:
    """Return what tier ``service`` loses when all that a hand-over takes arrives so late."""
    past = 0
    for p in range(taker):
        for n in range(route.firsts[p], route.firsts[p + 1]):
            if route.takers[n] == taker:
                row = rules.visits[route.stops[p], FIRST_SPECIMENS] + n - route.firsts[p]
                past += past_dues(rules, route.stops[p], row, arrival_s, route.at[taker, ARRIVALS])
    return past


@compiled
def first_brought(rules: Rules, route: Profile, gap: int, by_hand: bool, shift_s: int) -> int:
    """Return when a specimen drawn in a gap is brought in by a stop there already; `NEVER`: by none."""
    first_s = NEVER
    for p in range(gap, route.stops.size):
        stop = route.stops[p]
        if is_pickup(stop) and route.at[p, ARRIVALS] != NEVER and (not by_hand or rules.pickups[~stop, TAKES_HAND]):
            arrival_s, start_s = route.at[p, ARRIVALS], shift_s + route.at[p, WALKED]
            if start_s > route.starts[p]:
                arrival_s = lab_arrival(rules, ~stop, start_s + rules.numbers[HANDOVER])
            first_s = min(first_s, arrival_s)
    return first_s
