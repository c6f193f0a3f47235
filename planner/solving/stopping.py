"""Ctrl-C while a round is planned: once there is a plan, the first asks to end with the best in hand.

It then ends the search, and what is planned is still checked and written. A second one ends the program at once, as
does the first while there is no plan yet.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


class CtrlC:
    """Whether the person asked to end; signals reach the whole process, so there is one (`CTRL_C`)."""

    def __init__(self) -> None:
        self.is_asked = False
        """Whether the search is to end with the best plan in hand."""
        self.has_plan = False
        """Whether there is a plan in hand."""

    def hear(self, _signal: int, _frame: FrameType | None) -> None:
        """Note the first Ctrl-C when there is a plan; raise `KeyboardInterrupt` else."""
        if self.is_asked or not self.has_plan:
            raise KeyboardInterrupt
        self.is_asked = True

    @contextmanager
    def heard(self) -> Iterator[None]:
        """Hear Ctrl-C this way meanwhile; only where Python would raise `KeyboardInterrupt` for it else."""
        self.is_asked = self.has_plan = False
        before = signal.getsignal(signal.SIGINT)
        if threading.current_thread() is threading.main_thread() and before is signal.default_int_handler:
            signal.signal(signal.SIGINT, self.hear)
        try:
            yield
        finally:
            self.is_asked = self.has_plan = False
            if signal.getsignal(signal.SIGINT) == self.hear:
                signal.signal(signal.SIGINT, before)


CTRL_C = CtrlC()
