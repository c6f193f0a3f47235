"""Tests that the words on a patient turn into another way of drawing them: uric acid under rasburicase goes on ice."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import lru_cache

from planner.domain.beds import PlaceNames
from planner.domain.catalogue import Catalogue, TestCode
from planner.domain.orders import Order, Patient, PatientId
from planner.domain.phrases import Phrase, is_denied, words_of
from planner.findings import Report, Severity
from planner.loaders.catalogue.load import read_laboratory_text


@lru_cache(maxsize=1)
def _turns() -> tuple[tuple[tuple[Phrase, ...], Mapping[str, TestCode]], ...]:
    """Return the phrases of the table of alert words that turn tests, and each test with what it becomes."""
    rows = csv.DictReader(read_laboratory_text("alert_words.csv").splitlines())
    return tuple(
        (
            tuple(words_of(phrase) for phrase in row["words"].split(";")),
            {test: TestCode(to) for test, _, to in (pair.partition(">") for pair in row["becomes"].split())},
        )
        for row in rows
        if row["becomes"]
    )


def as_words_ask(order: Order, texts: Iterable[str], catalogue: Catalogue) -> Order:
    """Return the order for the test that texts on its patient turn its test into; a denied word turns nothing."""
    said = tuple(texts)
    for phrases, becomes in _turns():
        to = becomes.get(order.test)
        if to is not None and to in catalogue.tests and any(is_denied(phrases, text) is False for text in said):
            return replace(order, test=to, stands_for=order.ordered_test)
    return order


def report_chilled(
    patients: Mapping[PatientId, Patient], planned: Iterable[Order], name: PlaceNames, report: Report
) -> None:
    """Report each patient of whom a test was turned: a person decides with the laboratory that it takes it so."""
    turned: dict[PatientId, list[Order]] = {}
    for order in planned:
        if order.stands_for is not None:
            turned.setdefault(order.patient_id, []).append(order)
    for patient_id, orders in turned.items():
        message = (
            f"bed {name(patients[patient_id].bed)}: {orders[0].stands_for} of a patient on rasburicase is planned as "
            f"{orders[0].test}, in a tube of its own, chilled and on ice at once. Decide with the laboratory before "
            "the round, and take the chilled tube and the cold pack along"
        )
        ids = [order.id for order in orders]
        report.add("chilled-by-alert", Severity.WARNING, message, source=orders[0].source, order_ids=ids)
