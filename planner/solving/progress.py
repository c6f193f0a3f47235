"""Who wants to be told of each better solution while a search runs."""

from __future__ import annotations

from typing import Protocol


class ProgressListener(Protocol):
    """Told of every better solution; it must return soon, the search waits for it."""

    def improved(self, objective: int, bound: int, wall_s: float) -> None:
        """Take note: value of the solution, what is proven so far, seconds since the search began."""
