"""Part ``other-wards``: who prefers wards visits these first, from the table to the plan."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.checker import check_plan
from planner.domain.goals import Part
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.exporters.view.context import ViewContext
from planner.exporters.view.goals import goal_lines
from planner.exporters.view.people import route_words
from planner.exporters.view.texts import TextCleaner
from planner.findings import Severity
from planner.loaders import LoadOptions, load
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import DAY
from tests.three_wards import HERON, KITE, RAIL, load_tables, three_ward_tables, write_tables

pytestmark = pytest.mark.slow

PARAMS = SolveParams(effort="quick", proves=False)


def preferring(tmp_path: Path, *wards: str) -> Problem:
    """Return the round of three wards, its people preferring wards in their order."""
    tables = three_ward_tables()
    for row, text in zip(tables["staff"], wards, strict=True):
        row["prefers"] = text
    return load_tables(tables, tmp_path)


def away(problem: Problem, plan: Plan) -> int:
    """Count visits by people who prefer other wards, from the plan's stops."""
    wards = [
        (problem.staff[r.phlebotomist].prefers, problem.patients[v.patient_id].ward)
        for r in plan.routes
        for v in r.visits
    ]
    return sum(bool(liked) and ward not in liked for liked, ward in wards)


def stated(plan: Plan) -> tuple[int, int]:
    """Return the own value and the price of the part, as the plan states them."""
    (part,) = [p for goal in plan.goals for p in goal.parts if p.name == Part.OTHER_WARDS.value]
    return part.value, part.price


def unwished(problem: Problem) -> Problem:
    return replace(problem, staff=tuple(replace(who, prefers=frozenset()) for who in problem.staff))


def test_everybody_gets_more_of_the_ward_that_they_prefer(tmp_path: Path) -> None:
    """In each turn of the wishes no visit more is elsewhere than in a plan without wishes, in all together fewer."""
    fewer = 0
    for turn in range(3):
        wards = [HERON, KITE, RAIL]
        problem = preferring(tmp_path / str(turn), *wards[turn:], *wards[:turn])
        plan, free = plan_round(problem, PARAMS).plan, plan_round(unwished(problem), PARAMS).plan
        assert stated(plan)[0] == away(problem, plan) <= away(problem, free)
        assert stated(free)[0] == 0
        assert not check_plan(problem, plan).codes()
        fewer += away(problem, free) - away(problem, plan)
    assert fewer > 0


def test_preferred_wards_bind_nobody(tmp_path: Path) -> None:
    problem = preferring(tmp_path, HERON, HERON, HERON)
    plan = plan_round(problem, PARAMS).plan
    elsewhere = {problem.patient_of(o).id for o in problem.orders if problem.patient_of(o).ward != HERON}
    assert plan.unplanned == ()
    # One visit of each at least; two minutes each, in hundredths of a second.
    assert stated(plan) == (away(problem, plan), 12_000)
    assert stated(plan)[0] >= len(elsewhere) > 0


def test_checker_counts_for_itself(tmp_path: Path) -> None:
    problem = preferring(tmp_path, "", "", "")
    plan = plan_round(problem, PARAMS).plan
    busy = max(range(3), key=lambda k: len(plan.routes[k].visits))
    staff = [
        replace(who, prefers=frozenset({"Elsewhere"}) if n == busy else frozenset())
        for n, who in enumerate(problem.staff)
    ]
    found = check_plan(replace(problem, staff=tuple(staff)), plan)
    assert set(found.codes()) == {"goal-value"}
    assert any(f"expected {len(plan.routes[busy].visits)} at 12000" in finding.message for finding in found)


def test_unknown_preferred_ward_is_a_warning_and_counts_for_nothing(tmp_path: Path) -> None:
    tables = three_ward_tables()
    tables["staff"][0]["prefers"] = f"Herron; {KITE.upper()}"
    tables["staff"][1]["prefers"] = "Herron"
    loaded = load(write_tables(tables, tmp_path), LoadOptions(round_date=DAY))
    assert loaded.problem is not None
    found = [f for f in loaded.findings if f.code == "staff-ward-unknown"]
    assert [f.severity for f in found] == [Severity.WARNING] * 2
    assert [who.prefers for who in loaded.problem.staff[:2]] == [{KITE}, frozenset()]


def test_sheet_and_summary_say_it_only_where_somebody_prefers(tmp_path: Path) -> None:
    problem = preferring(tmp_path, RAIL, "", "")
    planned = plan_round(problem, PARAMS)
    context = ViewContext(problem, planned.plan, planned.windows, TextCleaner())
    assert f"prefers {RAIL}" in route_words(context)[0]
    name = "away from preferred wards"
    assert name in [part.name for line in goal_lines(context) for part in line.parts]
    nobody = unwished(problem)
    plain = plan_round(nobody, PARAMS)
    lines = goal_lines(ViewContext(nobody, plain.plan, plain.windows, TextCleaner()))
    assert name not in [part.name for line in lines for part in line.parts]


@pytest.mark.parametrize("heading", ["prefers", "Preferred wards", "bevorzugte Stationen"])
def test_column_goes_by_other_names_too(tmp_path: Path, heading: str) -> None:
    tables = three_ward_tables()
    tables["staff"][0][heading] = KITE
    assert load_tables(tables, tmp_path).staff[0].prefers == {KITE}
