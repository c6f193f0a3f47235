"""Ways to draw a part of a visit, and how ways of independent parts are put together under a limit."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from planner.tubes.demands import Demand
from planner.tubes.groups import Filled


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """What is drawn (``filled``), what waits, and the blood that it takes, a discard included."""

    volume_ul: int = 0
    filled: tuple[Filled, ...] = ()
    waits: tuple[Demand, ...] = ()

    @property
    def weight(self) -> int:
        """Weight of the orders that wait."""
        return sum(demand.weight for demand in self.waits)

    @property
    def num_tubes(self) -> int:
        """Containers, the discard not counted."""
        return len(self.filled)

    @property
    def preference(self) -> int:
        """Sum of places in the tests' preference orders."""
        return sum(filled.preference for filled in self.filled)


First = Callable[[Way], int]
"""What matters before blood: the weight that waits, or the number of tubes."""


def way_of(filled: Iterable[Filled], waits: Iterable[Demand] = ()) -> Way:
    """Return the way that draws these containers."""
    containers = tuple(filled)
    return Way(volume_ul=sum(f.container.volume_ul for f in containers), filled=containers, waits=tuple(waits))


def best_ways(ways: Iterable[Way], first: First) -> list[Way]:
    """Return the ways that no other beats in both ``first`` and blood, by ``first``.

    Of equals the better preference stays, then the one whose waiting orders have the later numbers.
    """
    ordered = sorted(ways, key=lambda w: sorted(i for d in w.waits for i in d.order_ids), reverse=True)
    ordered.sort(key=lambda w: (first(w), w.volume_ul, w.preference))
    kept: list[Way] = []
    for way in ordered:
        if not kept or way.volume_ul < kept[-1].volume_ul:
            kept.append(way)
    return kept


def together(parts: Sequence[Sequence[Way]], first: First, most_ul: int, extra_ul: int = 0) -> list[Way]:
    """Return the best ways to draw all parts with at most ``most_ul``; ``extra_ul`` is taken besides.

    A way that is beaten in a part is beaten in every whole, so each part brings only its best ways.
    """
    whole = [Way(volume_ul=extra_ul)] if extra_ul <= most_ul else []
    for ways in parts:
        whole = best_ways(
            (
                Way(
                    volume_ul=one.volume_ul + other.volume_ul,
                    filled=one.filled + other.filled,
                    waits=one.waits + other.waits,
                )
                for one in whole
                for other in ways
                if one.volume_ul + other.volume_ul <= most_ul
            ),
            first,
        )
    return whole
