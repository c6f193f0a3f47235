"""Asks what a child's blood limit hangs on and the list does not say; the weight stands beside the birth date."""

from __future__ import annotations

from planner.domain.ages import is_age_open, is_limited
from planner.domain.orders import Patient
from planner.exporters.view.context import ViewContext


def blood_questions(context: ViewContext, patient: Patient) -> tuple[str, ...]:
    """Return what to ask before a child is drawn whose blood of the last 24 hours is not on file."""
    problem = context.problem
    if patient.drawn_24h_ul is not None or not is_limited(problem, patient) or is_age_open(problem, patient):
        return ()
    return ("Nurse: how much blood was drawn in the last 24 h? ____ mL",)
