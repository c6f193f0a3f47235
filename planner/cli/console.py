"""Progress on standard error, and only on a terminal."""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence


class ProgressLine:
    """One line that says how far the search is; it is wiped when the search is over."""

    MIN_INTERVAL_S = 0.2

    def __init__(self) -> None:
        self._is_terminal = sys.stderr.isatty()
        self._told_s = 0.0

    def __call__(self, stage: str, values: Sequence[int]) -> None:
        """Show the goals of the best round so far, in their order."""
        now_s = time.monotonic()
        if not self._is_terminal or now_s - self._told_s < self.MIN_INTERVAL_S:
            return
        self._told_s = now_s
        uncollected, late, punctures, delivery, _arrival, time_s, _finish = values
        text = (
            f"{stage}: {punctures} draws, uncollected {uncollected}, late {late // 60} weighted min, "
            f"past need-by {delivery // 60}, walking and waiting {time_s // 60} min"
        )
        print(f"\r{text[:78]:<78}", end="", file=sys.stderr, flush=True)

    def close(self) -> None:
        """Wipe the line."""
        if self._told_s:
            print("\r" + " " * 78 + "\r", end="", file=sys.stderr, flush=True)
