"""Reads the hazard table: what could hurt somebody, what this program does about it, and what it does not."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from io import StringIO

from planner.loaders.catalogue.load import read_laboratory_text


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


def load_hazards() -> tuple[Hazard, ...]:
    """Return the hazards in the order of the table."""
    rows = csv.DictReader(StringIO(read_laboratory_text("hazards.csv")))
    return tuple(
        Hazard(
            id=row["id"],
            hazard=row["hazard"],
            sequence=row["sequence"],
            harm=row["harm"],
            severity=int(row["severity"]),
            control=row["control"],
            places=tuple(row["where"].split()),
            tests=tuple(row["test"].split()),
            not_controlled=row["not_controlled"],
        )
        for row in rows
    )
