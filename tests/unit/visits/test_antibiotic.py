"""A culture is due before the next dose of the antibiotic (rule ``antibiotic``). Five wards with equal bed numbers.

Cultures before antibiotics: CLSI M47, from memory; common practice.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.checker import check_plan
from planner.domain.goals import Part
from planner.domain.orders import OrderId
from planner.domain.problem import Problem
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from planner.visits.windows import order_windows
from tests.builders import clock, make_order, make_patient, make_problem
from tests.three_wards import five_ward_tables, load_tables


def test_stated_dose_is_the_target_of_that_culture_alone(tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["orders"][-1] |= {"test": "BC", "next_dose_at": "2026-03-10 06:00"}
    tables["orders"][0]["next_dose_at"] = "2026-03-10 06:00"  # a blood count has no such rule
    windows = order_windows(load_tables(tables, tmp_path / "five"))[0]
    target = windows[OrderId("T0502-1")].target
    assert target is not None
    assert (target.rule, target.at_s) == ("antibiotic", clock("06:00"))
    assert windows[OrderId("H0101-1")].target is None
    assert windows[OrderId("K0202-1")].target is None  # a culture without a stated dose


def culture(next_dose: str | None, **policy: object) -> Problem:
    orders = [make_order("C", "P2", "BC", next_dose_s=None if next_dose is None else clock(next_dose))]
    orders += [make_order(f"O{n}", f"P{n}", "CBC") for n in (1, 3, 4)]
    patients = [make_patient(f"P{n}", f"B{n}") for n in range(1, 5)]
    return make_problem(orders, patients, **policy)


@pytest.mark.slow
def test_culture_is_late_after_the_dose_and_the_checker_counts_the_same() -> None:
    problem = culture("05:00")
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    (drawn_s,) = (v.draw_s for r in plan.routes for v in r.visits if "C" in v.order_ids)
    late = plan.part(Part.LATE).value
    assert late == drawn_s - clock("05:00") > 0
    without = replace(problem, orders=tuple(replace(o, next_dose_s=None) for o in problem.orders))
    assert "goal-value" in check_plan(without, plan).codes()
    assert check_plan(problem, plan).is_clean
