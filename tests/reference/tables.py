"""The rules of one person's tiny round as tables over time, so that whole curves of instants are looked up at once.

Time counts in steps of the round's greatest common divisor from its begin: every rule adds, subtracts or takes the
greater of given numbers, so that no instant of a least solution lies between two steps.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import gcd

import numpy as np
from numpy.typing import NDArray

from tests.reference.tiny import LATE, TinyOutlet, TinyRound, TinyVisit

Numbers = NDArray[np.int64]

NEVER = 1 << 40
"""Steps that no instant reaches."""

KINDS = (False, True)
"""By anybody's way, by hand only."""


@dataclass(frozen=True)
class Table:
    """A function of the step at which somebody could begin; ``one`` and ``many`` are the same numbers."""

    one: list[int]
    many: Numbers

    @classmethod
    def of(cls, numbers: list[int]) -> Table:
        """Return the table of numbers by step."""
        return cls(numbers, np.array(numbers, dtype=np.int64))


class Clock:
    """Steps of a round: ``unit_s`` seconds each from ``begin_s``; ``sink`` is the step after everybody's last."""

    def __init__(self, tiny: TinyRound) -> None:
        self.begin_s = min(p.from_s for p in tiny.people)
        self.unit_s = gcd(*_lengths(tiny), *(t - self.begin_s for t in _instants(tiny)))
        self.sink = self.steps(max(p.until_s for p in tiny.people) - self.begin_s) + 1
        self.size = self.sink + self.steps(max([0, *tiny.walk_s.values()])) + 1

    def steps(self, length_s: int) -> int:
        """Return a length in steps; an instant is given less ``begin_s``."""
        assert length_s % self.unit_s == 0
        return length_s // self.unit_s

    def at(self, instant_s: int) -> int:
        """Return the step of an instant."""
        return self.steps(instant_s - self.begin_s)

    def table(self, function: Callable[[int], int]) -> Table:
        """Return a function of the instant in seconds as a table."""
        return Table.of([function(self.begin_s + step * self.unit_s) for step in range(self.size)])


def _lengths(tiny: TinyRound) -> list[int]:
    lengths = [tiny.handover_s, tiny.change_s, tiny.stat_to_lab_s, tiny.asap_to_lab_s, *tiny.walk_s.values()]
    lengths += [o.transit_s for o in tiny.outlets] + [p.rest_s for p in tiny.people]
    for visit in tiny.visits:
        lengths += [visit.lead_s, visit.service_s, *(o.stability_s or 0 for o in visit.orders)]
    return lengths


def _instants(tiny: TinyRound) -> list[int]:
    found = [t for p in tiny.people for t in (p.from_s, p.until_s, *(p.rest or ()))]
    found += [d for o in tiny.outlets for d in o.departures_s]
    for visit in tiny.visits:
        found += [t for span in visit.starts for t in span]
        found += [o.target_s for o in visit.orders if o.target_s is not None]
        found += [] if visit.promise is None else [visit.promise[2]]
    return found if tiny.need_by_s is None else [*found, tiny.need_by_s]


def start_s(visit: TinyVisit, ready_s: int) -> int | None:
    """Return the first allowed start of a visit from an instant on."""
    return min((max(ready_s, a) for a, b in visit.starts if ready_s <= b), default=None)


def arrival_s(outlet: TinyOutlet, end_s: int) -> int | None:
    """Return when what was given away by then is in the laboratory."""
    if outlet.kind != "courier":
        return end_s + outlet.transit_s
    leaves_s = min((d for d in outlet.departures_s if d >= end_s), default=None)
    return None if leaves_s is None else leaves_s + outlet.transit_s


def takes(outlet: TinyOutlet, by_hand: bool) -> bool:
    """Return whether a way out takes tubes of a kind."""
    return outlet.kind != "tube" or not by_hand


def limit_s(visit: TinyVisit, by_hand: bool) -> int | None:
    """Return the shortest stability of a visit's tubes of one kind."""
    limits = [o.stability_s for o in visit.orders if o.by_hand == by_hand and o.stability_s is not None]
    return min(limits, default=None)


def late(visit: TinyVisit, begin_s: int) -> int:
    """Return the weighted seconds past the targets of a visit that starts at an instant."""
    draw_s = begin_s + visit.lead_s
    return sum(LATE[o.priority] * max(0, draw_s - o.target_s) for o in visit.orders if o.target_s is not None)


def past_need(tiny: TinyRound, visit: TinyVisit, by_hand: bool, brought_s: int) -> int:
    """Return the weighted seconds past the need-by time of a visit's tubes of one kind."""
    weight = sum(LATE[o.priority] for o in visit.orders if o.by_hand == by_hand)
    return 0 if tiny.need_by_s is None else weight * max(0, brought_s - tiny.need_by_s)


def possible_arrivals(tiny: TinyRound, clock: Clock, by_hand: bool) -> Numbers:
    """Return all steps at which tubes of a kind can be in the laboratory, ascending."""
    found: set[int] = set()
    for outlet in tiny.outlets:
        if not takes(outlet, by_hand):
            continue
        transit = clock.steps(outlet.transit_s)
        if outlet.kind == "courier":
            found |= {clock.at(d) + transit for d in outlet.departures_s}
        else:
            found |= set(range(transit, clock.sink + transit))
    return np.array(sorted(found), dtype=np.int64)
