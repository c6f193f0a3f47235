"""What loaders and tubes say of a bed names its ward, on three wards with the same beds."""

from __future__ import annotations

from pathlib import Path

from planner.findings import Finding
from planner.loaders import LoadOptions, load
from planner.pipeline import prepare_round
from planner.solving.params import SolveParams
from tests.builders import DAY
from tests.three_wards import KITE, Tables, load_tables, three_ward_tables, write_tables
from tests.unit.exporters.test_beds_named import bare_beds


def findings_of(tables: Tables, folder: Path) -> list[Finding]:
    loaded = load(write_tables(tables, folder), LoadOptions(round_date=DAY))
    assert loaded.problem is not None
    return [*loaded.findings, *prepare_round(loaded.problem, SolveParams(effort="quick")).findings]


def test_findings_on_beds_name_the_ward(tmp_path: Path) -> None:
    tables = three_ward_tables()
    patients = {row["patient_number"]: row for row in tables["patients"]}
    patients["K0202"]["birth_date"] = ""
    patients["R0302"]["bed"] = "2B"  # as R0303: two patients in one bed
    patients["K0203"] |= {"birth_date": "2021-05-01", "weight_kg": ""}  # a child without weight
    patients["H0104"] |= {"birth_date": "2022-05-01", "weight_kg": "14"}  # a child of whom nothing was said before
    found = findings_of(tables, tmp_path / "round")
    codes = {finding.code for finding in found}
    assert {"name-alike", "identifier-gap", "bed-conflict", "weight-missing", "blood-history-unknown"} <= codes
    assert [bare for finding in found for bare in bare_beds(finding.message)] == []


def test_bed_that_is_not_on_the_map_is_named_with_its_ward(tmp_path: Path) -> None:
    tables = three_ward_tables()
    tables["patients"][4]["bed"] = "9Z"
    problem = load_tables(tables, tmp_path / "round")
    assert {aside.bed for aside in problem.set_aside} == {f"{KITE} 9Z"}
    [message] = {aside.detail for aside in problem.set_aside}
    assert bare_beds(message) == []


def test_map_without_wards_takes_them_from_the_patients(tmp_path: Path) -> None:
    tables = three_ward_tables()
    del tables["corridors" if "corridors" in tables else "pickups"]
    tables["patients"] = [row for row in tables["patients"] if row["bed"] in ("1B", "3B", "2B")][:4]
    beds = {"1B": "Heron", "2B": "Kite (South)", "3B": "Rail, East"}
    tables["patients"] = [row for row in tables["patients"] if beds[row["bed"]] == row["ward"]]
    numbers = {row["patient_number"] for row in tables["patients"]}
    tables["orders"] = [row for row in tables["orders"] if row["patient_number"] in numbers]
    tables["places"] = [{"place": bed, "kind": "bed", "position": bed[0]} for bed in beds] + [tables["places"][0]]
    problem = load_tables(tables, tmp_path / "round")
    assert {problem.place_name(p.bed) for p in problem.patients.values()} == {
        f"{row['ward']} {row['bed']}" for row in tables["patients"]
    }
