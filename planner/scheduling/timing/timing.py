"""The earliest schedule of a route whose stops are in a given order, and what it costs.

Every rule between two instants of a route says "not before": walking, a window's begin, the previous courier, and
stability (a specimen that leaves at a fixed time must not be drawn too early). Such rules have one least solution,
in which every stop is as early as it can be; every goal but part ``off-time`` grows with time, so it is the best.
Nobody waits for a stated or preferred time: a visit comes nearer to it by its place in the order alone. The solution is
found by passing over the route until nothing moves; each pass lets every specimen go with the stop that then brings it
in first (the least of several "not before" rules is one too). `planner.scheduling.timing.kernel` does so in machine
code. A stop is
an index of a visit, ``~j`` for pickup ``j``, or `BREAK`.

A full tray (rule ``tray-limit``) asks for more. Specimens go with the stop that brings them in first, which may be a
later one than the next. Where the tray would be too full on the way there, those carried past that place are given
away before it, as far as some stop can take them: all of them, though fewer might do. Which ones is not weighed, so
here, and here only, a route may be timed later than it could be, or refused though some choice would keep all rules.
The exact model chooses freely: its bounds stay true. Example: a tray of two tubes, stops bed 0, bed 1, courier, bed 2,
station. Both tubes go to the courier, though one of them could wait for the station.

Example: a tube good for 60 minutes, drawn at 05:05, and a courier who brings specimens in at 06:15: the second
pass moves the draw to 05:15, and the stops behind it where they get in the way.
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

from planner.scheduling.timing.instance import BREAK, Instance

Stops = tuple[int, ...]


class Timing(NamedTuple):
    """Instants of a route, and what it costs."""

    starts_s: tuple[int, ...]
    """Of its stops."""
    takers: tuple[int, ...]
    """Of each specimen, in the order of the visits, the position of the hand-over that takes it."""
    firsts: tuple[int, ...]
    """Where in ``takers`` the specimens of each stop begin, and where the last end."""
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
    pulls: int
    """What the times of its draws count in tier ``effort`` (`Instance.pulls`)."""
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
    weight: int
    """What its visits would count in tier ``left-out``."""
    num_empty: int
    """How many hand-overs take nothing (rule ``handover-empty``)."""
    linked: tuple[tuple[int, int], ...] = ()
    """The visits that other routes ask about (`Instance.linked`), with their starts."""

    @property
    def handovers(self) -> tuple[tuple[int, ...], ...]:
        """For each stop the positions of the hand-overs that take its specimens."""
        return tuple(self.takers[first:end] for first, end in pairwise(self.firsts))


EMPTY = Timing._make(((), (), (0,), *[0] * 16, ()))

Floors = tuple[tuple[int, int], ...]
"""Visits that must not start before a second, because of visits on other routes; ascending."""


def time_route(instance: Instance, collector: int, stops: Stops, floors: Floors = ()) -> Timing | None:
    """Return the earliest schedule of one route, or None when no schedule keeps all hard rules."""
    if not stops:
        return EMPTY
    import numpy as np

    from planner.scheduling.timing.kernel import NUM_TOTALS, time_stops

    size, num = len(stops), 0
    firsts, nums = [0], instance.num_specimens
    for stop in stops:
        num += nums[stop] if stop >= 0 else 0
        firsts.append(num)
    out = np.empty(NUM_TOTALS + size + num, np.int64)
    floor_s = np.zeros(size, np.int64)
    for visit, least_s in floors:
        floor_s[[p for p, stop in enumerate(stops) if stop == visit]] = least_s
    if not time_stops(instance.rules, collector, np.array(stops, np.int64), floor_s, out):
        return None
    values: list[int] = out.tolist()
    starts_s, bound = values[NUM_TOTALS : NUM_TOTALS + size], instance.linked
    linked = tuple([link for link in zip(stops, starts_s, strict=True) if link[0] in bound]) if bound else ()
    takers = tuple(values[NUM_TOTALS + size :])
    return Timing._make((tuple(starts_s), takers, tuple(firsts), *values[:NUM_TOTALS], linked))


def empty_handovers(stops: Stops, timing: Timing) -> list[int]:
    """Return the positions of the hand-overs of a route that take nothing (rule ``handover-empty``).

    They are timed like others, so that a round can be built and changed step by step. Only beside a break can one make
    a round better: it brings the collector nearer to the next bed before she rests.
    """
    if not timing.num_empty:
        return []
    return [p for p, stop in enumerate(stops) if stop < 0 and stop != BREAK and p not in timing.takers]


def fits(instance: Instance, collector: int, stops: Stops) -> bool:
    """Return whether the stops can be made in their windows and the shift, whatever becomes of the specimens."""
    import numpy as np

    from planner.scheduling.timing.kernel import can_be_walked

    return can_be_walked(instance.rules, collector, np.array(stops, np.int64))


def stop_service_s(instance: Instance, collector: int, stop: int) -> int:
    """Return how long a stop takes."""
    if stop >= 0:
        return instance.visits[stop].service_s
    return instance.collectors[collector].break_s if stop == BREAK else instance.handover_s
