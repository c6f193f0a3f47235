"""A glucose tolerance test with fewer orders than samples is a decision. Five wards with equal bed numbers."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.domain.plan import Plan, Route
from planner.findings import Finding
from planner.visits.remarks import visit_findings
from tests.replan_builders import make_visit
from tests.three_wards import five_ward_tables, load_tables


def samples_missing(folder: Path, times: list[str]) -> list[Finding]:
    """Return what is said where the patient of Tern 3A is to be drawn at these times, and one of Heron 1A at three."""
    tables = five_ward_tables()
    for patient, asked in (("T0502", times), ("H0101", ["07:10", "08:10", "09:10"])):
        for n, at in enumerate(asked):
            tables["orders"].append(
                {
                    "order_number": f"{patient}G{n}",
                    "patient_number": patient,
                    "test": "OGTT75",
                    "series": "G",
                    "collect_at": f"2026-03-10 {at}",
                }
            )
    problem = load_tables(tables, folder)
    visits = [make_visit(problem, [f"{p}G{n}"], at) for p, asked in (("T0502", times), ("H0101", ["07:10"]))
              for n, at in enumerate(asked)]  # fmt: skip
    plan = Plan(routes=(Route(phlebotomist=0, stops=tuple(visits)),), unplanned=(), goals=())
    return [f for f in visit_findings(problem, plan) if f.code == "samples-missing"]


@pytest.mark.parametrize("times", [["07:10"], ["07:10", "08:10"]])
def test_fewer_orders_than_samples_is_a_decision(tmp_path: Path, times: list[str]) -> None:
    (finding,) = samples_missing(tmp_path / "five", times)
    assert "bed Tern 3A: OGTT75 has 3 samples, and the list orders" in finding.message
    assert finding.order_ids == tuple(f"T0502G{n}" for n in range(len(times)))


def test_all_samples_ask_nothing(tmp_path: Path) -> None:
    assert samples_missing(tmp_path / "five", ["07:10", "08:10", "09:10"]) == []
