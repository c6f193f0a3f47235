"""A round with visits of which one is due, and how reports and findings are compared."""

from __future__ import annotations

from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.domain.revisions.reported import Reported
from planner.findings import Finding
from tests.builders import clock, make_order, make_problem
from tests.replan_builders import make_plan, make_visit

NOW_S = clock("05:42")


def ward_round() -> tuple[Problem, Plan]:
    """Beds B1 to B3: P1 has two orders in one visit, P2 one, P3 two visits of which the first is due."""
    problem = make_problem(
        [
            make_order("O1", "P1"),
            make_order("O2", "P1", "BMP"),
            make_order("O3", "P2"),
            make_order("O4", "P3", "TNT", series="T"),
            make_order("O5", "P3", "TNT", series="T"),
        ]
    )
    return problem, make_plan(
        [
            make_visit(problem, ["O1", "O2"], "05:10"),
            make_visit(problem, ["O3"], "05:20"),
            make_visit(problem, ["O4"], "05:30"),
            make_visit(problem, ["O5"], "06:30"),
        ]
    )


def codes(findings: tuple[Finding, ...]) -> list[str]:
    return [f.code for f in findings if f.code not in ("file-format", "extra-columns")]


def told(reports: tuple[Reported, ...]) -> list[tuple[tuple[str, ...], str, int | None]]:
    return [(r.order_ids, r.outcome.value, r.at_s) for r in reports]
