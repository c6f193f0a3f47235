"""Routes of visits with windows in arrays, and the removal of strings from them: compiled to machine code.

Everything compiled lies in this one module, as what the compiler keeps on disk knows of changes to the module only.
All numbers are whole seconds. A route is a collector's begin, her visits, and the way out; gap ``g`` of a route lies
before its stop ``g``, the last before the way out. A visit starts at the first of its windows that is not over when
the collector comes; what is put in before it may delay it within that window only, so that a gap is priced without
walking on to the route's end.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from planner.scheduling.compact.beds import Ground, Numbers, Routes
from planner.scheduling.compiled import compiled, kept_on_disk

Chance = npt.NDArray[np.uint64]
"""The state of the random numbers, one word that is not 0: xorshift (Marsaglia, Xorshift RNGs, 2003)."""

NEVER = 1 << 40
"""The price of a gap without room, in seconds."""

STRINGS = 10.0
"""About so many visits are taken out at a time."""

LONGEST = 10
"""A string has at most so many visits."""

DEAREST = 6
"""Where visits are put back walking counts once to so many times its price, drawn anew for each removal: a second of
walking and one of waiting cost the same in the end, but which of them leads there differs from round to round."""

BLINK = 0.01
"""How often a better gap is overlooked."""

NEAR_ROUTES = 8
"""A visit is priced in so many routes: those of the visits nearest to it; in all where it has no room in these."""


class Annealing(NamedTuple):
    """How routes are changed, over all removals."""

    end_price: int
    """What a second costs until the routes are over; where it is 0 the shortest walking is best, else least time."""
    walking_price: int
    """What a second of walking costs."""
    absence: float
    """What a visit left out costs while routes may still become worse; in the end weight left out counts first."""
    first_heat: float
    last_heat: float
    """The temperature falls from the one to the other."""
    removals: int


SIZE, TIME_S, WALKING_S = 0, 1, 2
FREE_S, LATEST_S, REST_S, LEG_S = 0, 1, 2, 3


@compiled
def chance(state: Chance) -> float:
    """Return a random number from 0 to below 1."""
    x = state[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    state[0] = x
    return float(x >> np.uint64(11)) / 9007199254740992.0


@compiled
def lay_out(ground: Ground, routes: Routes, k: int) -> None:
    """Time a route whose visits have changed.

    What is put in fits, and what is left when visits are taken out does too, as no detour is shorter than the straight
    way. Only the way out may be longer from the visit that is then the last: such a route counts as if it fitted, and
    the exact timing leaves out what does not.
    """
    num, size, stops, gaps = ground.stay_s.size, routes.totals[SIZE, k], routes.stops[k], routes.gaps
    clock_s, here, walking_s = ground.shifts_s[k, 0], num + k, 0
    gaps[FREE_S, k, 0] = clock_s
    for gap in range(size):
        v = stops[gap]
        leg_s = ground.way_s[here, v]
        gaps[LEG_S, k, gap] = leg_s
        walking_s += leg_s
        clock_s += leg_s
        window, last = ground.first_window[v], ground.first_window[v + 1] - 1
        while window < last and clock_s > ground.windows_s[window, 1]:
            window += 1
        gaps[LATEST_S, k, gap] = ground.windows_s[window, 1]
        clock_s = max(clock_s, ground.windows_s[window, 0]) + ground.stay_s[v]
        gaps[FREE_S, k, gap + 1] = clock_s
        here = v
    behind = ground.way_s.shape[0] - 1
    out_s = ground.way_s[here, behind] if size else 0
    gaps[LEG_S, k, size] = out_s
    routes.totals[TIME_S, k] = clock_s + out_s - ground.shifts_s[k, 0]
    routes.totals[WALKING_S, k] = walking_s + out_s
    gaps[LATEST_S, k, size], gaps[REST_S, k, size] = ground.shifts_s[k, 1], 0
    for gap in range(size - 1, -1, -1):
        v = stops[gap]
        onward_s = ground.stay_s[v] + ground.way_s[v, behind]
        gaps[LATEST_S, k, gap] = min(gaps[LATEST_S, k, gap], gaps[LATEST_S, k, gap + 1] - onward_s)
        gaps[REST_S, k, gap] = gaps[REST_S, k, gap + 1] + onward_s
        behind = v


@compiled
def near_routes(ground: Ground, routes: Routes, v: int, most: int, near: Numbers) -> int:
    """Put the routes of the visits nearest to one into ``near`` (P), and one of those without visits; return how many.

    They are in their order, and all of them where there are no more than ``most``.
    """
    people, num = routes.totals.shape[1], 0
    near[:] = 1 if people <= most else 0
    for other in ground.near[v] if people > most else ground.near[v, :0]:
        k = routes.home[other]
        if k >= 0 and not near[k]:
            near[k] = 1
            num += 1
            if num == most:
                break
    is_open, num = people > most, 0
    for k in range(people):
        if near[k] or (is_open and routes.totals[SIZE, k] == 0 and ground.able[v, k]):
            is_open = is_open and routes.totals[SIZE, k] != 0
            near[num] = k
            num += 1
    return num


@compiled
def price(ground: Ground, routes: Routes, v: int, prices: tuple[int, int], near: Numbers, added: Numbers) -> None:
    """Put into ``added`` (P, V + 1) what a visit would add in each gap of some routes, `NEVER` where it has no room."""
    num, out = ground.stay_s.size, ground.way_s.shape[0] - 1
    first, last = ground.first_window[v], ground.first_window[v + 1] - 1
    for k in near:
        size, before, end_s = routes.totals[SIZE, k], num + k, ground.shifts_s[k, 0] + routes.totals[TIME_S, k]
        for gap in range(size + 1):
            behind = routes.stops[k, gap] if gap < size else out
            into_s, onward_s = ground.into_s[v, before], ground.way_s[v, behind]
            before = behind
            added[k, gap] = NEVER
            clock_s, window = routes.gaps[FREE_S, k, gap] + into_s, first
            while window < last and clock_s > ground.windows_s[window, 1]:
                window += 1
            if clock_s > ground.windows_s[window, 1] or not ground.able[v, k]:
                continue
            clock_s = max(clock_s, ground.windows_s[window, 0]) + ground.stay_s[v] + onward_s
            if clock_s > routes.gaps[LATEST_S, k, gap]:
                continue
            new_end_s = clock_s + routes.gaps[REST_S, k, gap]
            if gap < size:
                new_end_s = max(new_end_s, end_s)  # a wait further on may take up the delay
            detour_s = into_s + onward_s - routes.gaps[LEG_S, k, gap]
            added[k, gap] = prices[0] * (new_end_s - end_s) + prices[1] * detour_s


@compiled
def insert(ground: Ground, routes: Routes, v: int, near: Numbers, added: Numbers, blink: float, state: Chance) -> int:
    """Put a visit where ``added`` says it costs least, some gaps being overlooked; return its route, -1 for none."""
    least, k_best, gap_best = NEVER, int(np.int64(-1)), -1  # a constant would be a kind of its own
    for k in near:
        for gap in range(routes.totals[SIZE, k] + 1):
            if added[k, gap] < least and chance(state) >= blink:
                least, k_best, gap_best = added[k, gap], k, gap
    if k_best < 0:
        return -1
    stops = routes.stops[k_best]
    for place in range(routes.totals[SIZE, k_best], gap_best, -1):
        stops[place] = stops[place - 1]
    stops[gap_best] = v
    routes.totals[SIZE, k_best] += 1
    routes.home[v] = k_best
    lay_out(ground, routes, k_best)
    return int(k_best)


@compiled
def take_strings(ground: Ground, routes: Routes, gone: Numbers, is_cut: npt.NDArray[np.bool_], state: Chance) -> int:
    """Take strings of neighbouring visits out of routes around a visit, into ``gone``; return how many visits.

    ``is_cut`` (P) becomes True for the routes that lost some, False for the others.
    """
    is_cut[:] = False
    people, num = ground.shifts_s.shape[0], ground.stay_s.size
    sizes = routes.totals[SIZE]
    served = used = 0
    for k in range(people):
        served += sizes[k]
        used += sizes[k] > 0
    if not served:
        return 0
    most = min(LONGEST, max(1, served // used))
    num_strings = int(1 + chance(state) * max(1.0, 4 * STRINGS / (1 + most) - 1))
    around, taken = int(chance(state) * num), int(np.int64(0))  # a constant would be a kind of its own
    for v in ground.near[around]:
        k = routes.home[v]
        if k < 0 or is_cut[k]:
            continue
        taken = _take_string(routes, k, v, most, gone, taken, state)
        is_cut[k] = True
        lay_out(ground, routes, k)
        num_strings -= 1
        if not num_strings:
            break
    return taken


@compiled
def _take_string(routes: Routes, k: int, v: int, most: int, gone: Numbers, taken: int, state: Chance) -> int:
    """Take a string that holds a visit out of a route; half the time some visits within the string stay."""
    stops, size = routes.stops[k], routes.totals[SIZE, k]
    place = 0
    while stops[place] != v:
        place += 1
    length, kept = 1 + int(chance(state) * min(most, size)), 0
    if length > 1 and chance(state) < 0.5:
        while length + kept < size and chance(state) < 0.5:
            kept += 1
    span = length + kept
    low, high = max(0, place - span + 1), min(place, size - span)
    first = low + int(chance(state) * (high - low + 1))
    kept_from = first + 1 + int(chance(state) * (length - 1))
    left = first
    for at in range(first, size):
        if at < first + span and not kept_from <= at < kept_from + kept:
            gone[taken] = stops[at]
            taken += 1
            routes.home[stops[at]] = -1
        else:
            stops[left] = stops[at]
            left += 1
    routes.totals[SIZE, k] = left
    return taken


@compiled
def put_in_order(ground: Ground, visits: Numbers, state: Chance) -> None:
    """Order visits anew: by chance, or by a key that is drawn, chance deciding between equals.

    Of eleven draws four are by chance, three by the way out (the longest first), two by the width of the windows, one
    each by their begin and by their end.
    """
    out, way = ground.way_s.shape[0] - 1, int(chance(state) * 11)
    keys = np.zeros(visits.size, dtype=np.int64)
    for i in range(visits.size):
        j = int(chance(state) * (i + 1))
        visits[i], visits[j] = visits[j], visits[i]
    for i in range(visits.size):
        v = visits[i]
        opens_s, closes_s = (
            ground.windows_s[ground.first_window[v], 0],
            ground.windows_s[ground.first_window[v + 1] - 1, 1],
        )
        if 4 <= way < 7:
            keys[i] = -ground.way_s[v, out]
        elif 7 <= way < 9:
            keys[i] = closes_s - opens_s
        elif way == 9:
            keys[i] = opens_s
        elif way == 10:
            keys[i] = closes_s
    for i in range(1, visits.size if way >= 4 else 0):
        v, key, j = visits[i], keys[i], i
        while j and keys[j - 1] > key:
            visits[j], keys[j] = visits[j - 1], keys[j - 1]
            j -= 1
        visits[j], keys[j] = v, key


@compiled
def copy(source: Routes, target: Routes, differs: npt.NDArray[np.bool_]) -> None:
    """Make the routes of ``target`` those of ``source``; only those may differ that ``differs`` names."""
    for v in range(source.home.size):
        target.home[v] = source.home[v]
    for k in np.flatnonzero(differs):
        for part in range(3):
            target.totals[part, k] = source.totals[part, k]
        for gap in range(source.totals[SIZE, k] + 1):
            if gap < source.totals[SIZE, k]:
                target.stops[k, gap] = source.stops[k, gap]
            for part in range(4):
                target.gaps[part, k, gap] = source.gaps[part, k, gap]


@compiled
def cost(ground: Ground, routes: Routes, prices: tuple[int, int]) -> tuple[int, int, int]:
    """Return (number of visits left out, their weight, time and walking at their prices)."""
    absent = weight = length = 0
    for v in range(ground.weight.size):
        if routes.home[v] < 0:
            absent += 1
            weight += ground.weight[v]
    for k in range(routes.totals.shape[1]):
        length += prices[0] * routes.totals[TIME_S, k] + prices[1] * routes.totals[WALKING_S, k]
    return absent, weight, length


@kept_on_disk()
def anneal(
    ground: Ground,
    current: Routes,
    trial: Routes,
    best: Routes,
    annealing: Annealing,
    first: int,
    end: int,
    state: Chance,
) -> None:
    """Take strings out and put them back, from removal ``first`` to before ``end``.

    ``current`` and ``best`` go on from what they are; ``trial`` is room to work in.
    """
    gone = np.zeros(ground.weight.size, dtype=np.int64)
    people = ground.shifts_s.shape[0]
    added = np.zeros((people, ground.weight.size + 1), dtype=np.int64)
    near, is_changed, all_routes = np.zeros(people, np.int64), np.ones(people, np.bool_), np.ones(people, np.bool_)
    prices = annealing.end_price, annealing.walking_price
    counted = (1, 0) if annealing.end_price else (0, 1)
    cooling = annealing.last_heat / annealing.first_heat
    absent, _weight, length = cost(ground, current, prices)
    value = length + annealing.absence * absent
    _absent, least_weight, least_length = cost(ground, best, counted)
    for done in range(first, end):
        copy(current, trial, is_changed)
        absent = 0
        for v in range(trial.home.size):
            if trial.home[v] < 0:
                gone[absent] = v
                absent += 1
        absent += take_strings(ground, trial, gone[absent:], is_changed, state)
        put_in_order(ground, gone[:absent], state)
        drawn = annealing.end_price, annealing.walking_price * (1 + int(chance(state) * DEAREST))
        for v in gone[:absent]:
            num = near_routes(ground, trial, v, NEAR_ROUTES, near)
            price(ground, trial, v, drawn, near[:num], added)
            k = insert(ground, trial, v, near[:num], added, BLINK, state)
            if k < 0 and num < people:
                num = near_routes(ground, trial, v, people, near)
                price(ground, trial, v, drawn, near[:num], added)
                k = insert(ground, trial, v, near[:num], added, BLINK, state)
            if k >= 0:
                is_changed[k] = True
        absent, _weight, length = cost(ground, trial, prices)
        found = length + annealing.absence * absent
        heat = annealing.first_heat * cooling ** (done / annealing.removals)
        if found - value < -heat * math.log(1.0 - chance(state)):
            copy(trial, current, is_changed)
            value = found
            _absent, weight, length = cost(ground, trial, counted)
            if weight < least_weight or (weight == least_weight and length < least_length):
                least_weight, least_length = weight, length
                copy(trial, best, all_routes)
