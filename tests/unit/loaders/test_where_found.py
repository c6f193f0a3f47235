"""Problems are reported with file, row and column, on a round whose wards have equal bed numbers (specification)."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.findings import Finding, Severity, Source
from planner.loaders import LoadOptions, load
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import DAY
from tests.three_wards import Tables, three_ward_tables, write_tables
from tests.unit.loaders.where_found import misplaced


def found_in(tables: Tables, folder: Path) -> list[Finding]:
    """Return what reading finds, and planning where there is something to plan."""
    loaded = load(write_tables(tables, folder), LoadOptions(round_date=DAY))
    planned = plan_round(loaded.problem, SolveParams(effort="quick")).findings if loaded.problem else ()
    return [*loaded.findings, *planned]


def changed(code: str) -> Tables:
    """Return three wards with one fault, in the row of bed 3A of the second ward (row 9) unless it needs others."""
    tables = three_ward_tables()
    person = tables["patients"][7]
    match code:
        case "identifier-gap" | "age-unknown":
            person["birth_date"] = ""
            person["weight_kg"] = "" if code == "age-unknown" else "70"
        case "identity-conflict":
            tables["patients"].append(person | {"birth_date": "1911-01-01"})
        case "extra-columns":
            person["Zeichen"] = "x9"
        case "heading-twice":
            for row in tables["patients"]:
                row["Bett"] = row["bed"]
            person["Bett"] = "3B"
        case "identity-shared":
            person |= {name: tables["patients"][0][name] for name in ("family_name", "given_name", "birth_date")}
        case "unreachable":
            tables["corridors"] = [{"from": "Supply room", "to": "Heron/1A", "metres": "5", "one_way": ""}]
            tables["patients"] = [p for p in tables["patients"] if p["bed"] in ("1A", "3A")]
    return tables


@pytest.mark.slow
@pytest.mark.parametrize(
    ("code", "row", "column"),
    [
        ("identifier-gap", 9, "birth_date"),
        ("age-unknown", 13, ""),
        ("identity-conflict", 14, "birth_date"),
        ("extra-columns", None, "Zeichen"),
        ("heading-twice", 9, "Bett"),
        ("identity-shared", 9, "patient_number"),
    ],
)
def test_finding_names_the_row_and_the_column(tmp_path, code, row, column):
    found = [f for f in found_in(changed(code), tmp_path / "r") if f.code == code]
    assert found
    source = found[0].source
    assert source is not None
    file = "orders.csv" if code == "age-unknown" else "patients.csv"
    assert (source.file, source.row, source.column) == (file, row, column)


@pytest.mark.slow
def test_place_that_no_way_leads_to_names_its_row(tmp_path):
    found = [f for f in found_in(changed("unreachable"), tmp_path / "r") if f.code == "unreachable"]
    assert found
    assert all(f.source is not None and f.source.row and f.source.column for f in found)


@pytest.mark.parametrize(
    ("finding", "lacks"),
    [
        ({"message": "x"}, "no file"),
        ({"message": "x", "source": Source(file="a.csv"), "order_ids": ("O1",)}, "no row"),
        ({"message": "rows 3, 4: x", "source": Source(file="a.csv")}, "no row"),
        ({"message": "column 'x' is odd", "source": Source(file="a.csv", row=3)}, "no column"),
        ({"message": "column 'x' is odd", "source": Source(file="a.csv", row=3, column="x")}, ""),
        ({"message": "x", "source": Source(file="--stat"), "order_ids": ("O1",)}, ""),
    ],
)
def test_walk_over_the_findings_sees_what_is_not_said(finding, lacks):
    assert misplaced(Finding(code="unknown-bed", severity=Severity.ERROR, **finding)) == lacks
