"""Says who identifies a child that is too young to state a name."""

from __future__ import annotations

from planner.domain.orders import Patient
from planner.domain.patients.ages import is_limited
from planner.exporters.view.context import ViewContext

STATES_NAME_FROM_YEARS = 7
"""Younger children are not asked alone for name and birth date (our choice; local policy decides)."""

STATES_NAME_FROM_G = 20_000
"""The same by weight, where no birth date is known (our choice: about a child's weight at that age)."""

TOO_YOUNG = "Too young to state the name: a parent or the nurse identifies the child with you by the wristband"


NO_BIRTH_DATE = "Second identifier: nurse or parent, with the wristband number; none: do not draw"
"""What stands on the card of who has no birth date on file; two identifiers: [L13]."""


def identity_words(context: ViewContext, patient: Patient) -> tuple[str, ...]:
    """Return who identifies a child that cannot be expected to state a name, and whoever has no birth date on file."""
    age = patient.age_years(context.problem.clock.day)
    if age is not None:
        return (TOO_YOUNG,) if age < STATES_NAME_FROM_YEARS else ()
    is_light = patient.weight_g is not None and patient.weight_g < STATES_NAME_FROM_G
    is_small = is_light and is_limited(context.problem, patient)
    return (*((TOO_YOUNG,) if is_small else ()), NO_BIRTH_DATE)
