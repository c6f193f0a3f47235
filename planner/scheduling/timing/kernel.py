"""The earliest schedule of a route with all its rules, compiled to machine code; see `timing` and `steps`."""

from __future__ import annotations

import numpy as np

from planner.scheduling.compiled import compiled, kept_on_disk
from planner.scheduling.timing import arrays, steps
from planner.scheduling.timing.arrays import (
    ARRIVAL_PRICE,
    BREAK_FROM,
    BREAK_LAST,
    BY_HAND,
    CHANGE,
    COUNTS_PAIRS,
    EXPOSURE_PRICE,
    FIRST_DEPARTURE,
    FIRST_SPECIMENS,
    FIRST_TARGET,
    FIRST_TO_LAB,
    FROM,
    GOOD_FOR,
    HANDOVER,
    IS_EXPOSURE,
    IS_PAIR,
    IS_TRAY,
    LAST_WARD,
    MAX_SENDS,
    MOVED_PRICE,
    NEED_BY,
    NEED_WEIGHT,
    NODE,
    NONE,
    PAIR_PRICE,
    PROMISED_PLACE,
    PROMISED_START,
    PROMISED_TO,
    ROUND_START,
    STAY,
    TAKES_HAND,
    TIME_PRICE,
    TO_LAB_PRICE,
    TRAY_LIMIT,
    UNTIL,
    WARD_PRICE,
    WEIGHT,
    Numbers,
    Rules,
)
from planner.scheduling.timing.instance import BREAK, NEVER
from planner.scheduling.timing.steps import carried, first_start, is_pickup, lab_arrival, pulled, specimens_of, ward_at

MAX_PASSES = 60

NUM_TOTALS = 16
"""What `time_stops` counts: the fields of `Timing` behind its schedule, in their order."""


@compiled
def _all_can_be_given(rules: Rules, k: int, stops: Numbers) -> bool:
    """Return whether the collector may make all visits, each with stops behind it that take its specimens."""
    sends = np.zeros(rules.pickups.shape[0], dtype=np.int64)
    takes_free = takes_hand = False
    for p in range(stops.size - 1, -1, -1):
        stop = stops[p]
        if stop >= 0:
            if not rules.able[stop, k]:
                return False
            for row in range(rules.visits[stop, FIRST_SPECIMENS], rules.visits[stop + 1, FIRST_SPECIMENS]):
                if not (takes_hand if rules.specimens[row, BY_HAND] else takes_free):
                    return False
        elif stop != BREAK:
            pickup = ~stop
            sends[pickup] += 1
            is_sent = rules.pickups[pickup, FIRST_DEPARTURE] == rules.pickups[pickup + 1, FIRST_DEPARTURE]
            if is_sent and sends[pickup] > rules.numbers[MAX_SENDS]:
                return False
            takes_free = True
            takes_hand = takes_hand or rules.pickups[pickup, TAKES_HAND] != 0
    return True


@compiled
def _forward(rules: Rules, k: int, stops: Numbers, not_before: Numbers, starts: Numbers) -> int:
    """Put the earliest starts that keep walking, windows, shift and the lower ends given into ``starts``.

    Return when the route is over; -1: no starts keep them.
    """
    who = rules.people[k]
    clock_s, node = who[FROM], who[NODE]
    for p in range(stops.size):
        stop = stops[p]
        if stop >= 0:
            there = rules.visits[stop, NODE]
            start_s = first_start(rules, stop, max(clock_s + rules.walk[node, there], not_before[p]))
            if start_s < 0:
                return -1
            clock_s, node = start_s + rules.visits[stop, STAY], there
        elif stop == BREAK:
            start_s = max(clock_s, not_before[p], who[BREAK_FROM])
            if start_s > who[BREAK_LAST]:
                return -1
            clock_s = start_s + who[STAY]
        else:
            there = rules.pickups[~stop, NODE]
            start_s = max(clock_s + rules.walk[node, there], not_before[p])
            clock_s, node = start_s + rules.numbers[HANDOVER], there
        if clock_s > who[UNTIL]:
            return -1
        starts[p] = start_s
    return int(clock_s)


@compiled
def _choose(rules: Rules, stops: Numbers, firsts: Numbers, before: Numbers, arrivals: Numbers, takers: Numbers) -> None:
    """Give each specimen to the stop that brings it in first, the earlier stop when two do.

    ``before``: it goes at a stop before that position.
    """
    size = stops.size
    first_free, first_hand = np.empty(size + 1, np.int64), np.empty(size + 1, np.int64)
    first_free[size] = first_hand[size] = -1
    for p in range(size - 1, -1, -1):
        first_free[p], first_hand[p] = first_free[p + 1], first_hand[p + 1]
        if is_pickup(stops[p]):
            if first_free[p] < 0 or arrivals[p] <= arrivals[first_free[p]]:
                first_free[p] = p
            if rules.pickups[~stops[p], TAKES_HAND] and (first_hand[p] < 0 or arrivals[p] <= arrivals[first_hand[p]]):
                first_hand[p] = p
    for p in range(size):
        row = rules.visits[stops[p], FIRST_SPECIMENS] - firsts[p] if stops[p] >= 0 else 0
        for n in range(firsts[p], firsts[p + 1]):
            by_hand = rules.specimens[row + n, BY_HAND] != 0
            takers[n] = first_hand[p] if by_hand else first_free[p]
            if before[n] < size:
                takers[n] = -1
                for at in range(p + 1, before[n]):
                    if _may_take(rules, stops[at], by_hand) and (takers[n] < 0 or arrivals[at] < arrivals[takers[n]]):
                        takers[n] = at


@compiled
def _may_take(rules: Rules, stop: int, by_hand: bool) -> bool:
    return is_pickup(stop) and (not by_hand or rules.pickups[~stop, TAKES_HAND] != 0)


@compiled
def _least(
    rules: Rules,
    k: int,
    stops: Numbers,
    firsts: Numbers,
    floors: Numbers,
    before: Numbers,
    starts: Numbers,
    arrivals: Numbers,
    takers: Numbers,
) -> bool:
    """Find the least starts, and who takes what; False without a schedule.

    A specimen that would be too old on arrival raises the lower end of its draw, until nothing moves.
    """
    not_before, last_s = floors.copy(), rules.people[k, BREAK_LAST]
    for p in range(stops.size if last_s != NONE else 0):
        if stops[p] == BREAK:
            last_s = NONE
    for _ in range(MAX_PASSES):
        finish_s = _forward(rules, k, stops, not_before, starts)
        if finish_s < 0 or (last_s != NONE and finish_s > last_s):
            return False
        for p in range(stops.size):
            arrivals[p] = NEVER
            if is_pickup(stops[p]):
                arrivals[p] = lab_arrival(rules, ~stops[p], starts[p] + rules.numbers[HANDOVER])
        _choose(rules, stops, firsts, before, arrivals, takers)
        has_moved = False
        for p in range(stops.size):
            row = rules.visits[stops[p], FIRST_SPECIMENS] - firsts[p] if stops[p] >= 0 else 0
            for n in range(firsts[p], firsts[p + 1]):
                arrival_s = arrivals[takers[n]]
                if arrival_s == NEVER:
                    return False
                first_s = arrival_s - rules.specimens[row + n, GOOD_FOR]
                if starts[p] < first_s:
                    not_before[p] = first_s
                    has_moved = True
        if not has_moved:
            return True
    return False


@compiled
def _emptied_before(rules: Rules, stops: Numbers, firsts: Numbers, takers: Numbers, full: int, before: Numbers) -> bool:
    """Let what is carried past a full tray go at a stop before it, where there is one; False where nothing changes."""
    is_changed = False
    for p in range(stops.size):
        if stops[p] < 0 or rules.visits[stops[p], IS_TRAY]:
            continue
        row = rules.visits[stops[p], FIRST_SPECIMENS] - firsts[p]
        for n in range(firsts[p], firsts[p + 1]):
            if takers[n] <= full:
                continue
            by_hand = rules.specimens[row + n, BY_HAND] != 0
            for at in range(p + 1, min(full, before[n])):
                if _may_take(rules, stops[at], by_hand):
                    is_changed = is_changed or before[n] != full
                    before[n] = full
                    break
    return is_changed


@compiled
def _changes(rules: Rules, k: int, stops: Numbers, starts: Numbers) -> int:
    """Return how many promised visits a route changes: its person, its place in the order, or its time."""
    changed, furthest = 0, -1
    for p in range(stops.size):
        if stops[p] < 0 or rules.visits[stops[p], PROMISED_TO] == NONE:
            continue
        visit = rules.visits[stops[p]]
        if visit[PROMISED_TO] != k:
            changed += 1
            continue
        if visit[PROMISED_PLACE] < furthest or starts[p] > visit[PROMISED_START] + rules.numbers[CHANGE]:
            changed += 1
        furthest = max(furthest, visit[PROMISED_PLACE])
    return changed


@compiled
def _count_pairs(rules: Rules, stops: Numbers) -> tuple[int, int]:
    """Return how many pairs of visits stand out of the order of isolation, and how many exposures."""
    pairs = exposures = 0
    if rules.numbers[COUNTS_PAIRS]:
        for p in range(stops.size):
            for earlier in range(p):
                if stops[p] >= 0 and stops[earlier] >= 0:
                    kind = rules.pairs[stops[earlier], stops[p]]
                    pairs += (kind & IS_PAIR) != 0
                    exposures += (kind & IS_EXPOSURE) != 0
    return pairs, exposures


@compiled
def _count_ward_changes(rules: Rules, k: int, stops: Numbers) -> int:
    """Return how many visits are on another ward than the visit before, the last one made included."""
    num, last = 0, rules.people[k, LAST_WARD]
    for stop in stops:
        ward = ward_at(rules, stop)
        if ward != NONE:
            num += last != NONE and ward != last
            last = ward
    return num


@compiled
def _count(
    rules: Rules,
    k: int,
    stops: Numbers,
    firsts: Numbers,
    starts: Numbers,
    arrivals: Numbers,
    takers: Numbers,
    totals: Numbers,
) -> None:
    """Count what a route costs, in the order of the fields of `Timing`."""
    numbers = rules.numbers
    late = delivery = to_lab = arrival = pulls = bed_s = weight = pays = 0
    for p in range(stops.size):
        v = stops[p]
        if v < 0:
            continue
        bed_s += rules.visits[v, STAY]
        weight += rules.visits[v, WEIGHT]
        pays += rules.pays[v, k]
        for n in range(rules.visits[v, FIRST_TARGET], rules.visits[v + 1, FIRST_TARGET]):
            late += rules.targets[n, 1] * max(0, starts[p] - rules.targets[n, 0])
        pulls += pulled(rules, v, starts[p])
        last_s = numbers[ROUND_START] if firsts[p] == firsts[p + 1] else 0
        for n in range(firsts[p], firsts[p + 1]):
            row = rules.visits[v, FIRST_SPECIMENS] + n - firsts[p]
            arrival_s = arrivals[takers[n]]
            last_s = max(last_s, arrival_s)
            if rules.visits[v, NEED_BY] != NONE:
                delivery += rules.specimens[row, NEED_WEIGHT] * max(0, arrival_s - rules.visits[v, NEED_BY])
            for due in range(rules.specimens[row, FIRST_TO_LAB], rules.specimens[row + 1, FIRST_TO_LAB]):
                to_lab += rules.to_lab[due, 1] * max(0, arrival_s - rules.to_lab[due, 0])
        arrival += last_s - numbers[ROUND_START]
    other_s = rules.people[k, STAY] if stops[-1] == BREAK else numbers[HANDOVER]
    finish_s = starts[-1] + (rules.visits[stops[-1], STAY] if stops[-1] >= 0 else other_s)
    time_s = finish_s - rules.people[k, FROM] - bed_s
    changes = _changes(rules, k, stops, starts)
    pairs, exposures = _count_pairs(rules, stops)
    ward_changes = _count_ward_changes(rules, k, stops)
    service = late + delivery + numbers[TO_LAB_PRICE] * to_lab + numbers[MOVED_PRICE] * changes
    effort = (
        pays
        + pulls
        + numbers[TIME_PRICE] * time_s
        + numbers[ARRIVAL_PRICE] * arrival
        + numbers[WARD_PRICE] * ward_changes
        + numbers[PAIR_PRICE] * pairs
        + numbers[EXPOSURE_PRICE] * exposures
    )
    totals[0], totals[1], totals[2], totals[3], totals[4] = late, delivery, to_lab, changes, arrival
    totals[5], totals[6], totals[7], totals[8], totals[9] = pairs, exposures, ward_changes, pulls, time_s
    totals[10], totals[11], totals[12], totals[13], totals[14] = finish_s, bed_s, service, effort, weight
    totals[15] = _count_empty(stops, takers)


@compiled
def _count_empty(stops: Numbers, takers: Numbers) -> int:
    """Return how many hand-overs take nothing."""
    takes, num = np.zeros(stops.size, np.bool_), 0
    for taker in takers:
        takes[taker] = True
    for p in range(stops.size):
        num += is_pickup(stops[p]) and not takes[p]
    return num


@kept_on_disk(arrays, steps)
def can_be_walked(rules: Rules, k: int, stops: Numbers) -> bool:
    """Return whether the stops can be made in their windows and the shift, whatever becomes of the specimens."""
    floors, starts = np.zeros(stops.size, dtype=np.int64), np.empty(stops.size, dtype=np.int64)
    return bool(_forward(rules, k, stops, floors, starts) >= 0)


def is_made_alone(rules: Rules, v: int) -> bool:
    """Return whether somebody could make a visit if there were no other: every way to make it is tried.

    A lone visit needs one hand-over, or one each for what may go by tube station and what may not. A break
    stands before any stop; behind the last one it is never owed (`CollectorData.owes_break`). Not compiled: the first
    way that is tried is nearly always one, and whoever looks at a round's input need not wait for a compiler.
    """
    num, pickups = rules.visits[v + 1, FIRST_SPECIMENS] - rules.visits[v, FIRST_SPECIMENS], rules.pickups.shape[0] - 1
    floors, out = np.zeros(4, np.int64), np.empty(NUM_TOTALS + 4 + num, np.int64)
    route, rested = np.empty(3, np.int64), np.empty(4, np.int64)
    route[0] = v
    people = {rules.people[k].tobytes(): k for k in range(rules.people.shape[0]) if rules.able[v, k]}
    for k in people.values():  # one of those who are alike
        if _forward(rules, k, route[:1], floors[:1], rested) < 0:  # more stops make nothing earlier
            continue
        for way in range(1 if num == 0 else pickups if num == 1 else pickups * pickups):
            size = min(3, 1 + num)
            if num:
                route[1] = ~(way % pickups)
            if num > 1:
                route[2] = ~(way // pickups)
                size = 2 if route[1] == route[2] else 3
            if _time(rules, k, route[:size], floors[:size], out):
                return True
            for gap in range(0 if rules.people[k, BREAK_LAST] == NONE else size):
                for p in range(size):
                    rested[p if p < gap else p + 1] = route[p]
                rested[gap] = BREAK
                if _time(rules, k, rested[: size + 1], floors[: size + 1], out):
                    return True
    return False


def _time(rules: Rules, k: int, stops: Numbers, floors: Numbers, out: Numbers) -> bool:
    """Find the earliest schedule of a route; return False when it breaks a rule.

    ``floors``: no stop starts before them. ``out`` gets what is counted (`NUM_TOTALS`), the starts, and for each
    specimen the position of the stop that takes it.
    """
    size = stops.size
    if not _all_can_be_given(rules, k, stops):
        return False
    firsts = specimens_of(rules, stops)
    num = firsts[size]
    before, arrivals = np.empty(num, np.int64), np.empty(size, np.int64)
    before[:] = size
    starts, takers = out[NUM_TOTALS : NUM_TOTALS + size], out[NUM_TOTALS + size : NUM_TOTALS + size + num]
    most = rules.numbers[TRAY_LIMIT]
    for _ in range(size):
        if not _least(rules, k, stops, firsts, floors, before, starts, arrivals, takers):
            return False
        full = -1
        if most != NONE:
            held = carried(rules, stops, firsts, takers)
            for p in range(size):
                if held[p + 1] > most:
                    full = p
                    break
        if full < 0:
            _count(rules, k, stops, firsts, starts, arrivals, takers, out)
            return True
        if not _emptied_before(rules, stops, firsts, takers, full, before):
            return False
    return False


time_stops = kept_on_disk(arrays, steps)(_time)
"""`_time`, compiled."""
