"""Parameters of a search: what a caller may set, and nothing that the clock decides."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from planner.domain.wishes import Wish


class Effort(StrEnum):
    """How much work a search may do, least first."""

    QUICK = "quick"
    NORMAL = "normal"
    THOROUGH = "thorough"

    @classmethod
    def _missing_(cls, value: object) -> Effort:
        raise ValueError(f"effort {value!r} is not one of {', '.join(cls)}")


@dataclass(frozen=True, slots=True, kw_only=True)
class SolveParams:
    """How to search. One worker, one seed and limits on work done repeat a result exactly.

    ``wall_limit_s`` is a guard for a stalled machine, in seconds, for all searches together (`begun`); a search
    that it ends says so, because its result may then differ between runs. More than one worker gives up
    repeatability. Without ``proves`` bounds come from counting alone, and the exact model is not asked.
    ``wish`` is what the plan is to be instead of what the site's prices ask for; None: what they ask for.

    Raises
    ------
    ValueError
        If the effort is unknown, there is no worker, the seed is negative or no time is left.
    """

    seed: int = 1
    workers: int = 1
    effort: Effort = Effort.NORMAL
    wall_limit_s: float = 240.0
    proves: bool = True
    wish: Wish | None = None
    deadline_s: float | None = None
    """When the guard strikes, on the clock of `time.monotonic`; None: its time has not begun."""

    def __post_init__(self) -> None:
        Effort(self.effort)
        if self.workers < 1:
            raise ValueError(f"a search needs a worker, not {self.workers}")
        if not 0 <= self.seed < 2**31:
            raise ValueError(f"a seed lies between 0 and 2^31 - 1, not {self.seed}")
        if self.wall_limit_s <= 0:
            raise ValueError(f"a search needs time, not {self.wall_limit_s} s")

    def begun(self) -> SolveParams:
        """Return the parameters with the time of the guard begun; those of which it has begun as they are."""
        return self if self.deadline_s is not None else replace(self, deadline_s=time.monotonic() + self.wall_limit_s)

    @property
    def is_over(self) -> bool:
        """Whether the guard has struck."""
        return self.deadline_s is not None and time.monotonic() > self.deadline_s

    @property
    def left_s(self) -> float:
        """Seconds until the guard strikes; a little when it has."""
        return self.wall_limit_s if self.deadline_s is None else max(0.1, self.deadline_s - time.monotonic())
