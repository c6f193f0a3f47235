"""What is dear to load is loaded only where it is needed: somebody waits at the phone."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow


ROOT = Path(__file__).parents[3]

PLAN = """
import sys
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import make_order, make_problem
plan = plan_round(make_problem(orders=[make_order("A1", "P1", "CBC")]), SolveParams(effort="quick", proves=False)).plan
assert plan.routes
"""
"""A round without a proof, each of whose visits is served by one tube a group."""

DEAR = "ortools", "numba", "pandas", "numpy", "openpyxl", "matplotlib", "networkx"


def loaded(script: str) -> set[str]:
    """Return which of the dear libraries a script loads."""
    lines = f"{script}\nprint(*(name for name in {DEAR!r} if name in sys.modules))"
    done = subprocess.run([sys.executable, "-c", lines], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return set(done.stdout.split())


def test_planning_without_proofs_loads_no_solver() -> None:
    assert loaded(PLAN) == {"numpy", "numba"}  # routes are timed by compiled code
    assert "ortools" in loaded(PLAN.replace("proves=False", "proves=True"))


def test_a_round_too_large_to_prove_loads_no_solver() -> None:
    proving = PLAN.replace("proves=False", "proves=True")
    too_large = f"import planner.scheduling.scheduler as scheduler\nscheduler.MAX_EFFORT_ARCS = 0\n{proving}"
    assert "ortools" not in loaded(too_large)


def test_writing_a_revision_loads_nothing_for_tables_or_pictures() -> None:
    # Workbook and pictures are the second process's affair; json, table and report are made here.
    modules = "cli.replan cli.revision library.printing library.writing library.replanning"
    modules += " exporters.specimens exporters.plan_json exporters.view.build"
    modules += (
        " exporters.terminal.replan_summary replanning.urgent.impossible replanning.addons.late loaders.during.progress"
    )
    assert loaded("import sys\n" + "\n".join(f"import planner.{name}" for name in modules.split())) == set()


def test_looking_at_a_round_loads_no_compiler() -> None:
    check = "import planner; assert planner.check('inputs/alder-ward').draws"
    assert loaded(f"import sys; {check}") == {"numpy", "networkx"}
