"""Alerts that ask for a chilled tube where the catalogue has none: uric acid of a patient on rasburicase."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from functools import lru_cache

from planner.domain.beds import PlaceNames
from planner.domain.catalogue import TestCode
from planner.domain.orders import Order, Patient, PatientId
from planner.domain.phrases import Phrase, is_denied, words_of
from planner.findings import Report, Severity
from planner.loaders.catalogue.load import read_laboratory_text

_CARE = "rasburicase"
"""The row of the table of alert words that asks for it."""


@lru_cache(maxsize=1)
def _row() -> tuple[tuple[Phrase, ...], frozenset[TestCode]]:
    """Return the phrases and the tests that they concern."""
    rows = csv.DictReader(read_laboratory_text("alert_words.csv").splitlines())
    row = next(row for row in rows if row["care"] == _CARE)
    phrases = tuple(words_of(phrase) for phrase in row["words"].split(";"))
    return phrases, frozenset(TestCode(code) for code in row["tests"].split())


def report_chilled(
    patients: Mapping[PatientId, Patient], planned: Iterable[Order], name: PlaceNames, report: Report
) -> None:
    """Report each patient whose alerts or notes ask for a chilled tube of an ordered test: a person decides.

    The plan carries the test as the catalogue says, perhaps in one tube with potassium, which must not be chilled.
    """
    phrases, tests = _row()
    notes: dict[PatientId, list[str]] = {}
    wanted: dict[PatientId, list[Order]] = {}
    for order in planned:
        notes.setdefault(order.patient_id, []).append(order.note)
        if order.test in tests:
            wanted.setdefault(order.patient_id, []).append(order)
    for patient_id, orders in wanted.items():
        patient = patients[patient_id]
        texts = [*patient.alerts, *patient.unmapped, *notes[patient_id]]
        if not any(is_denied(phrases, text) is False for text in texts):  # a denied word is asked about on the card
            continue
        message = (
            f"bed {name(patient.bed)}: {orders[0].test} of a patient on rasburicase needs a tube of its own, on ice at "
            "once; the plan carries it as usual, perhaps in one tube with potassium, which must not be chilled. The "
            "card says so. Decide with the laboratory before the round, and take the tube and the ice along"
        )
        ids = [order.id for order in orders]
        report.add("chilled-by-alert", Severity.WARNING, message, order_ids=ids)
