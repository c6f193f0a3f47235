"""Who counts as a newborn, a child or an adult, and which weights can be: from the rule book, by the calendar."""

from __future__ import annotations

from datetime import date, timedelta

from planner.domain.orders import Patient
from planner.domain.patients.births import BirthDate
from planner.domain.patients.weights import WEIGHT_BOUNDS
from planner.domain.policy import BloodPolicy

CHILD_YEARS = 14
NEWBORN_DAYS = 28
NEWBORN_G = 5_800
LIGHT_G = 40_000


def is_under(policy: BloodPolicy, patient: Patient, years: int, today: date) -> bool:
    """Return whether the rules for patients under an age apply: until the birthday, or where no age is known."""
    if patient.birth_date is None:
        return counts_as(policy, patient) != "adult"
    year, month, day = _last_day(patient.birth_date)
    return (year + years, month, day) > (today.year, today.month, today.day)


def counts_as(policy: BloodPolicy, patient: Patient) -> str:
    """Return ``child``, ``adult`` or ``open`` for a patient without birth date."""
    if patient.weight_g is not None and patient.weight_g < LIGHT_G:
        return "child"
    for wards, group in ((policy.child_wards, "child"), (policy.adult_wards, "adult")):
        if "*" in wards or patient.ward in wards:
            return group
    return "open"


def way_of_collection(policy: BloodPolicy, patient: Patient, today: date) -> str:
    """Return ``venous``, ``capillary`` or ``ward``, or ``open`` for a newborn of whom nobody has said it."""
    if patient.method is not None:
        return patient.method.value
    if not may_be_newborn(patient, today):
        return "venous"
    said = policy.neonate_method.value
    return "open" if said == "decision" else said


def may_be_newborn(patient: Patient, today: date) -> bool:
    """Return whether a patient is, or may be, under 28 days old; a light one without birth date may be."""
    if patient.birth_date is None:
        return patient.weight_g is not None and patient.weight_g < NEWBORN_G
    return may_be_born_after(patient, today - timedelta(days=NEWBORN_DAYS))


def may_be_born_after(patient: Patient, day: date) -> bool:
    """Return whether a patient was, or may have been, born after a day."""
    return patient.birth_date is not None and _last_day(patient.birth_date) > (day.year, day.month, day.day)


def weight_bounds_g(patient: Patient, today: date) -> tuple[int, int] | None:
    """Return least and most grams at the ages that a birth date allows; None when no birth date is known."""
    if patient.birth_date is None:
        return None
    least = most = 0
    for months, least_g, most_g in WEIGHT_BOUNDS:
        # A month has 30.4375 days: whoever was born on or before this day is so many months old.
        border = today - timedelta(days=-(-months * 487 // 16))
        limit = (border.year, border.month, border.day)
        last, first = min(_last_day(patient.birth_date), (today.year, today.month, today.day)), _first_day(patient)
        least = least_g if last <= limit else least
        most = most_g if first <= limit else most
    return least, most


def _last_day(born: BirthDate) -> tuple[int, int, int]:
    """Return year, month and day of the youngest age: of a month or year alone the day before the next one begins."""
    if isinstance(born, date):
        return born.year, born.month, born.day
    month = born.month or 12
    last = date(born.year + month // 12, month % 12 + 1, 1) - timedelta(days=1)
    return last.year, last.month, last.day


def _first_day(patient: Patient) -> tuple[int, int, int]:
    born = patient.birth_date
    assert born is not None
    if isinstance(born, date):
        return born.year, born.month, born.day
    return born.year, born.month or 1, 1
