"""An order typed into one cell, and a second column of tests: nothing of them is lost without a decision."""

from __future__ import annotations

from datetime import date

import pytest

from planner.findings import Severity, unread
from planner.loaders import LoadOptions, load

HEAD = "order_number,patient_number,family_name,birth_date,ward,bed,test,priority"
ROWS = (
    "A1,0000417,Moss,1952-03-09,Elm,3A,CBC,routine",
    "A2,0000418,Fell,1961-07-01,Fir,3A,BMP,stat",
    "A3,0000419,Hill,1948-02-11,Elm (North),12,TSH,routine",
)


def loaded(folder, *lines, head=HEAD, sep=","):
    (folder / "orders.csv").write_text("\n".join([head, *lines]) + "\n")
    return load(folder, LoadOptions(round_date=date(2026, 3, 10)))


def typed(folder, text, *, above=False):
    cell = f'"{text}"' if above else f'"{text}",,,,,,,'
    lines = ROWS if above else (*ROWS, cell)
    return loaded(folder, *lines, head=f"{cell}\n{HEAD}" if above else HEAD)


ORDERS = (
    "please also 0000418",
    "Elm 3A at six",
    "fir, bed 3A: see note",
    "Elm (North) 12 too",
    "bed 12 as well",
    "add potassium, thanks",
)


@pytest.mark.parametrize("text", ORDERS)
def test_a_cell_that_names_a_patient_a_bed_or_a_test_needs_a_decision(tmp_path, text):
    found = [f for f in unread(typed(tmp_path, text).findings) if f.code == "text-row"]
    assert len(found) == 1
    assert "row 5" in found[0].message
    assert text not in found[0].message


@pytest.mark.parametrize("text", ORDERS[:5])
def test_a_title_that_names_a_patient_or_a_bed_needs_a_decision(tmp_path, text):
    assert "text-row" in {f.code for f in unread(typed(tmp_path, text, above=True).findings)}


FOOTERS = (
    "End of list - 3 orders", "Page 1 of 2", "Printed 10.03.2026 04:10 by Kim", "Total: 3", "Elm and Fir, night list",
    "*** end of report ***", "Seite 1 von 3", "Confidential: destroy after use", "3 patients on 2 wards", "v1.2 (417)",
)  # fmt: skip


@pytest.mark.parametrize("above", [False, True])
@pytest.mark.parametrize("text", FOOTERS)
def test_a_plain_footer_or_title_needs_no_decision(tmp_path, text, above):
    assert not unread(typed(tmp_path, text, above=above).findings)


def ordered(result):
    return sorted(str(o.test) for o in result.problem.orders)


def test_a_second_column_of_tests_orders_too_and_needs_a_decision(tmp_path):
    lines = [f"{ROWS[0]},BMP", f"{ROWS[1]},bmp", f"{ROWS[2]},"]
    result = loaded(tmp_path, *lines, head=f"{HEAD},test")
    assert ordered(result) == ["BMP", "BMP", "CBC", "TSH"]
    found = [f for f in unread(result.findings) if f.code == "heading-twice"]
    assert len(found) == 1
    assert "row 2" in found[0].message and "row 3" not in found[0].message


def test_a_second_column_with_another_name_of_the_same_test_needs_no_decision(tmp_path):
    lines = [f"{ROWS[0]},Full blood count", f"{ROWS[1]},Basic metabolic panel", f"{ROWS[2]},"]
    result = loaded(tmp_path, *lines, head=f"{HEAD},lab test")
    assert ordered(result) == ["BMP", "CBC", "TSH"]
    assert not unread(result.findings)
    assert "heading-twice" in {f.code for f in result.findings}


def test_a_second_column_of_words_that_are_no_test_needs_a_decision_and_costs_no_order(tmp_path):
    result = loaded(tmp_path, f"{ROWS[0]},Zweites", *ROWS[1:], head=f"{HEAD},test")
    assert ordered(result) == ["BMP", "CBC", "TSH"]
    assert "heading-twice" in {f.code for f in unread(result.findings)}


def test_an_empty_cell_is_filled_from_the_second_column(tmp_path):
    lines = ["A1,0000417,Moss,1952-03-09,Elm,3A,,routine,CBC", f"{ROWS[1]},"]
    result = loaded(tmp_path, *lines, head=f"{HEAD},test")
    assert ordered(result) == ["BMP", "CBC"]
    assert not unread(result.findings)


@pytest.mark.parametrize(
    ("heading", "cell", "severity"),
    [
        ("urgency", "stat", Severity.ERROR),
        ("urgency", "Routine", Severity.WARNING),
        ("bed", "3B", Severity.ERROR),
        ("patient no", "0000419", Severity.ERROR),
        ("bed", "3/A", Severity.ERROR),
        ("bed", " 3a ", Severity.WARNING),
    ],
)
def test_two_columns_that_differ_in_a_row_need_a_decision(tmp_path, heading, cell, severity):
    result = loaded(tmp_path, f"{ROWS[0]},{cell}", *ROWS[1:], head=f"{HEAD},{heading}")
    assert [f.severity for f in result.findings if f.code == "heading-twice"] == [severity]
    assert not any("0000419" in f.message for f in result.findings)


def test_two_columns_of_remarks_need_no_decision(tmp_path):
    lines = [f"{row},left arm,seen" for row in ROWS]
    result = loaded(tmp_path, *lines, head=f"{HEAD},note,comments")
    assert not unread(result.findings)
