"""An order whose patient has no bed: whoever must find the patient reads whom to ask for, and on which ward."""

from __future__ import annotations

import pytest

from planner.domain.problem import Problem
from planner.exporters.plan_json import plan_from_json, plan_to_json
from planner.exporters.view.build import build_view
from planner.exporters.view.round_view import RoundView
from planner.visits.windows import order_windows
from tests.three_wards import KITE, RAIL, load_tables, plan_quickly, three_ward_tables

pytestmark = pytest.mark.slow

LOST = {"family_name": "Kowalska", "given_name": "Maria", "birth_date": "1990-12-24", "ward": KITE, "bed": ""}
"""A third patient of one name, on a ward without a bed."""
NO_WARD = {"family_name": "d'Été", "given_name": "Zoë", "birth_date": "", "ward": "", "bed": ""}
TWO = {"family_name": "Reyes", "given_name": "Ana", "birth_date": "1950-01-01", "ward": RAIL, "bed": "1B"}


@pytest.fixture(scope="module")
def problem(tmp_path_factory: pytest.TempPathFactory) -> Problem:
    tables = three_ward_tables()
    people = {"X1": LOST, "X2": NO_WARD, "X3": TWO}
    tables["patients"] += [{"patient_number": number} | person for number, person in people.items()]
    tables["patients"].append({"patient_number": "X3"} | TWO | {"birth_date": "1960-02-02"})
    tables["orders"] += [
        {"order_number": f"{number}-1", "patient_number": number, "test": "CBC", "priority": "stat"}
        for number in people
    ]
    return load_tables(tables, tmp_path_factory.mktemp("round") / "three")


@pytest.fixture(scope="module")
def view(problem: Problem) -> RoundView:
    planned = plan_quickly(problem)
    data = plan_to_json(problem, planned.plan, revision=1, parent=None, inputs_digest="", params={}, findings=())
    kept = plan_from_json(data)
    return build_view(kept.problem, kept.plan, order_windows(problem)[0], revision=1, findings=planned.findings)


@pytest.mark.parametrize(
    ("order", "bed", "patient"),
    [
        ("X1-1", f"{KITE} ?", "Kowalska, Maria, born 24 Dec 1990, patient number X1"),
        ("X2-1", "?", "d'Été, Zoë, born not on file, patient number X2"),
        ("X3-1", f"{RAIL} 1B", "patient number X3"),
    ],
)
def test_decision_names_patient_and_ward_but_nobody_of_two(view: RoundView, order: str, bed: str, patient: str) -> None:
    [line] = [line for line in view.decisions if order in line.order_numbers]
    assert (line.bed, line.patient) == (bed, patient)
