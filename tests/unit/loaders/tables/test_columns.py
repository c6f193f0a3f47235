"""Columns: synonyms of headings, what is not used and says so, sheets that lack a column."""

from __future__ import annotations

from datetime import date, time

import pytest

from planner.findings import Severity
from planner.loaders.tables.headings import column_named, nearest_column

DAY = date(2026, 3, 4)
GOOD = "A1,0000123,Okafor,Ada,1960-05-31,4,CBC,routine,"
HEAD = "order_number,patient_number,family_name,given_name,birth_date,bed,test,priority,collect_at"


@pytest.mark.parametrize(
    ("heading", "column"),
    [
        ("Med Rec #", "patient_number"), ("Med Rec No", "patient_number"), ("MRN", "patient_number"),
        ("Nurse Unit", "ward"), ("Patient Location", "bed"), ("Patient Location / Room-Bed", "bed"), ("Rm/Bed", "bed"),
        ("Order Comments", "note"), ("Comments", "note"), ("Remarks", "note"), ("Allergies", "allergies"),
        ("Pt Name", "patient_name"), ("Patient Location Unit", "ward"),
    ],
)  # fmt: skip
def test_heading_is_known(heading, column):
    assert column_named("orders", heading) == column


@pytest.mark.parametrize(
    ("heading", "column"),
    [("Colection time", "collect_at"), ("Patient location (current)", "bed"), ("Priorty", "priority"), ("Shoe", None)],
)
def test_nearest_column(heading, column):
    assert nearest_column("orders", heading) == column


def test_allergies_are_alerts(load_rows):
    loaded = load_rows(
        f"{GOOD},latex; penicillin", f"{GOOD.replace('A1', 'A2').replace('0123', '0124').replace(',4,', ',5,')},NKDA",
        head=f"{HEAD},Allergies", round_date=DAY,
    )  # fmt: skip
    alerts = [p.alerts for p in loaded.problem.patients.values()]
    assert alerts[0][:2] == ("allergy: latex", "allergy: penicillin")
    assert not any("NKDA" in alert for alert in alerts[1])


def extras(loaded, severity):
    return [f.message for f in loaded.findings if f.code == "extra-columns" and f.severity is severity]


def test_unused_column_with_content_is_a_warning(load_rows):
    loaded = load_rows(f"{GOOD},blue,,x", head=f"{HEAD},Shoe,Hat,Colection date", round_date=DAY)
    (warning,) = extras(loaded, Severity.WARNING)
    assert "Shoe" in warning
    assert "Colection date (is it collect_date?)" in warning
    assert "Hat" not in warning
    assert extras(loaded, Severity.NOTE) == ["columns not used: Hat"]


def test_column_without_heading_is_not_lost_in_silence(load_rows):
    loaded = load_rows(f"{GOOD},blue,yes", head=f"{HEAD},,fasting", round_date=DAY)
    assert "the 10th (it has no heading)" in extras(loaded, Severity.WARNING)[0]
    assert loaded.problem.orders[0].fasting is True


def test_other_tables_only_note_their_unused_columns(load_folder):
    loaded = load_folder(
        {"orders.csv": f"{HEAD}\n{GOOD}\n", "staff.csv": "name,from,until,shoe\nJo Lind,05:00,09:00,blue\n"},
        round_date=DAY,
    )
    assert extras(loaded, Severity.WARNING) == []
    assert len(extras(loaded, Severity.NOTE)) == 1


def test_sheet_that_lacks_a_column_is_not_called_unknown(load_text):
    loaded = load_text("order_number,Patient Ref,bed,test\nA1,1,4,CBC\n")
    codes = [f.code for f in loaded.findings]
    assert "missing-column" in codes
    assert "unknown-table" not in codes
    message = next(f.message for f in loaded.findings if f.code == "missing-column")
    assert "not understood: Patient Ref" in message


def test_sheet_that_looks_like_an_order_list_is_told_what_it_lacks(load_book):
    sheets = {
        "Blatt 1": [["order number", "bed", "priority", "test"], ["A1", "4", "", "CBC"]],
        "Blatt 2": [["x"], ["y"]],
    }
    loaded = load_book(sheets, round_date=DAY)
    found = {f.code: f.source.sheet for f in loaded.findings}
    assert found["missing-column"] == "Blatt 1"
    assert found["unknown-table"] == "Blatt 2"


STAFF = {"orders.csv": f"{HEAD}\n{GOOD}\n", "staff.csv": "name,from,until\nJo Lind,05:00,09:00\n"}


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"num_phlebotomists": 3}, ["--phlebotomists 3 was not used: the staff table has 1 person"]),
        ({"start": time(4, 30)}, ["--start 04:30 was not used: the first shift of the staff table begins at 05:00"]),
        ({"num_phlebotomists": 1}, []), ({"start": time(6, 0)}, []), ({"start": time(5, 0)}, []), ({}, []),
    ],
)  # fmt: skip
def test_option_that_the_staff_table_overrules_is_said(load_folder, options, words):
    loaded = load_folder(STAFF, round_date=DAY, **options)
    found = [f for f in loaded.findings if f.code == "option-not-used"]
    assert len(found) == len(words)
    assert all(f.severity is Severity.WARNING and w in f.message for f, w in zip(found, words, strict=True))
