"""Says who identifies a child that is too young to state a name."""

from __future__ import annotations

from planner.domain.ages import is_limited
from planner.domain.orders import Patient
from planner.exporters.view.context import ViewContext

STATES_NAME_FROM_YEARS = 7
"""Younger children are not asked alone for name and birth date (our choice; local policy decides)."""

STATES_NAME_FROM_G = 20_000
"""The same by weight, where no birth date is known (our choice: about a child's weight at that age)."""

TOO_YOUNG = "Too young to state the name: a parent or the nurse identifies the child with you by the wristband"


def identity_words(context: ViewContext, patient: Patient) -> tuple[str, ...]:
    """Return a line for a child, or for somebody who may be one, that cannot be expected to state a name."""
    age = patient.age_years(context.problem.clock.day)
    if age is not None:
        return (TOO_YOUNG,) if age < STATES_NAME_FROM_YEARS else ()
    is_light = patient.weight_g is not None and patient.weight_g < STATES_NAME_FROM_G
    return (TOO_YOUNG,) if is_light and is_limited(context.problem, patient) else ()
