"""Reads the hazard table: what could hurt somebody, what this program does about it, and what it does not."""

from __future__ import annotations

import csv
from io import StringIO

from planner.domain.hazards import Hazard
from planner.loaders.catalogue.load import read_laboratory_text


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
