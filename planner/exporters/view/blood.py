"""Asks what a child's blood limit hangs on: the weight, and what was drawn before."""

from __future__ import annotations

from planner.domain.ages import is_limited
from planner.domain.orders import Patient
from planner.exporters.view.context import ViewContext


def blood_questions(context: ViewContext, patient: Patient) -> tuple[str, ...]:
    """Return what to ask before a child is drawn: the weight that the limit went by, and earlier blood not on file."""
    if not is_limited(context.problem, patient) or patient.weight_g is None:
        return ()
    weight = f"Weight {patient.weight_g / 1000:g} kg (the blood limit goes by it): right?"
    before = " Blood drawn in the last 24 h, not on file: ____ mL?" if patient.drawn_24h_ul is None else ""
    return (f"{weight}{before} If not, or if in doubt: ask the nurse before you draw.",)
