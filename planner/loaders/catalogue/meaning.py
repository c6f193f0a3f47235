"""What a code or a name of an order list means: one test, or several with what to ask."""

from __future__ import annotations

from dataclasses import dataclass

from planner.domain.catalogue import TestCode


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a code or name means: one test when ``ask`` is empty, else the tests it can mean and what to ask."""

    tests: tuple[TestCode, ...]
    ask: str = ""

    @property
    def sure(self) -> TestCode | None:
        """The test that is meant without a doubt."""
        return self.tests[0] if len(self.tests) == 1 and not self.ask else None
