"""Single steps of the compiled timing, which estimates take too: windows, couriers, what is carried, what is late.

The names of columns are those of `planner.scheduling.timing.arrays`, all times whole seconds. A stop is an index of a
visit, ``~j`` for pickup ``j``, or `BREAK`. The specimens of a route lie in one row: those of its first visit, then
those of its second, and so on.
"""

from __future__ import annotations

import numpy as np

from planner.scheduling.compiled import compiled
from planner.scheduling.timing.arrays import (
    FIRST_DEPARTURE,
    FIRST_PULL,
    FIRST_SPECIMENS,
    FIRST_TO_LAB,
    FIRST_WINDOW,
    IS_TRAY,
    NEED_BY,
    NEED_WEIGHT,
    NONE,
    NUM_TUBES,
    TO_LAB_PRICE,
    TRANSIT,
    WARD,
    Numbers,
    Rules,
)
from planner.scheduling.timing.instance import BREAK, NEVER


@compiled
def is_pickup(stop: int) -> bool:
    """Return whether a stop is one at which specimens are given away."""
    return stop < 0 and stop != BREAK


@compiled
def ward_at(rules: Rules, stop: int) -> int:
    """Return the ward of a visit; `NONE`: hand-overs, breaks and trays are on none."""
    return int(rules.visits[stop, WARD]) if stop >= 0 else NONE


@compiled
def first_start(rules: Rules, v: int, at_s: int) -> int:
    """Return the first allowed start of a visit at or after a second, -1 when there is none."""
    for window in range(rules.visits[v, FIRST_WINDOW], rules.visits[v + 1, FIRST_WINDOW]):
        if at_s <= rules.windows[window, 1]:
            return int(max(at_s, rules.windows[window, 0]))
    return -1


@compiled
def pulled(rules: Rules, v: int, start_s: int) -> int:
    """Return what the start of a visit counts in tier ``effort``: stats, last minutes, stated and preferred times."""
    counted = 0
    for n in range(rules.visits[v, FIRST_PULL], rules.visits[v + 1, FIRST_PULL]):
        later_s = start_s - rules.pulls[n, 0]
        counted += rules.pulls[n, 1] * later_s if later_s > 0 else -rules.pulls[n, 2] * later_s
    return int(counted)


@compiled
def lab_arrival(rules: Rules, pickup: int, end_s: int) -> int:
    """Return when specimens given away by a second are in the laboratory; `NEVER`: no courier leaves any more."""
    first, end = rules.pickups[pickup, FIRST_DEPARTURE], rules.pickups[pickup + 1, FIRST_DEPARTURE]
    if first == end:
        return int(end_s + rules.pickups[pickup, TRANSIT])
    for n in range(first, end):
        if rules.departures[n] >= end_s:
            return int(rules.departures[n] + rules.pickups[pickup, TRANSIT])
    return NEVER


@compiled
def specimens_of(rules: Rules, stops: Numbers) -> Numbers:
    """Return where the specimens of each stop begin in the row of the route, and where the last end."""
    firsts = np.zeros(stops.size + 1, dtype=np.int64)
    for p in range(stops.size):
        stop = stops[p]
        num = rules.visits[stop + 1, FIRST_SPECIMENS] - rules.visits[stop, FIRST_SPECIMENS] if stop >= 0 else 0
        firsts[p + 1] = firsts[p] + num
    return firsts


@compiled
def carried(rules: Rules, stops: Numbers, firsts: Numbers, takers: Numbers) -> Numbers:
    """Return how many tubes are carried in each gap; those in a tray that the round began with are apart."""
    held = np.zeros(stops.size + 1, dtype=np.int64)
    for p in range(stops.size):
        stop = stops[p]
        if stop < 0 or rules.visits[stop, IS_TRAY]:
            continue
        row = rules.visits[stop, FIRST_SPECIMENS] - firsts[p]
        for n in range(firsts[p], firsts[p + 1]):
            held[p + 1] += rules.specimens[row + n, NUM_TUBES]
            held[takers[n] + 1] -= rules.specimens[row + n, NUM_TUBES]
    for gap in range(1, stops.size + 1):
        held[gap] += held[gap - 1]
    return held


@compiled
def past_dues(rules: Rules, v: int, row: int, arrival_s: int, since_s: int) -> int:
    """Return what specimens (a row) of a visit count in tier ``service`` for arriving past what they are due at.

    Counted are the seconds past ``since_s`` only.
    """
    need_by_s, past = rules.visits[v, NEED_BY], 0
    if need_by_s > 0 and arrival_s > max(need_by_s, since_s):
        past += rules.specimens[row, NEED_WEIGHT] * (arrival_s - max(need_by_s, since_s))
    for n in range(rules.specimens[row, FIRST_TO_LAB], rules.specimens[row + 1, FIRST_TO_LAB]):
        last_s = max(rules.to_lab[n, 0], since_s)
        if arrival_s > last_s:
            past += rules.numbers[TO_LAB_PRICE] * rules.to_lab[n, 1] * (arrival_s - last_s)
    return past
