"""Whom the rules take for a child or an adult; an unknown age is never an adult's.

The limits by weight go to `BloodPolicy.child_under_years`; tube sizes, time at the bed and the cap for one draw to
`CHILD_UNDER_YEARS`. A birth date of which only month or year is known stands for the youngest age that it allows.
"""

from __future__ import annotations

from planner.domain.orders import CHILD_UNDER_YEARS, Patient
from planner.domain.policy import EVERYBODY
from planner.domain.problem import Problem

CHILD_WEIGHT_BELOW_G = 40_000
"""Without a birth date, a weight below this means the rules for children (our choice, after the WHO curves)."""


def has_child_rules(problem: Problem, patient: Patient) -> bool:
    """Return whether a patient without birth date gets the rules for children: by weight, else by ward."""
    is_light = patient.weight_g is not None and patient.weight_g < CHILD_WEIGHT_BELOW_G
    return is_light or _is_in(patient.ward, problem.policy.blood.child_wards)


def is_age_open(problem: Problem, patient: Patient) -> bool:
    """Return whether nothing tells a child from an adult, so that a person decides (rule ``age-known``)."""
    if patient.birth_date is not None or has_child_rules(problem, patient):
        return False
    return not _is_in(patient.ward, problem.policy.blood.adult_wards)


def is_child(problem: Problem, patient: Patient) -> bool:
    """Return whether a patient gets a child's tube sizes, time at the bed and cap for one draw: under 14 years."""
    return _is_under(problem, patient, CHILD_UNDER_YEARS)


def is_limited(problem: Problem, patient: Patient) -> bool:
    """Return whether the limits by weight apply: under the age that the policy states."""
    return _is_under(problem, patient, problem.policy.blood.child_under_years)


def _is_under(problem: Problem, patient: Patient, years: int) -> bool:
    age = patient.age_years(problem.clock.day)
    if age is not None:
        return age < years
    return has_child_rules(problem, patient) or is_age_open(problem, patient)


def _is_in(ward: str, wards: tuple[str, ...]) -> bool:
    return ward in wards or EVERYBODY in wards
