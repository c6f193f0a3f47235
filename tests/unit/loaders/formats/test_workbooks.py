"""Workbooks: what cells really hold, hidden parts, and files that are no workbook."""

from __future__ import annotations

import re
import time
import zipfile
from datetime import date, datetime, timedelta
from datetime import time as clock
from pathlib import Path

import pytest
from openpyxl import Workbook
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from planner.domain.plan import Reason
from planner.loaders import LoadOptions, load
from planner.loaders.formats.cells import cell_text
from tests.helpers import codes

DAY = date(2026, 3, 4)
HEAD = ["order_number", "patient_number", "family_name", "birth_date", "bed", "test", "collect_at"]
ROW = ["A1", "0000123", "Okafor", "1960-05-31", "4", "CBC", None]
OTHER = ["A2", "77", "Brandt", "1970-06-30", "5", "TSH", None]


def changed(column: str, value: object) -> list[object]:
    row: list[object] = list(ROW)
    row[HEAD.index(column)] = value
    return row


def rewrite(path: Path, part: str, old: str, new: str) -> None:
    """Replace text inside one part of a workbook."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    text = parts[part].decode()
    assert re.search(old, text)
    parts[part] = re.sub(old, new, text, count=1).encode()
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)


def test_sheets_are_tables(load_book):
    loaded = load_book(
        {
            "Orders": [["order", "patient number", "test"], ["A1", "1", "CBC"]],
            "Patients": [["patient number", "name", "dob", "bed"], ["1", "Okafor, Ada", "1960-05-31", "4"]],
            "Staff": [["name", "from", "until"], ["Kim", clock(5), clock(8)]],
            "Policy": [["key", "value"], ["round.breakfast_at", "07:45"], ["round.phlebotomists", 2]],
            "Menu": [["soup"]],
        },
        round_date=DAY,
    )
    assert len(loaded.problem.orders) == 1
    assert loaded.problem.staff[0].until_s == 28_800
    assert loaded.problem.policy.round.breakfast_at_s == 27_900
    assert codes(loaded) == {"unknown-table"}
    assert "round.xlsx: Orders" in loaded.sources


def test_one_sheet_of_any_name_is_the_order_list(load_book):
    assert len(load_book({"Tabelle1": [HEAD, ROW]}, round_date=DAY).problem.orders) == 1


@pytest.mark.parametrize(
    ("value", "number_format", "text"),
    [
        (123, "0000000", "0000123"),
        (123, "General", "123"),
        (123.0, "0", "123"),
        (12345, '"P"000-000', "P012-345"),
        (1234567, "0000", "1234567"),
        (2.5, "0.00", "2.5"),
        (True, "General", "yes"),
        (clock(5, 30), "h:mm", "05:30"),
        (timedelta(hours=26), "[h]:mm", "26:00"),
        (datetime(1900, 1, 1), "h:mm", "24:00"),
        (datetime(1900, 1, 1, 1, 30), "h:mm", "25:30"),
        (datetime(2026, 3, 4), "yyyy-mm-dd", "2026-03-04"),
        (datetime(2026, 3, 4, 5, 29, 59, 999_000), "yyyy-mm-dd hh:mm", "2026-03-04 05:30:00"),
    ],
)
def test_cell_as_it_is_seen(value, number_format, text):
    assert cell_text(value, number_format, datetime(1899, 12, 30)) == (text, None)


def test_zeros_of_the_number_format(load_book):
    def seven_digits(book: Workbook) -> None:
        book["orders"]["B2"].number_format = "0000000"

    loaded = load_book({"orders": [HEAD, changed("patient_number", 123)]}, seven_digits, round_date=DAY)
    assert loaded.problem.orders[0].patient_id == "0000123"


def test_sixteen_digits_held_as_a_number(load_book):
    rows = [HEAD, changed("patient_number", 1234567890123456), OTHER]
    loaded = load_book({"orders": rows}, round_date=DAY)
    assert {u.order_id: u.reason for u in loaded.problem.set_aside} == {"A1": Reason.UNREADABLE}
    assert "long-number" in codes(loaded)


def test_error_cell(load_book):
    loaded = load_book({"orders": [HEAD, changed("test", "#N/A"), OTHER]}, round_date=DAY)
    assert {u.order_id: u.reason for u in loaded.problem.set_aside} == {"A1": Reason.UNREADABLE}
    assert "error-cell" in codes(loaded)


def test_formula_that_was_never_calculated(load_book):
    loaded = load_book({"orders": [HEAD, changed("test", '="C"&"BC"'), OTHER]}, round_date=DAY)
    assert {u.order_id: u.reason for u in loaded.problem.set_aside} == {"A1": Reason.UNREADABLE}
    (finding,) = [f for f in loaded.findings if f.code == "formula-not-calculated"]
    assert (finding.source.row, finding.source.column) == (2, "test")


@pytest.mark.parametrize(
    ("column", "value", "code"),
    [
        ("patient_number", 1234567890123456, "long-number"),
        ("test", "#N/A", "error-cell"),
        ("test", '="C"&"BC"', "formula-not-calculated"),
    ],
)
def test_doubtful_cell_of_a_second_column_that_fills_the_first(load_book, column, value, code):
    rows = [[*HEAD, column], [*changed(column, None), value], [*OTHER, None]]
    loaded = load_book({"orders": rows}, round_date=DAY)
    assert {u.order_id: u.reason for u in loaded.problem.set_aside} == {"A1": Reason.UNREADABLE}
    assert code in codes(loaded)


def test_doubtful_cell_of_a_second_column_that_is_not_needed_costs_no_order(load_book):
    rows = [[*HEAD, "bed"], [*ROW, '="4"&""'], [*OTHER, None]]
    loaded = load_book({"orders": rows}, round_date=DAY)
    assert not loaded.problem.set_aside


@pytest.mark.parametrize("value", [datetime(2026, 3, 4, 6, 15), clock(6, 15), "06:15", 46_085 + 6.25 / 24])
def test_times_in_cells(load_book, value):
    loaded = load_book({"orders": [HEAD, changed("collect_at", value)]}, round_date=DAY)
    assert loaded.problem.orders[0].collect_at_s == 22_500


@pytest.mark.parametrize(
    ("value", "code"), [(timedelta(hours=26), "time-over-a-day"), (datetime(1900, 1, 5, 6), "absurd-value")]
)
def test_times_that_cannot_be(load_book, value, code):
    loaded = load_book({"orders": [HEAD, changed("collect_at", value)]}, round_date=DAY)
    assert code in codes(loaded)
    assert not loaded.problem.orders


def test_1904_date_system(load_book):
    def mac(book: Workbook) -> None:
        book.epoch = CALENDAR_MAC_1904

    rows = [HEAD, changed("collect_at", datetime(2026, 3, 4, 6, 15)), [*OTHER[:6], 46_085 - 1462 + 6.25 / 24]]
    loaded = load_book({"orders": rows}, mac, round_date=DAY)
    assert [o.collect_at_s for o in loaded.problem.orders] == [22_500, 22_500]


def test_hidden_rows_and_sheets_are_read_and_said(load_book):
    def hide(book: Workbook) -> None:
        book["orders"].row_dimensions[3].hidden = True
        book["staff"].sheet_state = "hidden"

    staff = [["name", "from", "until"], ["Kim", "05:00", "08:00"]]
    loaded = load_book({"orders": [HEAD, ROW, OTHER], "staff": staff}, hide, round_date=DAY)
    assert len(loaded.problem.orders) == 2
    assert loaded.problem.staff[0].until_s == 28_800
    assert {"hidden-rows", "hidden-sheet"} <= codes(loaded)


def test_merged_title_above_two_row_headings(load_book):
    def merge(book: Workbook) -> None:
        book["orders"].merge_cells("A1:G1")
        book["orders"].merge_cells("B2:D2")

    rows = [
        ["Order list of the ward"],
        ["Order", "Patient", None, None, "Bed", "Test", "Collection"],
        ["number", "number", "surname", "date of birth", None, None, "time"],
        ROW,
    ]
    loaded = load_book({"orders": rows}, merge, round_date=DAY)
    assert loaded.problem.orders[0].patient_id == "0000123"
    assert "title-rows" in codes(loaded)


def test_declared_dimension_that_is_wrong(load_book, tmp_path):
    load_book({"orders": [HEAD, ROW, OTHER]}, round_date=DAY)
    rewrite(tmp_path / "round.xlsx", "xl/worksheets/sheet1.xml", r'<dimension ref="[^"]*"', '<dimension ref="A1"')
    assert len(load(tmp_path / "round.xlsx", LoadOptions(round_date=DAY)).problem.orders) == 2


def test_one_styled_cell_far_below_takes_no_time(load_book):
    def style(book: Workbook) -> None:
        book["orders"].cell(row=200_000, column=50).number_format = "0.00"

    started = time.perf_counter()
    loaded = load_book({"orders": [HEAD, ROW]}, style, round_date=DAY)
    assert loaded.num_orders_read == 1
    # reading every row up to there takes many seconds; a fraction of one is what 1,000 rows take
    assert time.perf_counter() - started < 2


def test_blank_rows_between_orders(load_book):
    rows = [HEAD, ROW, *([[None]] * 900), OTHER]
    assert load_book({"orders": rows}, round_date=DAY).problem.orders[1].source.row == 903


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


@pytest.mark.parametrize(
    ("name", "data", "code"),
    [
        ("a.xls", b"<html><table><tr><td>order</td></tr></table></html>", "web-page"),
        ("a.xls", b"order\tpatient\ttest\nA1\t1\tCBC\n", "text-as-workbook"),
        ("a.xlsx", b"order;patient;test\nA1;1;CBC\n", "text-as-workbook"),
        ("a.xls", OLE + bytes(500) + "Workbook".encode("utf-16-le"), "old-workbook"),
        ("a.xlsx", OLE + bytes(500) + "EncryptedPackage".encode("utf-16-le"), "encrypted-workbook"),
        ("a.csv", OLE + bytes(500) + "Workbook".encode("utf-16-le"), "old-workbook"),
        ("a.xlsx", b"PK\x03\x04" + bytes(200), "damaged-workbook"),
        ("a.xlsx", bytes(300), "damaged-workbook"),
    ],
)
def test_files_that_are_no_workbook(load_text, name, data, code):
    loaded = load_text(data, name=name, round_date=DAY)
    assert loaded.problem is None
    assert {code, "no-orders"} == codes(loaded)


def test_truncated_workbook(load_book, load_text, tmp_path):
    load_book({"orders": [HEAD, ROW]}, round_date=DAY)
    data = (tmp_path / "round.xlsx").read_bytes()
    for share in (0.3, 0.6, 0.95):
        assert "damaged-workbook" in codes(load_text(data[: int(len(data) * share)], name="cut.xlsx"))


def test_damaged_sheet(load_book, tmp_path):
    load_book({"orders": [HEAD, ROW]}, round_date=DAY)
    rewrite(tmp_path / "round.xlsx", "xl/worksheets/sheet1.xml", r"</row></sheetData>", "<")
    assert "damaged-workbook" in codes(load(tmp_path / "round.xlsx"))


def test_strict_open_xml(load_book, tmp_path):
    load_book({"orders": [HEAD, ROW]}, round_date=DAY)
    rewrite(
        tmp_path / "round.xlsx",
        "xl/workbook.xml",
        "http://schemas.openxmlformats.org/spreadsheetml/2006/main",
        "http://purl.oclc.org/ooxml/spreadsheetml/main",
    )
    assert "strict-workbook" in codes(load(tmp_path / "round.xlsx"))


@pytest.mark.parametrize("part", ["word/document.xml", "xl/workbook.bin", "content.xml"])
def test_other_documents(load_text, tmp_path, part):
    with zipfile.ZipFile(tmp_path / "x.zip", "w") as archive:
        archive.writestr("[Content_Types].xml" if part != "content.xml" else "mimetype", "x")
        archive.writestr(part, "x")
    loaded = load_text((tmp_path / "x.zip").read_bytes(), name="a.xlsx")
    assert "other-workbook" in codes(loaded)


def test_workbook_that_unpacks_to_too_much(load_book, tmp_path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("planner.loaders.formats.workbook_kind.MAX_UNPACKED_BYTES", 100)
    assert "huge-workbook" in codes(load_book({"orders": [HEAD, ROW]}, round_date=DAY))


def test_workbook_named_csv_is_read(load_book, load_text, tmp_path):
    load_book({"orders": [HEAD, ROW]}, round_date=DAY)
    loaded = load_text((tmp_path / "round.xlsx").read_bytes(), name="list.csv", round_date=DAY)
    assert loaded.num_orders_read == 1
