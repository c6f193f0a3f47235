"""Says how much blood may be drawn from a child, and asks what the limit hangs on and the list does not say."""

from __future__ import annotations

from planner.domain.orders import CHILD_UNDER_YEARS, Patient
from planner.domain.patients.ages import is_age_open, is_limited
from planner.domain.patients.blood_limits import BloodLimits, blood_limits
from planner.domain.plan import Visit
from planner.exporters.view.context import ViewContext
from planner.units import format_ml


def blood_questions(context: ViewContext, patient: Patient) -> tuple[str, ...]:
    """Return what to ask before a child is drawn whose blood of the last 24 hours is not on file."""
    problem = context.problem
    if patient.drawn_24h_ul is not None or not is_limited(problem, patient) or is_age_open(problem, patient):
        return ()
    return ("Nurse: how much blood was drawn in the last 24 h? ____________ mL",)


def ceiling_words(context: ViewContext, visit: Visit, patient: Patient) -> tuple[str, ...]:
    """Return the most that may be drawn at a visit of a child, spares and a second attempt included.

    Other visits of the round take their planned volumes first. Where earlier blood is asked for, the answer above which
    the plan no longer keeps the limits stands beside it.
    """
    limits = _limits(context, patient)
    if limits is None:
        return ()
    others_ul = _to_come_ul(context, patient) - _volume_ul(visit)
    left_ul = max(0, limits.round_ul - others_ul)
    most_ul = left_ul if limits.draw_ul is None else min(left_ul, limits.draw_ul)
    drawn_ul = context.problem.drawn_24h_ul(patient)
    if patient.drawn_24h_ul is None:
        most_before_ul = max(0, min(limits.day_ul, limits.month_ul) - (drawn_ul or 0) - _to_come_ul(context, patient))
        known = f"earlier blood not known: if the nurse says more than {format_ml(most_before_ul)} mL, do not draw, "
        known += "phone the lead"
    else:
        known = f"{format_ml(drawn_ul or 0)} mL of it drawn before"
    no_cap = f" (24 h limit alone: no cap for one draw from {CHILD_UNDER_YEARS} years on)"
    by = no_cap if limits.draw_ul is None else ""
    return (
        f"MAX this visit {format_ml(most_ul)} mL{by}, repeats and waste count; "
        f"24 h limit {format_ml(limits.day_ul)} mL, {known}",
    )


def _limits(context: ViewContext, patient: Patient) -> BloodLimits | None:
    if not is_limited(context.problem, patient) or patient.weight_g is None:
        return None
    return blood_limits(context.problem, patient, patient.weight_g)


def _to_come_ul(context: ViewContext, patient: Patient) -> int:
    visits = (visit for route in context.plan.routes for visit in context.visits_to_come(route))
    return sum(_volume_ul(visit) for visit in visits if visit.patient_id == patient.id)


def _volume_ul(visit: Visit) -> int:
    return sum(planned.tube.volume_ul for planned in visit.tubes)
