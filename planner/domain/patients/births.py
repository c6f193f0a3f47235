"""Birth dates as far as they are known: a day, or only a month or a year, of which no day is ever made up."""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import date

_TEXT = re.compile(r"(\d{4})(?:-(\d\d))?")


@dataclass(frozen=True, slots=True, order=True)
class PartialDate:
    """A year, or a month of a year, without the day; written as ISO 8601 and FHIR ``date`` have it: 2026, 2026-02.

    Raises
    ------
    ValueError
        If there is no such year or month.
    """

    year: int
    month: int | None = None

    def __post_init__(self) -> None:
        date(self.year, 1 if self.month is None else self.month, 1)  # refuses a year or month that does not exist

    @classmethod
    def fromisoformat(cls, text: str) -> PartialDate:
        """Return the year or month that a text such as 2026 or 2026-02 states.

        Raises
        ------
        ValueError
            If the text is neither.
        """
        match = _TEXT.fullmatch(text)
        if match is None:
            raise ValueError("neither a year such as 2026 nor a month such as 2026-02")
        return cls(int(match[1]), None if match[2] is None else int(match[2]))

    def isoformat(self) -> str:
        """Return 2026 or 2026-02."""
        return f"{self.year:04}" if self.month is None else f"{self.year:04}-{self.month:02}"


BirthDate = date | PartialDate


def earliest_birth(born: BirthDate) -> date:
    """Return the first day that a birth date allows: of this day a person would be oldest."""
    return born if isinstance(born, date) else date(born.year, born.month or 1, 1)


def latest_birth(born: BirthDate) -> date:
    """Return the last day that a birth date allows: of this day a person would be youngest."""
    if isinstance(born, date):
        return born
    month = born.month or 12
    return date(born.year, month, calendar.monthrange(born.year, month)[1])


def agree(one: BirthDate, other: BirthDate) -> bool:
    """Return whether two birth dates can be of one person: some day is allowed by both."""
    return earliest_birth(one) <= latest_birth(other) and earliest_birth(other) <= latest_birth(one)


def more_exact(one: BirthDate, other: BirthDate) -> BirthDate:
    """Return the one of two birth dates that agree which says more."""
    return min(one, other, key=lambda born: latest_birth(born) - earliest_birth(born))
