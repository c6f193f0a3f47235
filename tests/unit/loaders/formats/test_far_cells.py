"""What is easily passed over: rows far below, formulas with an empty text, lists under other names, the policy day."""

from __future__ import annotations

import time
import zipfile
from datetime import date
from pathlib import Path

import pytest
from openpyxl.styles import Font

from planner.loaders import LoadOptions, load
from planner.loaders.formats.sheet_xml import look
from tests.helpers import codes

DAY = date(2026, 3, 4)
HEAD = ["order_number", "patient_number", "bed", "test"]
TEXT = "order_number,patient_number,bed,test\nA1,1,4,CBC\n"


def test_rows_below_many_blank_ones_are_read(load_book):
    def change(book):
        for column, value in enumerate(["A2", "2", "5", "TSH"], start=1):
            book["Orders"].cell(3000, column, value)

    loaded = load_book({"Orders": [HEAD, ["A1", "1", "4", "CBC"]]}, change, round_date=DAY)
    assert [(o.id, o.source.row) for o in loaded.problem.orders] == [("A1", 2), ("A2", 3000)]


def test_a_styled_cell_at_the_bottom_is_cheap(load_book):
    def change(book):
        book["Orders"].cell(1_048_576, 1).font = Font(bold=True)

    begin = time.perf_counter()
    loaded = load_book({"Orders": [HEAD, ["A1", "1", "4", "CBC"]]}, change, round_date=DAY)
    assert len(loaded.problem.orders) == 1
    assert time.perf_counter() - begin < 5


@pytest.mark.parametrize(
    ("xml", "expected"),
    [
        ('<row r="2"><c r="A2"><v>1</v></c></row><row r="9"><c r="A9" s="1"/></row>', 2),
        ('<x:row r="7"><x:c r="A7" t="inlineStr"><x:is><x:t>a</x:t></x:is></x:c></x:row><x:row r="8"/>', 7),
        ("<row><c><v>1</v></c></row><row><c><f>1+1</f></c></row><row/>", 2),
        ("<row/>", 0),
    ],
)
def test_last_filled_row(tmp_path, xml, expected):
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("s.xml", f"<sheetData>{xml}</sheetData>")
        assert look(archive, "s.xml").last_filled == expected


@pytest.mark.parametrize(
    ("cell", "is_calculated"),
    [
        ('<c r="A1" t="str"><f>""</f><v></v></c>', True),
        ('<c r="A1" t="str"><f>""</f><v/></c>', True),
        ('<c r="A1"><f>1+1</f><v></v></c>', False),
        ('<c r="A1" t="str"><f>""</f></c>', False),
    ],
)
def test_formula_whose_result_is_the_empty_text(tmp_path, cell, is_calculated):
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("s.xml", f'<sheetData><row r="1">{cell}</row></sheetData>')
        assert look(archive, "s.xml").uncalculated == (frozenset() if is_calculated else {(1, 0)})


def test_row_with_nothing_but_an_order_number_is_listed(load_text):
    loaded = load_text(TEXT + "AL 3,,,\nPage 2,,,\nPrinted by the ward,,,\n", round_date=DAY)
    assert [u.order_id for u in loaded.problem.set_aside] == ["AL 3"]
    assert [f.message.partition(":")[0] for f in loaded.findings if f.code == "text-row"] == ["rows 4, 5"]


@pytest.mark.parametrize("name", ["tests.csv", "beds.csv", "census.csv", "staff.csv", "places.csv", "tubes.csv"])
def test_one_order_list_under_another_tables_name(load_text, name):
    loaded = load_text(TEXT, name=name, round_date=DAY)
    assert [o.id for o in loaded.problem.orders] == ["A1"]
    assert "taken-as-orders" in codes(loaded)


def test_the_day_of_the_policy_goes_before_that_of_the_orders(tmp_path: Path):
    (tmp_path / "orders.csv").write_text(
        TEXT.replace("test\n", "test,collect_at\n").replace("CBC", "CBC,2026-03-09 06:00")
    )
    (tmp_path / "policy.toml").write_text("[round]\nday = 2026-03-10\n")
    problem = load(tmp_path, LoadOptions()).problem
    assert problem.clock.day == date(2026, 3, 10)
    assert any("the policy says so" in sentence for sentence in problem.assumptions)
    assert load(tmp_path, LoadOptions(round_date=DAY)).problem.clock.day == DAY
