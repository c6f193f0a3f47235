"""The starter workbook plans as it is, and its example rows go as soon as there is a real order."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from openpyxl import load_workbook

from planner.columns import TABLES
from planner.exporters.workbook.starter import starter_workbook
from planner.findings import Severity
from planner.loaders import LoadOptions, load
from planner.loaders.catalogue.load import load_catalogue
from planner.loaders.values.words import PLACE_KINDS

pytestmark = pytest.mark.slow

DAY = date(2026, 3, 4)
SHEETS = {name: table.in_starter for name, table in TABLES.items() if table.in_starter}


@pytest.fixture
def starter(tmp_path: Path) -> Path:
    path = tmp_path / "round.xlsx"
    path.write_bytes(starter_workbook(load_catalogue()[0].tests.values()))
    return path


def test_unchanged_it_can_be_planned(starter):
    loaded = load(starter, LoadOptions(round_date=DAY))
    assert [o.id for o in loaded.problem.orders] == ["EXAMPLE-1", "EXAMPLE-2"]
    assert loaded.problem.set_aside == ()
    assert [f.code for f in loaded.findings] == ["example-rows", "evening-before"]
    assert loaded.problem.assumptions == ()
    assert len(loaded.problem.staff) == 2


def test_need_by_time_of_a_ward_is_written_as_the_note_says(starter):
    fill_in(starter)
    (key,) = [column for column in SHEETS["policy"] if column.name == "key"]
    assert "round.needed_by.Ward 1" in key.note
    book = load_workbook(starter)
    for row, ward in enumerate(("Ward 1", "Kite (South)"), start=4):
        book["policy"].cell(row=row, column=1).value = f"round.needed_by.{ward}"
        book["policy"].cell(row=row, column=2).value = "08:30"
    for number, ward in enumerate(("Kite (South)", "ward 1"), start=2):
        book["patients"].cell(row=number, column=6).value = ward
    book.save(starter)
    problem = load(starter, LoadOptions(round_date=DAY)).problem
    assert problem.policy.round.needed_by_s == {"ward 1": 8.5 * 3600, "Kite (South)": 8.5 * 3600}


def fill_in(starter: Path) -> None:
    """Overwrite the example rows of orders and patients as a person would, and leave the other sheets."""
    book = load_workbook(starter)
    for title, rows in {
        "orders": [("0001", "0000123", "CRP"), ("0002", "0000124", "TSH"), ("0003", "0000124", "CBC")],
        "patients": [("0000123", "Okafor", "Ada"), ("0000124", "Brandt", "Ole")],
    }.items():
        sheet = book[title]
        for number, row in enumerate(rows, start=2):
            for column in range(1, sheet.max_column + 1):
                sheet.cell(row=number, column=column).value = row[column - 1] if column <= 3 else None
    for number, bed in enumerate(("11", "12"), start=2):
        sheet.cell(row=number, column=4).value = "1960-05-31"
        sheet.cell(row=number, column=7).value = bed
    book.save(starter)


def test_filled_in_it_plans_without_edits(starter):
    fill_in(starter)
    loaded = load(starter, LoadOptions(round_date=DAY))
    assert [(o.id, o.test) for o in loaded.problem.orders] == [("0001", "CRP"), ("0002", "TSH"), ("0003", "CBC")]
    assert loaded.problem.set_aside == ()
    assert {f.code for f in loaded.findings} == {"example-rows"}
    assert all(f.severity is Severity.NOTE for f in loaded.findings)
    assert len(loaded.problem.assumptions) == 3  # places, staff, pickups
    assert "EXAMPLE 1" not in loaded.problem.catalogue.tests


def test_examples_left_below_real_orders_are_left_out(starter):
    book = load_workbook(starter)
    book["orders"].append(["0009", "0000129", "CBC"])
    book["patients"].append(["0000129", "Okafor", "Ada", None, None, None, "9"])
    book.save(starter)
    loaded = load(starter, LoadOptions(round_date=DAY))
    assert [o.id for o in loaded.problem.orders] == ["0009"]
    assert loaded.num_orders_read == 1


def test_every_column_has_a_note(starter):
    book = load_workbook(starter)
    for title, columns in SHEETS.items():
        headings = book[title][1]
        assert [cell.value for cell in headings] == [column.name for column in columns]
        assert all(cell.comment.text for cell in headings)
        assert len({len(column.examples) for column in columns}) == 1


def test_drop_downs_offer_words_that_are_known(starter):
    book = load_workbook(starter)
    offered = [v.formula1 for v in book["orders"].data_validations.dataValidation]
    assert '"stat,asap,urgent,routine,timed"' in offered
    assert any("test codes" in formula for formula in offered)


@pytest.mark.parametrize("title", sorted(SHEETS))
def test_words_of_the_drop_downs_are_understood(starter, title):
    """Every choice of every drop-down, set in the first example row, is read without an unknown word."""
    columns = SHEETS[title]
    for turn in range(max(len(column.choices) for column in columns)):
        book = load_workbook(starter)
        for index, column in enumerate(columns, start=1):
            if column.choices:
                book[title].cell(row=2, column=index).value = column.choices[turn % len(column.choices)]
        book.save(starter)
        codes = {f.code for f in load(starter, LoadOptions(round_date=DAY)).findings}
        assert not {code for code in codes if code.startswith("unknown") or code == "yes-or-no"}


def test_notes_explain_kinds_repeated_beds_floors_and_need_by_with_examples(starter):
    book = load_workbook(starter)
    notes = {(sheet.title, cell.value): cell.comment.text for sheet in book for cell in sheet[1] if cell.comment}
    kinds = next(column for column in SHEETS["places"] if column.name == "kind")
    assert all(f"{kind}" in notes["places", "kind"] for kind in kinds.choices)
    assert all(kind in PLACE_KINDS for kind in kinds.choices)
    assert "Heron/3A" in notes["places", "ward"]
    assert "0-3" in notes["places", "floor"]
    assert "lift" in notes["places", "floor"]
    assert "08:30" in notes["policy", "key"]
    read_me = " ".join(str(row[0].value) for row in book["read me"])
    assert all(word in read_me for word in ("Heron/3A", "lift", "round.needed_by.Heron", "08:30"))


def test_several_floors_are_filled_in_as_the_notes_say(starter):
    """Five wards on two floors, each with a bed 1, and one row for the lift."""
    book = load_workbook(starter)
    wards = ("Heron", "Kite (South)", "Rail, East", "Teal", "Wren/2")
    heads = {sheet.title: [cell.value for cell in sheet[1]] for sheet in book}
    for title in ("corridors", "pickups", "staff"):
        book[title].delete_rows(2, 10)
    rows = {
        "orders": [{"order_number": f"A{n}", "patient_number": f"P{n}", "test": "CBC"} for n in range(5)],
        "patients": [
            {"patient_number": f"P{n}", "birth_date": f"1950-01-0{n + 1}", "ward": ward, "bed": "1"}
            for n, ward in enumerate(wards)
        ],
        "places": [
            {"place": "Office", "kind": "base", "x_m": "0", "y_m": "0", "floor": "0"},
            {"place": "Lift A", "kind": "lift", "x_m": "0", "y_m": "0"},
            *(
                {"place": "1", "ward": ward, "kind": "bed", "x_m": f"{12 * n}", "y_m": "0", "floor": str(n % 2)}
                for n, ward in enumerate(wards)
            ),
        ],
    }
    for title, filled in rows.items():
        book[title].delete_rows(2, 10)
        for number, row in enumerate(filled, start=2):
            for name, text in row.items():
                book[title].cell(row=number, column=heads[title].index(name) + 1).value = text
    book.save(starter)
    loaded = load(starter, LoadOptions(round_date=DAY))
    assert loaded.problem.set_aside == ()
    # 12 m back to the lift (10 s), the lift (60 s), 24 m on (20 s): Kite is on floor 1, Rail on floor 0
    assert loaded.problem.walking.between("Kite (South)/1", "Rail, East/1") == 10 + 60 + 20
