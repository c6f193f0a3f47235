"""Codes in orders: what fits one test leads to it, what fits several asks; a site decides a doubtful code."""

from __future__ import annotations

import csv
from datetime import date
from io import StringIO

import pytest

from planner.domain.plan import Reason
from planner.findings import Severity, Source
from planner.loaders.catalogue.everyday_names import TestCodes
from planner.loaders.catalogue.load import SiteRow, load_catalogue, read_laboratory_text

CATALOGUE = load_catalogue()[0]
CODES = TestCodes(CATALOGUE)
ROWS = list(csv.DictReader(StringIO(read_laboratory_text("codes.csv"))))
DAY = date(2026, 3, 4)
GOOD = "A1,0000123,Okafor,Ada,1960-05-31,4,2345-7,routine,"


def luhn_sum(digits: str) -> int:
    """Return the sum of the Luhn rule (ISO/IEC 7812-1), which the mod-10 rule of LOINC is in other words."""
    doubled = [int(d) * (2 if place % 2 else 1) for place, d in enumerate(reversed(digits))]
    return sum(n // 10 + n % 10 for n in doubled)


def test_list_of_codes_is_sound() -> None:
    assert [row["loinc"] for row in ROWS if luhn_sum(row["loinc"].replace("-", "")) % 10] == []
    assert len({row["loinc"] for row in ROWS}) == len(ROWS)
    for row in ROWS:
        tests = row["tests"].split(";")
        assert set(tests) <= set(CATALOGUE.tests), row
        assert bool(row["ask"]) == (len(tests) > 1), row
        assert row["loinc_name"] and row["verified"] in ("seen", "memory"), row


def test_no_listed_code_contradicts_the_code_of_a_test() -> None:
    own = {test.loinc: code for code, test in CATALOGUE.tests.items() if test.loinc}
    assert [
        row["loinc"] for row in ROWS if row["loinc"] in own and own[row["loinc"]] not in row["tests"].split(";")
    ] == []


@pytest.mark.parametrize(
    ("code", "test"),
    [
        (" cbc ", "CBC"), ("2823-3", "POT"), ("777-3", "PLT"), ("718-7", "HGB"), ("2075-0", "CHLOR"),
        ("2028-9", "HCO3"), ("1963-8", "HCO3"), ("22664-7", "UREA"), ("3091-6", "UREA"), ("14682-9", "CREA"),
        ("14749-6", "GLU"), ("15074-8", "GLU"), ("2000-8", "CALC"), ("6301-6", "PT"), ("59260-0", "HGB"),
        ("26515-7", "PLT"), ("600-7", "BC"), ("882-1", "ABO"), ("1507-3", "OGTT75"), ("30552-4", "VITB6"),
    ],
)  # fmt: skip
def test_everyday_code_leads_to_its_test(code: str, test: str) -> None:
    # 777-3 is the platelet count of a blood count in EDTA, not the citrate tube for clumping: a code that went there
    # cost a tube and gave a count diluted by a tenth.
    meaning = CODES.meaning(code)
    assert meaning is not None
    assert meaning.sure == test


@pytest.mark.parametrize(
    ("code", "tests"),
    [
        ("14979-9", "APTT APTTH"), ("2143-6", "CORT CORTAM STIM250"), ("20578-1", "VANCT VANCP VANCR"),
        ("35668-3", "GENTT GENTP GENTX"), ("35669-1", "AMIKT AMIKP AMIKX"), ("35670-9", "TOBRT TOBRP TOBRX"),
    ],
)  # fmt: skip
def test_code_that_fits_several_tests_asks(code: str, tests: str) -> None:
    meaning = CODES.meaning(code)
    assert meaning is not None
    assert (meaning.sure, meaning.tests) == (None, tuple(tests.split()))
    assert meaning.ask


def test_unknown_or_empty_code_means_nothing() -> None:
    assert CODES.meaning("") is CODES.meaning("XYZ") is CODES.meaning("99999-9") is None


def test_a_site_decides_a_doubtful_code_by_giving_it_to_one_test() -> None:
    def row(**cells: str) -> SiteRow:
        return SiteRow(cells=cells, source=Source(file="tests.csv", row=2))

    site, findings = load_catalogue([row(test="GENTX", loinc="35668-3")])
    assert findings == []
    gentamicin = TestCodes(site).meaning("35668-3")
    assert gentamicin is not None
    assert gentamicin.sure == "GENTX"
    both, _ = load_catalogue([row(test="SOD", loinc="2823-3")])
    shared = TestCodes(both).meaning("2823-3")
    assert shared is not None
    assert (shared.sure, set(shared.tests)) == (None, {"POT", "SOD"})


def test_doubtful_code_is_set_aside_with_the_candidates(load_rows) -> None:
    loaded = load_rows(GOOD, GOOD.replace("A1", "A2").replace("2345-7", "14979-9"), round_date=DAY)
    (aside,) = loaded.problem.set_aside
    assert (aside.order_id, aside.reason) == ("A2", Reason.UNKNOWN_TEST)
    (finding,) = [f for f in loaded.findings if f.severity is Severity.ERROR]
    assert finding.code == "test-unclear"
    assert "APTT (" in finding.message and "APTTH (" in finding.message


def test_name_beside_a_doubtful_code_decides_it(load_rows) -> None:
    head = "order_number,patient_number,bed,test,test name"
    loaded = load_rows("A1,1,4,35668-3,Gentamicin trough", head=head, round_date=DAY)
    assert [order.test for order in loaded.problem.orders] == ["GENTT"]
