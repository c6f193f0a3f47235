"""Progress on standard error, and only on a terminal."""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence

from planner.domain.goals import EFFORT_PER_S, Tier

SHOWN = {
    Tier.LEFT_OUT: ("left out weight", 1),
    Tier.SERVICE: ("service min", 60),
    Tier.EFFORT: ("effort min", 60 * EFFORT_PER_S),
}
"""Tiers shown while the search runs, those at nothing left out: words, and what the value is divided by."""


def _amount(value: int, bound: int, divisor: int) -> str:
    """Return a value with its bound: "12 (>=9)", or "12!" when it is proven."""
    if value == bound:
        return f"{value // divisor}!"
    return f"{value // divisor} (>={bound // divisor})" if bound else f"{value // divisor}"


class ProgressLine:
    """One line that says how far the search is; it is wiped when the search is over."""

    MIN_INTERVAL_S = 0.2

    def __init__(self) -> None:
        self._is_terminal = sys.stderr.isatty()
        self._told_s = 0.0

    def __call__(self, stage: str, values: Sequence[int], bounds: Sequence[int]) -> None:
        """Show the tiers of the best round so far, and below what no round can get, where that is known."""
        now_s = time.monotonic()
        if not self._is_terminal or now_s - self._told_s < self.MIN_INTERVAL_S:
            return
        self._told_s = now_s
        shown = zip(SHOWN.values(), values, bounds, strict=True)
        text = f"{stage}: " + ", ".join(
            f"{words} {_amount(value, bound, divisor)}" for (words, divisor), value, bound in shown if value or bound
        )
        print(f"\r{text[:78]:<78}", end="", file=sys.stderr, flush=True)

    def close(self) -> None:
        """Wipe the line."""
        if self._told_s:
            print("\r" + " " * 78 + "\r", end="", file=sys.stderr, flush=True)
