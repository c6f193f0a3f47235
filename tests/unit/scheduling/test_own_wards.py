"""Rule ``own-wards``: who is bound to wards is sent nowhere else, from the table to the plan."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.checker import check_plan
from planner.domain.plan import Reason
from planner.domain.problem import Problem
from planner.loaders import LoadOptions, load
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import DAY
from tests.three_wards import HERON, KITE, RAIL, Tables, load_tables, three_ward_tables, write_tables

pytestmark = pytest.mark.slow

PARAMS = SolveParams(effort="quick", proves=False)


def bound(tmp_path: Path, *wards: str) -> tuple[Problem, list[str]]:
    """Return the round of three wards, its people bound to wards in their order, and the codes of the findings."""
    tables: Tables = three_ward_tables()
    for row, text in zip(tables["staff"], wards, strict=True):
        row["wards"] = text
    loaded = load(write_tables(tables, tmp_path), LoadOptions(round_date=DAY))
    assert loaded.problem is not None
    return loaded.problem, [finding.code for finding in loaded.findings]


def wards_of(problem: Problem, person: int) -> set[str]:
    plan = plan_round(problem, PARAMS).plan
    return {problem.patients[visit.patient_id].ward for visit in plan.routes[person].visits}


def test_each_person_stays_on_the_wards_of_the_list(tmp_path: Path) -> None:
    # A ward's name holds a comma; another is written in another case.
    problem, codes = bound(tmp_path, RAIL, f"{KITE.upper()}; heron", HERON)
    assert [who.wards for who in problem.staff] == [{RAIL}, {KITE, HERON}, {HERON}]
    assert "staff-ward-unknown" not in codes
    plan = plan_round(problem, PARAMS).plan
    for person, allowed in enumerate([{RAIL}, {KITE, HERON}, {HERON}]):
        assert {problem.patients[v.patient_id].ward for v in plan.routes[person].visits} <= allowed
    assert plan.unplanned == ()


def test_wards_may_stand_with_commas_between_them(tmp_path: Path) -> None:
    problem, codes = bound(tmp_path, f"{HERON}, {KITE}", "", "")
    assert problem.staff[0].wards == {HERON, KITE}
    assert "staff-ward-unknown" not in codes


def test_nobody_bound_means_everybody_everywhere(tmp_path: Path) -> None:
    problem, _codes = bound(tmp_path, "", "", "")
    assert all(who.goes_to(ward) for who in problem.staff for ward in (HERON, KITE, RAIL))


def test_ward_that_nobody_goes_to_is_listed_with_that_reason(tmp_path: Path) -> None:
    problem, _codes = bound(tmp_path, HERON, HERON, KITE)
    plan = plan_round(problem, PARAMS).plan
    rail = {o.id for o in problem.orders if problem.patient_of(o).ward == RAIL}
    assert {u.order_id for u in plan.unplanned} == rail
    assert {u.reason for u in plan.unplanned} == {Reason.NO_WARD}
    assert all(RAIL in u.detail for u in plan.unplanned)


def test_unknown_ward_is_an_error_and_sends_nobody_elsewhere(tmp_path: Path) -> None:
    problem, codes = bound(tmp_path, "Herron", "", "")
    assert codes.count("staff-ward-unknown") == 1
    assert problem.staff[0].wards == {"Herron"}
    assert wards_of(problem, 0) == set()


def test_checker_refuses_a_visit_to_another_ward(tmp_path: Path) -> None:
    problem, _codes = bound(tmp_path, "", "", "")
    plan = plan_round(problem, PARAMS).plan
    busy = max(range(3), key=lambda k: len(plan.routes[k].visits))
    staff = [
        replace(who, wards=frozenset({"Elsewhere"}) if n == busy else who.wards) for n, who in enumerate(problem.staff)
    ]
    found = check_plan(replace(problem, staff=tuple(staff)), plan)
    assert set(found.codes()) == {"own-wards"}
    assert len(found) == len(plan.routes[busy].visits)


@pytest.mark.parametrize("heading", ["wards", "Only wards", "Stationen"])
def test_column_goes_by_other_names_too(tmp_path: Path, heading: str) -> None:
    tables = three_ward_tables()
    tables["staff"][0][heading] = KITE
    assert load_tables(tables, tmp_path).staff[0].wards == {KITE}
