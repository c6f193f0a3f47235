"""What compact routes see of a round: beds with windows, and collectors who walk from a begin to a way out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt


@dataclass(frozen=True, slots=True, kw_only=True)
class Beds:
    """Visits with windows and collectors, in whole seconds.

    ``way_s`` is square over the visits, then the begins of the collectors, then the way out as the last (only ways
    to it count; its hand-over is in them). ``windows[v]`` are (earliest, latest) starts, ascending. ``weight[v]`` is
    what a visit left out counts. ``able[v]`` has True for the collectors who may make the visit.
    """

    way_s: npt.NDArray[np.int64]
    stay_s: npt.NDArray[np.int64]
    windows: tuple[tuple[tuple[int, int], ...], ...]
    weight: tuple[int, ...]
    able: npt.NDArray[np.bool_]
    begin_s: tuple[int, ...]
    until_s: tuple[int, ...]

    @property
    def num_visits(self) -> int:
        """Number of visits."""
        return len(self.windows)
