"""One way to take the control of a hazard away: a small change of one file, and the tests that then fail."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Removal:
    """A control taken out: ``before`` stands exactly once in ``file`` and becomes ``after``.

    ``tests`` are node ids out of the rows of these hazards, few enough to be quick.
    """

    hazards: tuple[str, ...]
    file: str
    before: str
    after: str
    tests: tuple[str, ...]
