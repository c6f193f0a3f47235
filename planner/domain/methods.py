"""How blood is taken from a patient: from a vein, from the skin, by the ward; and where nobody has decided."""

from __future__ import annotations

from datetime import date

from planner.domain.orders import NEONATE_UNDER_DAYS, Method, Patient
from planner.domain.patients.weights import NEONATE_WEIGHT_BELOW_G
from planner.domain.policy import BloodPolicy, NeonateMethod

_BY_POLICY = {
    NeonateMethod.VENOUS: Method.VENOUS,
    NeonateMethod.CAPILLARY: Method.CAPILLARY,
    NeonateMethod.WARD: Method.WARD,
    NeonateMethod.DECISION: None,
}


def is_neonate(patient: Patient, on: date) -> bool:
    """Return whether a patient is, or may be, under 28 days old on a day; without a birth date by the weight."""
    days = patient.youngest_days(on)
    if days is None:
        return patient.weight_g is not None and patient.weight_g < NEONATE_WEIGHT_BELOW_G
    return days < NEONATE_UNDER_DAYS


def method_of(patient: Patient, on: date, policy: BloodPolicy) -> Method | None:
    """Return how blood is taken: as the patient's row says, else of a neonate as the policy says, else from a vein.

    None: a neonate of whom neither says it, so that a person decides.
    """
    if patient.method is not None:
        return patient.method
    return _BY_POLICY[policy.neonate_method] if is_neonate(patient, on) else Method.VENOUS
