"""Narrows windows and drops arcs of a route that must make all its visits: who comes surely before whom.

After Desrochers, Desrosiers and Solomon (A new optimization algorithm for the vehicle routing problem with time
windows, 1992) and Ascheuer, Fischetti and Grötschel (Solving the asymmetric travelling salesman problem with time
windows by branch-and-cut, 2001). All visits are on the one route, so for each two one is first:

1. `least_s`: least seconds from the start of a visit to the start of another, over whatever lies between. The
   direct way may be longer (nothing here needs the triangle inequality).
2. If b's earliest start and the shortest way to a end after a's window, a comes before b (and so on along chains).
3. A visit starts no earlier than its earliest possible predecessor allows, and no earlier than all that surely comes
   before it; in the same way backwards for the latest start. Repeat from 2 while a window narrows.
4. A gap of a series orders its two visits, and narrows the windows of both.
5. A direct arc is dropped where a third visit must lie between, or could be neither before nor behind it.

Example: a opens at 100 and b closes at 105, 10 s from a: b comes before a, so the arc from a to b goes, a opens at
b's earliest plus the way, and b closes at a's latest less the way.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.scheduling.exact.ways import shortest_over
from planner.scheduling.timing.instance import GapData, Instance

MAX_PASSES = 20


@dataclass(slots=True)
class Tight:
    """Windows of the starts, what surely comes before each visit, and the arcs that are left, by index of visit.

    The begin of the route is one more index, the last; no arc leads there, and none from a visit to the end of the
    route is told. ``way_s[a][b]`` is the direct time from the start of a to that of b, ``least_s`` the shortest.
    ``last`` are the visits that may be the route's last.
    """

    earliest_s: list[int]
    latest_s: list[int]
    way_s: list[list[int]]
    least_s: list[list[int]]
    before: list[set[int]]
    arcs: set[tuple[int, int]]
    last: set[int]
    gaps: tuple[GapData, ...] = ()
    is_possible: bool = True
    """False: no route makes all visits."""


def tighten(instance: Instance, collector: int, num_handovers: int) -> Tight:
    """Return what is sure of the visits of a round that this collector must make all by herself.

    ``num_handovers``: how many hand-overs she can make. A single one ends the route and lies between no visits.
    """
    who, visits = instance.collectors[collector], instance.visits
    begin = len(visits)
    nodes = [v.node for v in visits] + [who.node] + [p.node for p in instance.pickups]
    service_s = [v.service_s for v in visits] + [0] + [instance.handover_s for _ in instance.pickups]
    direct_s = [[s + instance.walk[a][b] for b in nodes] for a, s in zip(nodes, service_s, strict=True)]
    outlets = range(begin + 1, len(nodes))
    out_s = [min((row[n] for n in outlets), default=0) for row in direct_s]
    way_s = shortest_over(direct_s, outlets if num_handovers > 1 else ())
    least_s = shortest_over(way_s, range(begin))
    tight = Tight(
        earliest_s=[max(v.windows[0].earliest_s, who.from_s) for v in visits] + [who.from_s],
        latest_s=[min(v.windows[-1].latest_s, who.until_s - v.service_s) for v in visits] + [who.from_s],
        way_s=way_s,
        least_s=least_s,
        before=[{begin} for _ in visits] + [set()],
        arcs={(a, b) for a in range(begin + 1) for b in range(begin) if a != b},
        last=set(range(begin)),
        gaps=instance.gaps,
    )
    for gap in instance.gaps:
        if gap.least_s > 0:
            tight.before[gap.second].add(gap.first)
            least_s[gap.first][gap.second] = max(least_s[gap.first][gap.second], gap.least_s)
    for i, visit in enumerate(visits):
        if visit.specimens:  # must still be given away, straight or over other beds
            way_out_s = min([out_s[i], *(least_s[i][b] + out_s[b] for b in range(begin))]) + instance.handover_s
            tight.latest_s[i] = min(tight.latest_s[i], who.until_s - way_out_s)
    for _ in range(MAX_PASSES):
        was = [*tight.earliest_s], [*tight.latest_s], len(tight.arcs)
        _order(tight)
        _drop(tight)
        _narrow(tight)
        if not tight.is_possible or was == (tight.earliest_s, tight.latest_s, len(tight.arcs)):
            break
    if tight.is_possible:
        _drop_by_third(tight)
    return tight


def _order(tight: Tight) -> None:
    """Find what surely comes before what, chains included."""
    size = len(tight.before)
    for b in range(size - 1):
        for a in range(size - 1):
            if a != b and tight.earliest_s[b] + tight.least_s[b][a] > tight.latest_s[a]:
                tight.before[b].add(a)
    for b in sorted(range(size), key=lambda i: (len(tight.before[i]), i)):
        for a in sorted(tight.before[b]):
            tight.before[b] |= tight.before[a]
    tight.is_possible = all(b not in before for b, before in enumerate(tight.before))


def _drop(tight: Tight) -> None:
    """Drop arcs that come too late, go against the order, or leave out what lies surely between."""
    behind = _behind(tight)
    tight.arcs = {
        (a, b)
        for a, b in tight.arcs
        if tight.earliest_s[a] + tight.way_s[a][b] <= tight.latest_s[b]
        and b not in tight.before[a]
        and not (behind[a] & tight.before[b])
    }
    tight.last = {a for a in tight.last if not behind[a]}


def _behind(tight: Tight) -> list[set[int]]:
    behind: list[set[int]] = [set() for _ in tight.before]
    for b, before in enumerate(tight.before):
        for a in before:
            behind[a].add(b)
    return behind


def _narrow(tight: Tight) -> None:
    """Narrow the windows by what may come directly before and behind, and by all that surely does."""
    earliest_s, latest_s = tight.earliest_s, tight.latest_s
    size = len(earliest_s) - 1
    into: list[list[int]] = [[] for _ in range(size + 1)]
    out: list[list[int]] = [[] for _ in range(size + 1)]
    for a, b in sorted(tight.arcs):
        into[b].append(a)
        out[a].append(b)
    for b in sorted(range(size), key=lambda i: (earliest_s[i], i)):
        if not into[b]:
            tight.is_possible = False
            return
        first_s = min(earliest_s[a] + tight.way_s[a][b] for a in into[b])
        last_s = max(earliest_s[a] + tight.least_s[a][b] for a in tight.before[b])
        earliest_s[b] = max(earliest_s[b], first_s, last_s)
    behind = _behind(tight)
    for a in sorted(range(size), key=lambda i: (-latest_s[i], i)):
        if a not in tight.last:
            if not out[a]:
                tight.is_possible = False
                return
            latest_s[a] = min(latest_s[a], max(latest_s[b] - tight.way_s[a][b] for b in out[a]))
        if behind[a]:
            latest_s[a] = min(latest_s[a], min(latest_s[b] - tight.least_s[a][b] for b in behind[a]))
    for gap in tight.gaps:
        earliest_s[gap.second] = max(earliest_s[gap.second], earliest_s[gap.first] + gap.least_s)
        earliest_s[gap.first] = max(earliest_s[gap.first], earliest_s[gap.second] - gap.most_s)
        latest_s[gap.first] = min(latest_s[gap.first], latest_s[gap.second] - gap.least_s)
        latest_s[gap.second] = min(latest_s[gap.second], latest_s[gap.first] + gap.most_s)
    if any(a > b for a, b in zip(earliest_s, latest_s, strict=True)):
        tight.is_possible = False


def _drop_by_third(tight: Tight) -> None:
    """Drop arcs (a, b) with a third visit that can come neither before a nor behind b."""
    earliest_s, latest_s, least_s = tight.earliest_s, tight.latest_s, tight.least_s
    size = len(earliest_s) - 1
    kept = set()
    for a, b in tight.arcs:
        start_s = max(earliest_s[b], earliest_s[a] + tight.way_s[a][b])
        for c in range(size):
            if c in (a, b):
                continue
            if start_s + least_s[b][c] <= latest_s[c] and c not in tight.before[a] and c not in tight.before[b]:
                continue
            if a == size or a in tight.before[c]:
                break
            then_s = max(earliest_s[a], earliest_s[c] + least_s[c][a])
            if then_s > latest_s[a] or max(earliest_s[b], then_s + tight.way_s[a][b]) > latest_s[b]:
                break
        else:
            kept.add((a, b))
    tight.arcs = kept
