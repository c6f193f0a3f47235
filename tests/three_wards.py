"""A round of three wards that all have beds 1A to 3B, untidy on purpose: for every test that names or selects a bed.

Ward names hold a comma and brackets; one tube station for all; two patients of one name on two wards, two
phlebotomists of one name. Everything is invented. A test changes the tables it needs to:

    tables = three_ward_tables()
    tables["patients"][0]["alerts"] = "latex allergy"
    folder = write_tables(tables, tmp_path / "three-wards")
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from planner.domain.orders import Patient
from planner.domain.problem import Problem
from planner.loaders import LoadOptions, load
from planner.pipeline import PlannedRound, plan_round
from planner.solving.params import SolveParams
from tests.builders import DAY

Tables = dict[str, list[dict[str, str]]]
"""Rows by table; rows of one table may have different columns."""

HERON, KITE, RAIL = "Heron", "Kite (South)", "Rail, East"
WARDS = (HERON, KITE, RAIL)
BEDS = ("1A", "1B", "2A", "2B", "3A", "3B")
STATION = "Tube station [lobby, level 2]"
SHELF = "Courier shelf (Kite, left)"

_PEOPLE: Mapping[str, Sequence[tuple[str, str, str, str, str]]] = {
    HERON: (
        ("1A", "H0101", "Kowalska", "Maria", "1948-02-11"),
        ("1B", "H0102", "Nkemelu", "Chinwe", "1971-09-30"),
        ("2A", "H0103", "Ferri", "Luca", "1955-12-01"),
        ("3A", "H0104", "Null", "Ada", "1939-06-17"),
    ),
    KITE: (
        ("1A", "K0201", "Kowalska", "Maria", "1986-07-23"),
        ("1B", "K0202", "Ó Briain", "Tadhg", "1962-03-08"),
        ("2B", "K0203", "Sandhu", "Harpreet", "1950-10-19"),
        ("3A", "K0204", "de la Cruz", "Inés", "1977-01-05"),
    ),
    RAIL: (
        ("1A", "R0301", "Yılmaz", "Emre", "1944-04-27"),
        ("2A", "R0302", "Papadaki", "Eleni", "1968-08-14"),
        ("2B", "R0303", "Haugen", "Odd", "1931-11-02"),
        ("3B", "R0304", "Moreau", "Claire", "1959-05-21"),
    ),
}

_TESTS: Mapping[str, Sequence[str]] = {
    "H0101": ("CBC", "BMP"),
    "H0102": ("PT", "CBC"),
    "H0103": ("LACT",),
    "H0104": ("CBC", "CRP"),
    "K0201": ("CBC", "BMP"),
    "K0202": ("BC",),
    "K0203": ("TNT",),
    "K0204": ("NH3", "CBC"),
    "R0301": ("VANCT",),
    "R0302": ("LIPID",),
    "R0303": ("CBC", "PT"),
    "R0304": ("BMP",),
}


def three_ward_tables() -> Tables:
    """Return the tables of the round: 12 patients, 18 orders, 3 phlebotomists of whom two have one name."""
    patients = [
        {
            "patient_number": number,
            "family_name": family,
            "given_name": given,
            "birth_date": born,
            "sex": "F",
            "ward": ward,
            "bed": bed,
            "weight_kg": "70",
            "precautions": "",
            "alerts": "",
            "last_ate_at": "2026-03-09 18:30",
        }
        for ward, people in _PEOPLE.items()
        for bed, number, family, given, born in people
    ]
    orders = [
        {"order_number": f"{number}-{n}", "patient_number": number, "test": test, "priority": "routine"}
        for number, tests in _TESTS.items()
        for n, test in enumerate(tests, start=1)
    ]
    by_number = {order["order_number"]: order for order in orders}
    by_number["K0203-1"]["priority"] = "stat"
    by_number["R0301-1"]["next_dose_at"] = "2026-03-10 06:30"
    places = [
        {"place": "Supply room", "ward": HERON, "kind": "base", "position": "0"},
        *(
            {"place": bed, "ward": ward, "kind": "bed", "position": str(10 * number + n)}
            for number, ward in enumerate(WARDS)
            for n, bed in enumerate(BEDS, start=1)
        ),
        {"place": STATION, "ward": HERON, "kind": "tube station", "position": "8"},
        {"place": SHELF, "ward": KITE, "kind": "pickup", "position": "17"},
        {"place": STATION, "ward": RAIL, "kind": "tube station", "position": "28"},
    ]
    return {
        "patients": patients,
        "orders": orders,
        "places": places,
        "staff": [
            {"name": "Ines Silva", "initials": "IS", "from": "05:00", "until": "08:30", "starts_at": "Supply room"},
            {"name": "Ines Silva", "initials": "IV", "from": "05:00", "until": "08:30", "starts_at": "Supply room"},
            {"name": "Tom Okafor", "initials": "TO", "from": "05:30", "until": "08:30", "starts_at": "Supply room"},
        ],
        "pickups": [
            {"place": f"{HERON}/{STATION}", "kind": "tube", "departs": "", "transit_minutes": "3"},
            {"place": SHELF, "kind": "courier", "departs": "06:15; 07:15; 08:15", "transit_minutes": "10"},
            {"place": f"{RAIL}/{STATION}", "kind": "tube", "departs": "", "transit_minutes": "4"},
        ],
    }


TWO_MORE = ("North [stair]", "Tern")


def five_ward_tables() -> Tables:
    """Return the same round with two wards more, on each of which one patient lies in bed 1A and one in bed 3A."""
    tables = three_ward_tables()
    for number, ward in enumerate(TWO_MORE, start=len(WARDS)):
        for n, bed in enumerate(("1A", "3A"), start=1):
            patient = f"{'NT'[number - len(WARDS)]}0{number + 1}0{n}"
            tables["patients"].append(
                tables["patients"][0]
                | {
                    "patient_number": patient,
                    "family_name": ("Aydin", "O'Hara", "Null", "Berg-Lie")[2 * (number - len(WARDS)) + n - 1],
                    "given_name": "Sam",
                    "birth_date": f"195{number}-0{n}-14",
                    "ward": ward,
                    "bed": bed,
                }
            )
            tables["orders"].append(
                {"order_number": f"{patient}-1", "patient_number": patient, "test": "CBC", "priority": "routine"}
            )
        tables["places"] += [
            {"place": bed, "ward": ward, "kind": "bed", "position": str(10 * number + n)}
            for n, bed in enumerate(BEDS, start=1)
        ]
    return tables


def write_tables(tables: Mapping[str, Sequence[Mapping[str, str]]], folder: Path) -> Path:
    """Write the tables of a round as CSV files into a folder, which is made, and return it."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in tables.items():
        columns = list(dict.fromkeys(column for row in rows for column in row))
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, columns, restval="")
            writer.writeheader()
            writer.writerows(rows)
    return folder


def load_tables(tables: Mapping[str, Sequence[Mapping[str, str]]], folder: Path, **options: Any) -> Problem:
    """Return the problem that the loaders make of the tables, written to a folder, for the built day.

    Raises
    ------
    AssertionError
        If they make none.
    """
    loaded = load(write_tables(tables, folder), LoadOptions(**({"round_date": DAY} | options)))
    assert loaded.problem is not None, loaded.findings
    return loaded.problem


def plan_quickly(problem: Problem) -> PlannedRound:
    """Return a checked plan of least effort."""
    return plan_round(problem, SolveParams(effort="quick"))


def patient_in(problem: Problem, ward: str, bed: str) -> Patient:
    """Return the patient of a bed of a ward."""
    found = [p for p in problem.patients.values() if p.ward == ward and problem.places[p.bed].label == bed]
    assert len(found) == 1, (ward, bed)
    return found[0]
