"""Finds the patient whom a person means by a patient number or by the number of one of their orders."""

from __future__ import annotations

from collections.abc import Mapping

from planner.domain.order_numbers import find_order
from planner.domain.orders import OrderId, Patient, PatientId


def find_patient(
    patients: Mapping[PatientId, Patient], patient_of: Mapping[OrderId, PatientId], text: str
) -> Patient | None:
    """Return the patient of a patient number, else of an order number; None: neither, or several.

    Case and lost leading zeros do not count where the number is clear without them.
    """
    wanted = text.strip().casefold()
    for number in (str.casefold, _without_zeros):
        found = [patient for patient in patients.values() if number(patient.id) == number(wanted)]
        if found:
            return found[0] if len(found) == 1 else None
    order_id = find_order(patient_of, text)
    return None if order_id is None else patients.get(patient_of[order_id])


def _without_zeros(text: str) -> str:
    return text.casefold().lstrip("0")
