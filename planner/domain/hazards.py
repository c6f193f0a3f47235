"""What could hurt somebody on a round, and what is done about it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Hazard:
    """One row of ``laboratory/hazards.csv``.

    ``severity`` runs from 1 (nuisance) to 5 (death or lasting harm is possible). ``places`` are the modules that hold
    the control, as paths below ``planner/``. ``tests`` are pytest node ids that fail when the control is removed.
    ``not_controlled`` says what is left to people.
    """

    id: str
    hazard: str
    sequence: str
    harm: str
    severity: int
    control: str
    places: tuple[str, ...]
    tests: tuple[str, ...]
    not_controlled: str

    @property
    def text(self) -> str:
        """All that a person may look for."""
        return " ".join((self.id, self.hazard, self.sequence, self.harm, self.control, self.not_controlled))
