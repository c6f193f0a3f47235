"""How a number of the policy is declared: default, meaning, unit and range, all beside the field."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from typing import Any, TypeVar, cast

from planner.units import SECONDS_PER_DAY, SECONDS_PER_MINUTE, hours_to_s

_T = TypeVar("_T")


class Unit(Enum):
    """How a number is kept, and how it is written in a policy file."""

    PLAIN = "as it is kept"
    CLOCK = "seconds after midnight, written HH:MM: x_at_s is x_at"
    SPAN = "seconds, written in minutes, seconds or hours: x_s is x_minutes"
    VOLUME = "microlitres, written in mL: x_ul is x_ml"
    PERCENT = "percent"


_MOST_BY_UNIT = {Unit.SPAN: 7 * SECONDS_PER_DAY, Unit.PERCENT: 100}
_MOST_OF_ANYTHING = 1_000_000
"""Largest value of a field that states no range of its own, by its unit: more is a slip (engineering choice)."""

MOST_OF_A_PRICE_S = hours_to_s(2)
"""A higher price would make a tier of its own (engineering choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What stands beside a field of the policy: its meaning in one line, its unit, its range (in the field's unit)."""

    meaning: str
    unit: Unit
    most: int
    is_positive: bool
    """True where nothing at all makes no sense either."""
    choices: tuple[Any, ...]
    """The members of an Enum that may be set; none: all."""
    example: str
    """How a value is written where the default is empty."""

    @property
    def range_words(self) -> str:
        """The range of a span or a number as a person writes it: '0 to 120 minutes'; empty without one of its own."""
        if self.most == _MOST_BY_UNIT.get(self.unit, _MOST_OF_ANYTHING) and self.unit is not Unit.PERCENT:
            return ""
        word, size = {Unit.SPAN: (" minutes", SECONDS_PER_MINUTE), Unit.PERCENT: (" percent", 1)}.get(
            self.unit, ("", 1)
        )
        return f"{int(self.is_positive)} to {self.most // size}{word}"


def setting(
    default: _T,
    meaning: str,
    unit: Unit = Unit.PLAIN,
    *,
    most: int | None = None,
    is_positive: bool = False,
    choices: tuple[Any, ...] = (),
    example: str = "",
) -> _T:
    """Return a field with its default and its `Setting`; typed as the default, as `dataclasses.field` is."""
    beside = Setting(
        meaning=meaning,
        unit=unit,
        most=_MOST_BY_UNIT.get(unit, _MOST_OF_ANYTHING) if most is None else most,
        is_positive=is_positive,
        choices=choices,
        example=example,
    )
    metadata = {"setting": beside}
    if isinstance(default, Mapping):
        return cast(_T, field(default_factory=lambda: dict(default), metadata=metadata))
    return field(default=default, metadata=metadata)


def section(kind: type[_T], meaning: str) -> _T:
    """Return a field of the policy that holds a section with its defaults."""
    beside = Setting(
        meaning=meaning, unit=Unit.PLAIN, most=_MOST_OF_ANYTHING, is_positive=False, choices=(), example=""
    )
    return field(default_factory=kind, metadata={"setting": beside})
