"""A bed without its ward on a round of several wards: asked for, never guessed, and nobody else is held up by it."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.domain.plan import Reason, SetAside
from planner.domain.problem import Problem
from planner.loaders import LoadOptions, load
from tests.builders import DAY
from tests.three_wards import KITE, three_ward_tables, write_tables

HEAD = "order_number,patient_number,family_name,birth_date,ward,bed,test"


def _loaded(folder: Path, rows: str) -> tuple[Problem, set[str]]:
    folder.mkdir(exist_ok=True)
    (folder / "orders.csv").write_text(f"{HEAD}\n{rows}", encoding="utf-8")
    found = load(folder, LoadOptions(round_date=DAY, adults_only=True))
    assert found.problem is not None
    return found.problem, {finding.code for finding in found.findings}


def _aside(problem: Problem) -> dict[str, SetAside]:
    return {u.order_id: SetAside(u.reason, u.detail) for u in problem.set_aside}


FIVE = "".join(
    f"A{n},{n},N{n},1960-01-0{n},{ward},3C,CBC\n" for n, ward in enumerate(["Wren", "Heron", "Kite", "Rail", "Lark"], 1)
)


@pytest.mark.parametrize("bed", ["3C", "3 c", "9Z"])
def test_bed_without_ward_is_a_decision_and_holds_nobody_else_up(tmp_path: Path, bed: str) -> None:
    problem, codes = _loaded(tmp_path / "round", FIVE + f"B1,77,Ng,1950-05-05,,{bed},CBC\n")
    assert "ward-missing" in codes and "bed-conflict" not in codes
    [(number, (reason, detail))] = _aside(problem).items()
    assert (number, reason, reason.needs_decision) == ("B1", Reason.NO_BED, True)
    assert "ward not given" in detail and "which ward?" in detail
    assert {o.id for o in problem.orders} == {"A1", "A2", "A3", "A4", "A5"}


def test_no_single_other_ward_with_that_bed_is_guessed(tmp_path: Path) -> None:
    rows = "A1,1,One,1960-01-01,Wren,3C,CBC\nA2,2,Two,1960-01-02,Kite,4A,CBC\nB1,77,Ng,1950-05-05,,3C,CBC\n"
    assert set(_aside(_loaded(tmp_path / "round", rows)[0])) == {"B1"}


def test_ward_of_another_row_of_the_patient_or_before_the_bed_is_stated(tmp_path: Path) -> None:
    rows = "B1,77,Ng,1950-05-05,,5C,CBC\nB2,77,Ng,1950-05-05,Kite,5C,CRP\nB3,78,Oe,1950-05-06,,kite/6C,CBC\n"
    problem, codes = _loaded(tmp_path / "round", FIVE + rows + "B4,79,Pi,1950-05-07,,Rail 7C,CBC\n")
    assert _aside(problem) == {} and "ward-missing" not in codes
    assert {problem.patients[n].ward for n in ("77", "78")} == {"Kite"}
    assert problem.place_name(problem.patients["79"].bed) == "Rail 7C"


NAMESAKES = "".join(
    f"A{n},{n},N{n},1960-01-0{n},{ward},3C,CBC\n"
    for n, ward in enumerate(["Kite", "Kite South", "Kite (East)", "4", "4 North", "St. Ann's"], 1)
)


@pytest.mark.parametrize(
    ("bed", "ward", "label"),
    [
        ("Kite South 7C", "Kite South", "7C"),
        ("kite  south/7C", "Kite South", "7C"),
        ("Kite east 7C", "Kite (East)", "7C"),
        ("Kite, bed 7C", "Kite", "7C"),
        ("4 North 7C", "4 North", "7C"),
        ("4/7C", "4", "7C"),
        ("St Ann's 7C", "St. Ann's", "7C"),
    ],
)
def test_ward_before_the_bed_is_the_longest_that_is_written(tmp_path: Path, bed: str, ward: str, label: str) -> None:
    problem, _ = _loaded(tmp_path / "round", NAMESAKES + f'B1,77,Ng,1950-05-05,,"{bed}",CRP\n')
    assert _aside(problem) == {}
    place = problem.places[problem.patients["77"].bed]
    assert (place.ward, place.label) == (ward, label)


def test_a_ward_that_is_a_number_is_not_taken_from_a_bed_without_a_stroke(tmp_path: Path) -> None:
    assert set(_aside(_loaded(tmp_path / "round", NAMESAKES + "B1,77,Ng,1950-05-05,,4 A,CRP\n")[0])) == {"B1"}


def test_list_of_one_ward_or_of_none_needs_no_ward_in_every_row(tmp_path: Path) -> None:
    one = "A1,1,One,1960-01-01,Wren,1,CBC\nA2,2,Two,1960-01-02,,2,CBC\n"
    none = "A1,1,One,1960-01-01,,1,CBC\nA2,2,Two,1960-01-02,,2,CBC\n"
    for number, rows in enumerate((one, none)):
        problem, codes = _loaded(tmp_path / str(number), rows)
        assert _aside(problem) == {} and "ward-missing" not in codes


def test_blank_ward_is_asked_for_although_the_map_has_that_bed_once(tmp_path: Path) -> None:
    tables = three_ward_tables()
    [row] = [row for row in tables["patients"] if row["patient_number"] == "K0203"]
    row["ward"], row["bed"] = "", "9Q"
    bed = next(p for p in tables["places"] if p.get("ward") == KITE and p["place"] == "2B")
    tables["places"].append(bed | {"place": "9Q"})
    found = load(write_tables(tables, tmp_path / "round"), LoadOptions(round_date=DAY))
    assert found.problem is not None
    asked = {u.patient_id for u in found.problem.set_aside if "which ward?" in u.detail}
    assert asked == {"K0203"} == {u.patient_id for u in found.problem.set_aside}
