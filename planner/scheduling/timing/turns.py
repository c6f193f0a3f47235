"""Pairs of patients that one person should visit the other way round, in the order of isolation.

A pair counts only where both could stand the other way round in their windows: who cannot be seen first costs nothing.
Which pairs count does not depend on the routes, so that each visit carries a set of bits and a route is counted with a
few of them.

Example: an airborne room that must be drawn by 05:20, and a protective one that opens at 06:00: whoever sees both sees
the airborne one first, and no pair counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from planner.scheduling.timing.instance import VisitData

AIRBORNE_RANK = 4
"""The last place in the order of rule ``precautions`` (see `PRECAUTION_RANK`)."""


@dataclass(frozen=True, slots=True)
class Turns:
    """Bit i of ``before[j]``: visit i before visit j on one route counts. ``behind`` is the same, seen from visit i."""

    before: tuple[int, ...] = ()
    behind: tuple[int, ...] = ()

    @classmethod
    def of(cls, before: Sequence[int]) -> Turns:
        """Return the pairs, both ways; nothing at all where none counts."""
        if not any(before):
            return cls()
        behind = [sum(1 << j for j, mask in enumerate(before) if mask >> i & 1) for i in range(len(before))]
        return cls(tuple(before), tuple(behind))

    def on(self, visits: Sequence[int]) -> int:
        """Return how many pairs of a route count, its visits in their order."""
        if not self.before:
            return 0
        pairs = seen = 0
        for visit in visits:
            pairs += (seen & self.before[visit]).bit_count()
            seen |= 1 << visit
        return pairs

    def with_visit(self, visit: int, earlier: int, later: int) -> int:
        """Return how many pairs a visit adds that is put between others (bits of those before and behind it)."""
        if not self.before:
            return 0
        return (earlier & self.before[visit]).bit_count() + (later & self.behind[visit]).bit_count()


def isolation_turns(visits: Sequence[VisitData], walk: Sequence[Sequence[int]]) -> tuple[Turns, Turns]:
    """Return the pairs out of the order of isolation, and those of a protective patient after an airborne one."""
    apart = [i for i, visit in enumerate(visits) if not visit.is_tray]
    usual, exposed = [0] * len(visits), [0] * len(visits)
    for j in apart:
        later = visits[j]
        for i in apart:
            first = visits[i]
            if later.precaution >= first.precaution or not _could_come_first(later, first, walk):
                continue
            is_exposed = first.precaution == AIRBORNE_RANK and later.is_protective
            (exposed if is_exposed else usual)[j] |= 1 << i
    return Turns.of(usual), Turns.of(exposed)


def _could_come_first(one: VisitData, other: VisitData, walk: Sequence[Sequence[int]]) -> bool:
    """Return whether a visit can be over, and the way to the other made, while the other can still be begun."""
    return one.first_s + one.service_s + walk[one.node][other.node] <= other.last_s
