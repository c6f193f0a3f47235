"""Rows of totals at the end of an exported list: told from orders, so that nobody has to decide about them."""

from __future__ import annotations

import re
from collections.abc import Iterable

from planner.loaders.tables.records import Record
from planner.loaders.values.fields import word

_TOTAL = re.compile(
    r"^(?:(?:grand|sub)[ -]?total|totals?|sum|summe|gesamt(?:summe|zahl)?|anzahl(?: auftrage)?|zwischensumme|count|"
    r"row count|record count|number of (?:orders|rows|records|tests)|total(?: number)?(?: of)? "
    r"(?:orders|rows|records|tests|patients|requests)|somme|nombre(?: total)?|total general|cantidad|suma)"
    r"\s*[:=]?\s*(?P<number>\d[\d.,' ]*)?$"
)
_NUMBER = re.compile(r"^\d[\d.,' ]*$")


def are_totals(record: Record, shapes: frozenset[str]) -> bool:
    """Return whether a row is clearly one of totals and no order.

    One cell must say so, every other must be a bare number, and none may be an order number of the shape that
    the other rows' have (``shapes``), a patient, a bed or a date.
    """
    if record.flags or not record.values:
        return False
    cells = {name: word(text) for name, text in record.values.items()}
    said = {name for name, text in cells.items() if _TOTAL.match(text)}
    if not said or any(name not in said and not _NUMBER.match(text) for name, text in cells.items()):
        return False
    if "bed" in cells or ("patient_number" in cells and "patient_number" not in said):
        return False
    number = record.text("order_number")
    return not number or "order_number" in said or shape(number) not in shapes


def shape(number: str) -> str:
    """Return what an order number looks like: 'AL1001' is 'A9', '0017-3' is '9-9'."""
    return re.sub(r"[^\W\d_]+", "A", re.sub(r"\d+", "9", number))


def shapes_of(records: Iterable[Record]) -> frozenset[str]:
    """Return the shapes of the order numbers of rows that name a patient."""
    return frozenset(
        shape(record.text("order_number"))
        for record in records
        if record.text("order_number") and record.text("patient_number")
    )
