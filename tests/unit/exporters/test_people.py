"""The summary says of each person what shaped the route: wards in their order, and who may do what."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.domain.problem import Problem
from planner.exporters.terminal.summary import WIDTH, summary_lines
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import make_order, make_patient, make_phlebotomist, make_problem
from tests.three_wards import HERON, KITE, RAIL, load_tables, three_ward_tables

pytestmark = pytest.mark.slow

PARAMS = SolveParams(effort="quick", proves=False)


def by_person(problem: Problem) -> str:
    lines = summary_lines(problem, plan_round(problem, PARAMS).plan)
    assert all(len(line) <= WIDTH for line in lines)
    begin = lines.index("By person")
    return "\n".join(lines[begin : lines.index("", begin)])


def test_wards_stand_in_the_order_of_the_route(tmp_path: Path) -> None:
    tables = three_ward_tables()
    for row, wards in zip(tables["staff"], (f"{HERON}; {KITE}", RAIL, HERON), strict=True):
        row["wards"] = wards
    problem = load_tables(tables, tmp_path)
    text = by_person(problem)
    visits = {
        who.initials: [problem.patients[v.patient_id].ward for v in route.visits]
        for who, route in zip(problem.staff, plan_round(problem, PARAMS).plan.routes, strict=True)
    }
    assert f"\n  IV    {len(visits['IV'])} visits (fair share " in text
    assert f": {RAIL}" in text
    # Four patients lie on each ward; nobody but the first goes to Kite, nobody but the second to Rail.
    assert f"goes to {RAIL} only; may make 4 of the 12 visits; 4 of them nobody else may make" in " ".join(text.split())
    assert f"goes to {HERON}, {KITE} only; may make 8 of the 12 visits" in " ".join(text.split())


def test_who_has_no_visit_is_named_with_the_reason() -> None:
    staff = [make_phlebotomist("AB", skills=frozenset({"child"})), make_phlebotomist("CD")]
    patients = [
        make_patient("P1", "B1", needs=frozenset({"child"})),
        make_patient("P2", "B2", needs=frozenset({"child"})),
    ]
    text = by_person(make_problem([make_order("O1"), make_order("O2", "P2")], patients, staff=staff))
    assert "CD    no visit (fair share 1)\n        may make 0 of the 2 visits" in text
    assert "2 of them nobody else may make" in text


def test_one_person_needs_no_such_list() -> None:
    problem = make_problem()
    assert "By person" not in summary_lines(problem, plan_round(problem, PARAMS).plan)


def test_return_to_a_ward_is_seen() -> None:
    # Four beds in a row of which the second is on another ward.
    problem = make_problem(staff=[make_phlebotomist("AB"), make_phlebotomist("CD", skills=frozenset({"child"}))])
    patients = {
        p.id: replace(p, ward="Kite" if p.id == "P2" else "Heron", needs=frozenset({"child"}))
        for p in problem.patients.values()
    }
    problem = replace(problem, patients=patients)
    order = [problem.patients[v.patient_id].ward for v in plan_round(problem, PARAMS).plan.routes[1].visits]
    wanted = [ward for n, ward in enumerate(order) if n == 0 or order[n - 1] != ward]
    assert f": {', '.join(wanted)}" in by_person(problem)
