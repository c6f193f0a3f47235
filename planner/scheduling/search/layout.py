"""A timed route laid out for estimates, compiled to machine code: how far each stop may slip, and what slips with it.

With ``walked_s[p]`` the bare seconds of walking and stays from the begin of the route to stop p, a delay is simple:
if stop p cannot start before t, stop q behind it starts at the larger of its present start and t + walked_s[q] -
walked_s[p], for whatever waiting lies between swallows its part. Example: starts 05:10, 05:40 (20 minutes of waiting
before it), 05:50; the first slips by 25 minutes to 05:35: the second by 5, the third by 5.

Positions are those of the stops of a route; gap g lies before stop g.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planner.scheduling.compiled import compiled
from planner.scheduling.timing.arrays import (
    BREAK_LAST,
    FIRST_DEPARTURE,
    FIRST_SPECIMENS,
    FIRST_WINDOW,
    FROM,
    GOOD_FOR,
    HANDOVER,
    NODE,
    NONE,
    STAY,
    TRAY_LIMIT,
    UNTIL,
    Numbers,
    Rules,
)
from planner.scheduling.timing.instance import BREAK, NEVER
from planner.scheduling.timing.steps import carried, is_pickup, lab_arrival, specimens_of

# Columns of `Profile.at`, a row for each gap; what is of a stop (`WALKED` to `DUE`) stands in the gap before it.
ENDS, NODES, WALKED, LATEST, ARRIVALS, NUM_LAST, DUE, ROOM, ROOM_ON = range(9)
"""When and where the collector is free before the gap, and for each stop:

`WALKED`: see above; behind the last stop, of the whole route.
`LATEST`: its latest start from which the rest can be made (within the windows it is made in now).
`ARRIVALS`: of a hand-over; `NEVER`: of other stops, and where no courier leaves any more.
`NUM_LAST`: how many visits a hand-over completes.
`DUE`: when all that a hand-over takes is too old.
`ROOM`: how many tubes more could be drawn in a gap and given away there (rule ``tray-limit``).
`ROOM_ON`: how many could be carried on to the next hand-over.
"""


class Profile(NamedTuple):
    """A timed route, laid out for estimates."""

    k: int
    stops: Numbers
    starts: Numbers
    firsts: Numbers
    """See `specimens_of`."""
    takers: Numbers
    at: Numbers
    """[gap, column]"""


@compiled
def lay_out(rules: Rules, k: int, stops: Numbers, starts: Numbers, takers: Numbers) -> Profile:
    """Return a timed route laid out for estimates."""
    size, who, firsts = stops.size, rules.people[k], specimens_of(rules, stops)
    at = np.zeros((size + 1, 9), np.int64)
    at[0, ENDS], at[0, NODES] = who[FROM], who[NODE]
    for p in range(size):
        stop, node = stops[p], at[p, NODES]
        stay_s = rules.numbers[HANDOVER]
        at[p, ARRIVALS] = at[p, DUE] = NEVER
        if stop >= 0:
            stay_s, node = rules.visits[stop, STAY], rules.visits[stop, NODE]
        elif stop == BREAK:
            stay_s = who[STAY]
        else:
            node = rules.pickups[~stop, NODE]
            at[p, ARRIVALS] = lab_arrival(rules, ~stop, starts[p] + stay_s)
        at[p, WALKED] += rules.walk[at[p, NODES], node] if stop != BREAK else 0
        at[p + 1, WALKED] = at[p, WALKED] + stay_s
        at[p + 1, ENDS], at[p + 1, NODES] = starts[p] + stay_s, node
    for p in range(size):
        v, last = stops[p], -1
        for n in range(firsts[p], firsts[p + 1]):
            taker, row = takers[n], rules.visits[v, FIRST_SPECIMENS] + n - firsts[p]
            at[taker, DUE] = min(at[taker, DUE], starts[p] + rules.specimens[row, GOOD_FOR])
            if last < 0 or at[taker, ARRIVALS] > at[last, ARRIVALS]:
                last = taker
        if last >= 0:
            at[last, NUM_LAST] += 1
    _lay_out_latest(rules, k, stops, starts, at)
    held, has_limit = carried(rules, stops, firsts, takers), rules.numbers[TRAY_LIMIT] != NONE
    for gap in range(size, -1, -1):
        at[gap, ROOM] = rules.numbers[TRAY_LIMIT] - held[gap] if has_limit else NEVER
        at[gap, ROOM_ON] = at[gap, ROOM]
        if gap < size and not is_pickup(stops[gap]):
            at[gap, ROOM_ON] = min(at[gap, ROOM], at[gap + 1, ROOM_ON])
    return Profile(k, stops, starts, firsts, takers, at)


@compiled
def _lay_out_latest(rules: Rules, k: int, stops: Numbers, starts: Numbers, at: Numbers) -> None:
    bound_s = rules.people[k, UNTIL]
    for p in range(stops.size - 1, -1, -1):
        stop = stops[p]
        bound_s -= at[p + 1, WALKED] - at[p, WALKED]
        if stop >= 0:
            window = rules.visits[stop, FIRST_WINDOW]
            while rules.windows[window, 1] < starts[p]:
                window += 1
            bound_s = min(bound_s, rules.windows[window, 1])
        elif stop == BREAK:
            bound_s = min(bound_s, rules.people[k, BREAK_LAST])
        elif rules.pickups[~stop, FIRST_DEPARTURE] < rules.pickups[~stop + 1, FIRST_DEPARTURE]:
            last_s = rules.departures[rules.pickups[~stop + 1, FIRST_DEPARTURE] - 1]
            bound_s = min(bound_s, last_s - rules.numbers[HANDOVER])
        at[p, LATEST] = bound_s
