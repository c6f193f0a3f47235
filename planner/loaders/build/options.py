"""What the caller of a loader says instead of the files."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, time
from pathlib import Path

from planner.loaders.values.moments import DayOrder


@dataclass(frozen=True, slots=True)
class LoadOptions:
    """What the caller says instead of the files.

    ``date_order`` is ``dmy``, ``mdy`` or ``ymd``, for columns whose dates leave it open; ``num_phlebotomists``
    counts only without a staff table; ``start`` is the first instant of work; ``ignores_policy`` goes on although
    the policy has errors, each value that cannot be read at its default.
    """

    round_date: date | None = None
    start: time | None = None
    num_phlebotomists: int | None = None
    date_order: DayOrder | None = None
    round_name: str | None = None
    ignores_policy: bool = False
    adults_only: bool = False
    """No ward of the round has children: an unknown age is an adult's (`BloodPolicy.adult_wards`)."""
    site: Path | None = None
    """Folder with the site's own tables: names, tests and tubes. None: the one that the policy names, if it does."""
