"""What must be settled about a patient before anybody draws blood: age, a weight that can be, a newborn's method."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.domain.methods import method_of
from planner.domain.orders import Method, Order, Patient
from planner.domain.patients.ages import is_age_open, is_limited
from planner.domain.patients.weights import WEIGHT_BOUNDS
from planner.domain.plan import Reason
from planner.domain.problem import Problem
from planner.finding_codes import Code
from planner.findings import Report, Severity

CODE: Mapping[Reason, Code] = {
    Reason.AGE_UNKNOWN: "age-unknown",
    Reason.NEONATE: "neonate-method",
    Reason.WARD_DRAWS: "ward-draws",
    Reason.WEIGHT_IMPLAUSIBLE: "weight-implausible",
    Reason.WEIGHT_MISSING: "weight-missing",
}
"""The finding of each reason."""

_DAYS_PER_MONTH_X10000 = 304_375
"""A month has 30.4375 days, as WHO counts ages; ten-thousandths of a day keep it whole."""
_MOST_BEDS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Unsettled:
    """Why all orders of a patient need a decision: the reason, and what was found and what to do, in words."""

    reason: Reason
    detail: str


def unsettled(problem: Problem, patient: Patient) -> Unsettled | None:
    """Return what a person must settle about a patient; None when blood may be drawn."""
    if is_age_open(problem, patient):
        detail = "the age is not known, and an unknown age is never taken for an adult's; state the birth date"
        if not _knows_any_birth_date(problem):
            detail += ". Nobody on the list has one: if there are no children, plan again with --adults-only"
        return Unsettled(reason=Reason.AGE_UNKNOWN, detail=detail)
    if (bounds := _impossible(problem, patient)) is not None and patient.weight_g is not None:
        detail = (
            f"a weight of {patient.weight_g / 1000:g} kg cannot be at this age (bounds {bounds[0] / 1000:g} to "
            f"{bounds[1] / 1000:g} kg); correct the weight or the birth date"
        )
        return Unsettled(reason=Reason.WEIGHT_IMPLAUSIBLE, detail=detail)
    method = method_of(patient, problem.clock.day, problem.policy.blood)
    if method is None:
        detail = (
            "under 28 days old, or perhaps so: state the method (venous, capillary or ward) in the list, or "
            "blood.neonate_method in the policy"
        )
        return Unsettled(reason=Reason.NEONATE, detail=detail)
    if method is Method.WARD:
        return Unsettled(
            reason=Reason.WARD_DRAWS, detail="the ward's own staff draw this patient; tell them of the order"
        )
    if is_limited(problem, patient) and patient.weight_g is None:
        detail = "the child's weight is not known, so no blood limit can be reckoned; weigh, or decide by hand"
        return Unsettled(reason=Reason.WEIGHT_MISSING, detail=detail)
    return None


def weight_bounds(youngest_days: int, oldest_days: int) -> tuple[int, int]:
    """Return least and most grams that are possible from one age to another, in days."""
    least = [row for row in WEIGHT_BOUNDS if _days(row[0]) <= youngest_days]
    most = [row for row in WEIGHT_BOUNDS if _days(row[0]) <= oldest_days]
    return least[-1][1], most[-1][2]


def report_unsettled(
    problem: Problem, found: Sequence[tuple[Patient, Sequence[Order], Unsettled]], report: Report
) -> None:
    """Say what must be settled: one finding for a patient, but one for the whole list where nobody's age is known."""
    without_age = [(p, orders) for p, orders, question in found if question.reason is Reason.AGE_UNKNOWN]
    if without_age and not _knows_any_birth_date(problem):
        wards = ", ".join(sorted({patient.ward for patient, _ in without_age if patient.ward}))
        where = f" on {wards}" if wards else ""
        message = (
            f"no row of the list has a birth date: {len(without_age)} patients are set aside, because an unknown age "
            f"is never taken for an adult's. One decision settles it: if there are no children{where}, plan again with "
            "--adults-only, or name the wards under blood.adult_wards in the policy; else add birth dates"
        )
        ids = sorted(order.id for _, orders in without_age for order in orders)
        report.add(CODE[Reason.AGE_UNKNOWN], Severity.ERROR, message, source=without_age[0][1][0].source, order_ids=ids)
        found = [entry for entry in found if entry[2].reason is not Reason.AGE_UNKNOWN]
    for patient, orders, question in found:
        ids = sorted(order.id for order in orders)
        message = f"bed {problem.place_name(patient.bed)}: {question.detail}"
        report.add(CODE[question.reason], Severity.ERROR, message, source=orders[0].source, order_ids=ids)


def _knows_any_birth_date(problem: Problem) -> bool:
    return any(patient.birth_date is not None for patient in problem.patients.values())


def _impossible(problem: Problem, patient: Patient) -> tuple[int, int] | None:
    """Return the bounds of the weight where it lies outside them at every age that the birth date allows."""
    day = problem.clock.day
    youngest, oldest = patient.youngest_days(day), patient.oldest_days(day)
    if patient.weight_g is None or youngest is None or oldest is None:
        return None
    least_g, most_g = weight_bounds(youngest, oldest)
    return None if least_g <= patient.weight_g <= most_g else (least_g, most_g)


def _days(months: int) -> int:
    """Return the days of a number of months, rounded up."""
    return -(-months * _DAYS_PER_MONTH_X10000 // 10_000)
