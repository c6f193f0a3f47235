"""What compact routes see of a round: beds with windows, collectors from a begin to a way out; and both in arrays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Numbers = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Beds:
    """Visits with windows and collectors, in whole seconds.

    ``way_s`` is square over the visits, then the begins of the collectors, then the way out as the last (only ways
    to it count; its hand-over is in them). ``windows[v]`` are (earliest, latest) starts, ascending. ``weight[v]`` is
    what a visit left out counts. ``able[v]`` has True for the collectors who may make the visit.
    """

    way_s: Numbers
    stay_s: Numbers
    windows: tuple[tuple[tuple[int, int], ...], ...]
    weight: tuple[int, ...]
    able: npt.NDArray[np.bool_]
    begin_s: tuple[int, ...]
    until_s: tuple[int, ...]

    @property
    def num_visits(self) -> int:
        """Number of visits."""
        return len(self.windows)


class Ground(NamedTuple):
    """What does not change: V visits, P collectors, W windows.

    Places are the visits, then the begins of the collectors, then the way out.
    """

    way_s: Numbers
    """(V + P + 1) square, from row to column."""
    into_s: Numbers
    """The same, from column to row: the ways to one visit lie side by side."""
    stay_s: Numbers
    """(V)."""
    first_window: Numbers
    """(V + 1): the windows of visit ``v`` are the rows from ``first_window[v]`` to before ``first_window[v + 1]``."""
    windows_s: Numbers
    """(W, 2): earliest and latest start, ascending for each visit."""
    weight: Numbers
    """(V): what a visit left out counts."""
    able: npt.NDArray[np.bool_]
    """(V, P): who may make which visit."""
    shifts_s: Numbers
    """(P, 2): begin, and by when the way out must be over."""
    near: Numbers
    """(V, V): the visits by their way from each, itself first."""


class Routes(NamedTuple):
    """Routes with their times."""

    stops: Numbers
    """(P, V): the visits of each route in their order; `totals` says how many count."""
    home: Numbers
    """(V): whose route a visit is on, -1 for none."""
    totals: Numbers
    """(3, P): number of visits, seconds until the route is over, seconds of walking."""
    gaps: Numbers
    """(4, P, V + 1), of each gap: when the collector leaves the stop before; by when the stop behind must start (be
    over, for the way out); the bare seconds from there to the route's end; the way from the one to the other."""


def ground_of(beds: Beds) -> Ground:
    """Return the beds in arrays."""
    num = beds.num_visits
    both_s = np.minimum(beds.way_s[:num, :num], beds.way_s[:num, :num].T)
    np.fill_diagonal(both_s, -1)
    return Ground(
        way_s=_numbers(beds.way_s),
        into_s=_numbers(beds.way_s.T),
        stay_s=_numbers(beds.stay_s),
        first_window=_numbers(np.cumsum([0, *(len(windows) for windows in beds.windows)])),
        windows_s=_numbers([window for windows in beds.windows for window in windows]),
        weight=_numbers(beds.weight),
        able=np.ascontiguousarray(beds.able, dtype=np.bool_),
        shifts_s=_numbers(list(zip(beds.begin_s, beds.until_s, strict=True))),
        near=_numbers(np.argsort(both_s, axis=1, kind="stable")),
    )


def _numbers(values: npt.ArrayLike) -> npt.NDArray[np.int64]:
    return np.ascontiguousarray(values, dtype=np.int64)
