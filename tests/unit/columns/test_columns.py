"""The table of columns: what README says of the inputs, what the readers ask for, and headings that mean one column."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

import planner
from planner.columns import EXAMPLE, TABLES, Kind, Need
from planner.loaders.tables.headings import column_named, plain, table_named

ROOT = Path(planner.__file__).parent
README = (ROOT.parent / "README.md").read_text(encoding="utf-8")
STARTER = {name: [column.name for column in table.in_starter] for name, table in TABLES.items() if table.in_starter}
LISTED = ("orders", "patients", "places", "corridors", "staff", "pickups")
"""Tables whose columns README lists."""


def columns_in_readme() -> dict[str, set[str]]:
    """Return by table the words of README's rows that are a column of it: what stands in brackets explains."""
    found: dict[str, set[str]] = {}
    for names, cell in re.findall(r"^\| ((?:`\w+`(?:, )?)+) \| (.+) \|$", README, re.MULTILINE):
        tables = re.findall(r"`(\w+)`", names)
        if set(tables) <= set(LISTED):
            parts = re.sub(r"\([^)]*\)", "", cell).split(";")
            for table, part in zip(tables, parts, strict=True):
                words = re.split(r",| or | and ", part)
                found[table] = {word.split()[0] for word in words if word.strip()}
    return found


@pytest.mark.parametrize("table", LISTED)
def test_readme_lists_the_columns_of_the_starter_workbook(table):
    assert columns_in_readme()[table] == set(STARTER[table])


@pytest.mark.parametrize("file", ["tests", "tubes"])
def test_columns_of_the_catalogue_are_those_of_its_own_tables(file):
    with (ROOT / "laboratory" / f"{file}.csv").open(encoding="utf-8", newline="") as stream:
        assert set(STARTER[file]) <= set(next(csv.reader(stream)))


@pytest.mark.parametrize("table", sorted(TABLES))
def test_a_heading_means_one_column(table):
    """A column's own name goes before a synonym of another; 'patient', without the sign of 'patient #', is a name."""
    meant: dict[str, set[str]] = {}
    for column in TABLES[table].columns.values():
        for word in (column.name, *column.words):
            meant.setdefault(plain(word), set()).add(column.name)
    own = {plain(name) for name in TABLES[table].columns}
    assert {word: names for word, names in meant.items() if len(names) > 1 and word not in {"patient", *own}} == {}
    if TABLES[table].has_synonyms:
        assert all(column_named(table, name) == name for name in TABLES[table].columns)


@pytest.mark.parametrize("table", sorted(name for name in TABLES if TABLES[name].has_synonyms))
def test_every_name_and_synonym_is_found_in_any_case(table):
    for column in TABLES[table].columns.values():
        assert column_named(table, column.name.upper()) == column.name
        for word in column.words:
            assert column_named(table, word.title()) is not None


def test_progress_is_no_table_of_a_round():
    assert table_named("progress") is None
    assert {table_named(name) for name in STARTER} == set(STARTER)


@pytest.mark.parametrize("table", sorted(STARTER))
def test_example_rows_are_marked_in_every_column_that_marks_them(table):
    marks = [column for column in TABLES[table].columns.values() if column.is_mark]
    assert table == "policy" or marks
    assert all(text.startswith(EXAMPLE) for column in marks for text in column.examples)


def test_what_names_a_patient_is_private():
    """Names, birth date and number never stand in a message (house rule); nothing else of the tables names anybody."""
    private = {column.name for table in TABLES.values() for column in table.columns.values() if column.is_private}
    assert private == {"patient_number", "family_name", "given_name", "patient_name", "birth_date"}


def test_what_a_table_needs():
    assert {name: table.needed for name, table in TABLES.items()} == {
        "orders": ("patient_number", "test"), "patients": ("patient_number",), "places": ("place",),
        "corridors": ("from", "to"), "staff": ("from", "until"), "pickups": ("place", "kind"), "tests": ("test",),
        "tubes": ("code",), "policy": ("key", "value"), "progress": ("outcome",), "names": ("kind", "found"),
    }  # fmt: skip
    asked = {(t, c.name) for t, table in TABLES.items() for c in table.columns.values() if c.need is Need.ASKED}
    assert asked == {("orders", "order_number"), ("patients", "bed"), ("staff", "name")}


def test_times_that_are_told_keep_midnight():
    """A dose, a meal or a draw at 00:00 was at midnight; an order for a date at 00:00 is for the day."""
    kinds = {name: column.kind for name, column in TABLES["orders"].columns.items()}
    assert {name for name, kind in kinds.items() if kind is Kind.DATE} == {
        "collect_at", "collect_from", "collect_to", "collect_date", "ordered_at",
    }  # fmt: skip
    assert {name for name, kind in kinds.items() if kind is Kind.INSTANT} == {
        "last_dose_at", "next_dose_at", "infusion_end_at", "drawn_at",
    }  # fmt: skip
