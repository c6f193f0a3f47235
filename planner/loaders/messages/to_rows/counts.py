"""How many draws of its test a request asks for: by a quantity field, or by words such as 'Blood culture x2'."""

from __future__ import annotations

from dataclasses import replace

from planner.loaders.catalogue.counts import MOST, split_count
from planner.loaders.messages.common.request import Quantity, Request
from planner.loaders.messages.common.texts import tidy
from planner.loaders.tables.records import Record

_PIECES = frozenset({"", "1", "EA", "EACH", "{EACH}", "SET", "SETS", "{SET}"})
"""Units that mean a number of draws (UCUM 1 and {each}; the words as messages write them)."""


def count_of(request: Request) -> tuple[int, Quantity] | None:
    """Return how many draws are asked for, and where that stands; None for one. 0: a quantity that is no number."""
    quantity = request.quantity
    if quantity.amount and quantity.amount.removesuffix(".0") != "1":
        is_whole = quantity.amount.removesuffix(".0").isdecimal() and quantity.unit.upper() in _PIECES
        number = int(quantity.amount.removesuffix(".0")[:9]) if is_whole else 0
        return number if number <= MOST else 0, quantity
    words = tidy(request.test_words)
    split = split_count(words) if words else None
    return (split[1], Quantity(words, "", request.headings.get("test", ""))) if split and split[1] > 1 else None


def as_sets(records: list[Record], number: int, series: str) -> list[Record]:
    """Return each record so many times, as orders of one series numbered from 1."""
    found = []
    for record in records:
        own = record.text("order_number")
        for index in range(1, number + 1):
            values = {**record.values, "order_number": f"{own}.{index}", "series": record.text("series") or series}
            found.append(replace(record, values=values))
    return found
