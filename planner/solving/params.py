"""Parameters of a search: what a caller may set, and nothing that the clock decides."""

from __future__ import annotations

from dataclasses import dataclass

EFFORTS = ("quick", "normal", "thorough")
"""How much work a search may do, least first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SolveParams:
    """How to search. One worker, one seed and limits on work done repeat a result exactly.

    ``effort`` is one of `EFFORTS`. ``wall_limit_s`` is a guard for a stalled machine, in seconds; a search
    that it ends says so, because its result may then differ between runs. More than one worker gives up
    repeatability. Without ``proves`` bounds come from counting alone, and the exact model is not asked.

    Raises
    ------
    ValueError
        If the effort is unknown, there is no worker, the seed is negative or no time is left.
    """

    seed: int = 1
    workers: int = 1
    effort: str = "normal"
    wall_limit_s: float = 60.0
    proves: bool = True

    def __post_init__(self) -> None:
        if self.effort not in EFFORTS:
            raise ValueError(f"effort {self.effort!r} is not one of {', '.join(EFFORTS)}")
        if self.workers < 1:
            raise ValueError(f"a search needs a worker, not {self.workers}")
        if not 0 <= self.seed < 2**31:
            raise ValueError(f"a seed lies between 0 and 2^31 - 1, not {self.seed}")
        if self.wall_limit_s <= 0:
            raise ValueError(f"a search needs time, not {self.wall_limit_s} s")
