"""How important a test is stands in a table of its own, and a site may set it."""

from __future__ import annotations

import csv
from importlib.resources import files

from planner.domain.catalogue import Importance, TestCode
from planner.findings import Source
from planner.loaders.catalogue.load import SiteRow, load_catalogue


def site(**cells: str) -> SiteRow:
    return SiteRow(cells=cells, source=Source(file="tests.csv", row=2))


def test_a_site_sets_the_importance_of_a_test() -> None:
    catalogue, findings = load_catalogue([site(test="ZN", importance="Acute")])
    assert findings == []
    assert catalogue.tests[TestCode("ZN")].importance is Importance.ACUTE
    assert load_catalogue()[0].tests[TestCode("ZN")].importance is Importance.LATER


def test_a_word_that_is_none_is_refused() -> None:
    catalogue, findings = load_catalogue([site(test="ZN", importance="urgent")])
    assert [f.code for f in findings] == ["catalogue-row-refused"]
    assert catalogue.tests[TestCode("ZN")].importance is Importance.LATER


def test_the_table_names_tests_once_each_row_with_a_reason() -> None:
    rows = list(csv.DictReader((files("planner") / "laboratory" / "importance.csv").read_text().splitlines()))
    assert [row["importance"] for row in rows] == [importance.value for importance in Importance]
    named = [code for row in rows for code in row["tests"].split()]
    catalogue = load_catalogue()[0]
    sections = {test.section for test in catalogue.tests.values()}
    assert len(named) == len(set(named)) and set(named) <= set(catalogue.tests)
    for row in rows:
        assert row["reason"] and row["source"]
        assert {part for part in row["sections"].split(";") if part} <= sections
