"""What came out of a search: a status that maps completely, values, and a bound that is safe to print."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import Any


class SolveStatus(Enum):
    """How a search ended."""

    OPTIMAL = "optimal"
    FEASIBLE = "feasible"
    """A solution, not proven the best."""
    INFEASIBLE = "infeasible"
    UNKNOWN = "unknown"
    """A limit struck before any solution was found."""

    @property
    def has_solution(self) -> bool:
        """True when there are values to read."""
        return self in (SolveStatus.OPTIMAL, SolveStatus.FEASIBLE)


@dataclass(frozen=True, slots=True, kw_only=True)
class CpOutcome:
    """The result of one search.

    ``value`` reads a variable or a linear expression of the model; call it only when there is a solution.
    ``objective`` is recomputed in whole numbers from the values. ``bound`` is proven: no solution is better.
    Both are None where there is none. ``hit_wall_guard``: the clock, not the work limit, ended the search.
    """

    status: SolveStatus
    value: Callable[[Any], int]
    objective: int | None
    bound: int | None
    wall_s: float
    hit_wall_guard: bool = False

    @property
    def is_proven(self) -> bool:
        """True when no better solution exists."""
        return self.status is SolveStatus.OPTIMAL


def safe_lower_bound(bound: float) -> int | None:
    """Return the largest whole number that a lower bound in floating point proves; None for none at all.

    A bound of 6.9999999 proves 7 (the true value is whole and the solver's error is far below the margin),
    6.01 proves 7, and 7.0000001 proves no more than 7.
    """
    if not math.isfinite(bound):
        return None
    margin = 1e-6 * max(1.0, abs(bound) * 1e-3)
    return math.ceil(bound - margin)
