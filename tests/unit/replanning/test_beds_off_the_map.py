"""A patient moves to a bed that the round does not have: five wards with equal bed numbers, with a map and without."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from planner.domain.plan import Plan
from planner.domain.problem import Problem
from tests.three_wards import HERON, KITE, Tables, five_ward_tables, load_tables, patient_in, plan_quickly
from tests.unit.replanning.told import codes, tell

pytestmark = pytest.mark.slow


def with_corridors(tables: Tables) -> Tables:
    """Join every place to the one before it in the table, 6 m apart."""
    names = [f"{row['ward']}/{row['place']}" for row in tables["places"]]
    tables["corridors"] = [{"from": one, "to": other, "metres": "6"} for one, other in pairwise(names)]
    return tables


def without_map(tables: Tables) -> Tables:
    return {name: rows for name, rows in tables.items() if name not in ("places", "pickups", "staff")}


@pytest.fixture(
    params=[five_ward_tables, lambda: with_corridors(five_ward_tables()), lambda: without_map(five_ward_tables())]
)
def morning(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Problem, Plan]:
    """A round by order along the corridor, by corridors, and without a map."""
    problem = load_tables(request.param(), tmp_path / "round")
    return problem, plan_quickly(problem).plan


def test_bed_of_a_named_ward_lies_beside_its_neighbour_there(morning: tuple[Problem, Plan]) -> None:
    problem, plan = morning
    number = patient_in(problem, HERON, "3A").id
    before = {p.id: p.bed for p in problem.patients.values()}
    changed = tell(f"new-bed {KITE} 9Z", f"moved Heron 3A={KITE} 9Z", of=(problem, plan), now="05:01")
    assert codes(changed) == ["bed-assumed"]
    moved = changed.problem.patients[number]
    assert (moved.ward, changed.problem.places[moved.bed].label) == (KITE, "9Z")
    assert changed.problem.place_name(moved.bed) == f"{KITE} 9Z"
    assert {p.id: p.bed for p in changed.problem.patients.values() if p.id != number} == {
        patient: bed for patient, bed in before.items() if patient != number
    }
    again = plan_quickly(changed.problem).plan  # the independent checker has passed it
    assert moved.bed in {visit.place for route in again.routes for visit in route.visits}
    beside = next(
        p
        for p in changed.problem.places.values()
        if p.ward == KITE and p.label in ("3B", "3A") and p.id in {e for _, e in changed.problem.walking.seconds}
    )
    assert changed.problem.walking.between(beside.id, moved.bed) <= 10


@pytest.mark.parametrize("to", [f"{KITE} 9Z", "9Z"])
def test_bed_that_nothing_has_is_asked_about(morning: tuple[Problem, Plan], to: str) -> None:
    problem, plan = morning
    changed = tell(f"moved Heron 3A={to}", of=(problem, plan), now="05:01")
    assert codes(changed) == ["bed-not-found"]
    assert changed.problem.patients == problem.patients
    assert changed.problem.places == problem.places
    (refused,) = changed.refused
    assert not refused.instead
    ward = KITE if to.startswith(KITE) else HERON
    assert refused.finding.message.endswith(f"add --new-bed '{ward} 9Z'")


def test_new_bed_needs_its_ward(morning: tuple[Problem, Plan]) -> None:
    changed = tell("new-bed 9Z", of=morning, now="05:01")
    assert codes(changed) == ["bed-not-found"]


def test_bed_that_is_there_is_no_new_one(morning: tuple[Problem, Plan]) -> None:
    changed = tell("new-bed Heron 3A", of=morning, now="05:01")
    assert codes(changed) == ["change-known"]
    assert changed.events == ()
