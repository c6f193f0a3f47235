"""Rows of totals at the end of an export are told from orders, and still listed."""

from __future__ import annotations

from datetime import date

import pytest

from planner.domain.plan import Reason
from planner.findings import Severity

DAY = date(2026, 3, 4)
GOOD = "A1,0000123,Okafor,Ada,1960-05-31,4,CBC,routine,"


@pytest.mark.parametrize(
    "row",
    ["Summe,,,,,,34,,", "Total,34,,,,,,,", ",Total,,,,,34,,", ",,,,,,Total: 34,1,", "Grand total,12,,,,,34,,",
     "Anzahl Aufträge,34,,,,,,,", "34,,,,,,Total,,", "Total orders: 34,34,,,,,,,"],
)  # fmt: skip
def test_totals_row_is_listed_and_needs_no_decision(load_rows, row):
    row = row.replace("Total,34,,", "Total,,34,,").replace("total,12,,", "total,,12,,")
    row = row.replace("Aufträge,34,,", "Aufträge,,34,,").replace("34,34,", "34,,34")
    loaded = load_rows(GOOD, row, round_date=DAY)
    (aside,) = loaded.problem.set_aside
    assert aside.reason is Reason.TOTALS_ROW
    assert not aside.reason.needs_decision
    assert aside.patient_id is None
    assert loaded.num_orders_read == 2
    assert {f.code for f in loaded.findings if f.severity is not Severity.NOTE} == set()
    assert "totals-row" in {f.code for f in loaded.findings}


@pytest.mark.parametrize(
    "row",
    ["A2,,,,,,Total,,", ",0000123,,,,,Total,,", "Total,0000123,Okafor,Ada,1960-05-31,4,CBC,routine,", "A2,,,,,,34,,",
     "Summe,,Summe,,,4,,,", "A2,0000123,Okafor,Ada,1960-05-31,4,Total protein,routine,"],
)  # fmt: skip
def test_row_that_may_be_an_order_is_not_taken_for_totals(load_rows, row):
    loaded = load_rows(GOOD, row, round_date=DAY)
    assert Reason.TOTALS_ROW not in {u.reason for u in loaded.problem.set_aside}
