"""Finds the order, or the patient, whose number a person wrote or read out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches

from planner.domain.orders import OrderId, Patient, PatientId


def find_order(order_ids: Iterable[OrderId], text: str) -> OrderId | None:
    """Return the one order whose number is the text, case and lost leading zeros aside; None: none, or several."""
    ids = set(order_ids)
    for same in (str, str.casefold, _without_zeros):
        found = [order_id for order_id in ids if same(order_id) == same(text.strip())]
        if len(found) == 1:
            return found[0]
    return None


def nearest_orders(order_ids: Iterable[OrderId], text: str) -> str:
    """Return a hint with the order numbers most like a text."""
    close = get_close_matches(text.strip(), sorted(set(order_ids)), n=3, cutoff=0.6)
    return f"nearest: {', '.join(close)}" if close else "look at the sheet for its number"


def _without_zeros(text: str) -> str:
    return text.casefold().lstrip("0")


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
