"""`import planner` is the public surface: its names are listed, documented, typed, and cheap until they are used."""

from __future__ import annotations

import inspect
import re
import subprocess
import sys
from pathlib import Path
from types import FunctionType, ModuleType

import pytest

import planner
from planner import PlannerError

ROOT = Path(__file__).parents[2]
ALWAYS_ANSWER = {"catalogue", "default_policy", "hazards"}
"""Functions that have nothing to refuse: they read only what is built in."""
FUNCTIONS = ALWAYS_ANSWER | {
    "alternatives", "check", "explain", "explain_share", "load", "names", "new", "plan", "read", "replan", "sign_off",
    "write", "write_sheets",
}  # fmt: skip
RESULTS = {
    "Alternative",
    "Explanation",
    "InputCheck",
    "LoadedRound",
    "PlanCheck",
    "Revision",
    "RoundNames",
    "RoundPlan",
    "ShareExplanation",
    "SignOff",
}
ROWS = {"Hazard", "LabTest"}
GIVEN = {"News"}
FINDINGS = {"Finding", "Severity", "Source"}
ERRORS = {
    "CheckRefusedError", "InputError", "NotUnderstoodError", "OutputError", "PlanFileError", "PlannerError",
    "RequestError", "SolverError",
}  # fmt: skip


def test_public_names_are_these() -> None:
    """A change of this list is a change for other programs: say it in README's changes."""
    assert set(planner.__all__) == FUNCTIONS | RESULTS | ROWS | GIVEN | FINDINGS | ERRORS | {"__version__"}
    assert planner.__all__ == sorted(planner.__all__)


def test_types_see_the_same_names_as_programs_do() -> None:
    source = (ROOT / "planner/__init__.py").read_text(encoding="utf-8")
    typed = dict(re.findall(r"    from planner\.([\w.]+) import (?:\w+) as (\w+)", source))
    names = {name: home for home, name in re.findall(r"    from planner\.([\w.]+) import (?:\w+) as (\w+)", source)}
    assert typed
    assert names == planner._HOMES
    assert names.keys() == set(planner.__all__) - {"__version__"}


@pytest.mark.parametrize("name", sorted(FUNCTIONS))
def test_function_is_typed_and_says_what_it_takes_and_raises(name: str) -> None:
    function = getattr(planner, name)
    assert isinstance(function, FunctionType)
    signature = inspect.signature(function)
    assert signature.return_annotation is not inspect.Signature.empty
    assert all(p.annotation is not inspect.Parameter.empty for p in signature.parameters.values())
    text = inspect.getdoc(function) or ""
    assert ("Parameters\n----------" in text) == bool(signature.parameters)
    assert ("Raises\n------" in text) == (name not in ALWAYS_ANSWER)
    described = {part.strip() for line in re.findall(r"^[\w, ]+$", text, re.MULTILINE) for part in line.split(",")}
    assert set(signature.parameters) <= described, name


@pytest.mark.parametrize("name", sorted(RESULTS | ROWS | GIVEN | FINDINGS | ERRORS))
def test_class_is_documented(name: str) -> None:
    assert inspect.getdoc(getattr(planner, name))


def test_every_error_that_we_raise_is_one_of_ours() -> None:
    assert {name for name in planner.__all__ if inspect.isclass(value := getattr(planner, name)) and
            issubclass(value, PlannerError)} == ERRORS  # fmt: skip


def test_import_alone_loads_nothing_else() -> None:
    code = "import sys, planner; print(*sorted(m for m in sys.modules if m.startswith('planner')))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["planner"]


def test_unknown_name_is_no_public_name() -> None:
    with pytest.raises(AttributeError, match="no attribute 'lod'"):
        _ = planner.lod
    assert set(planner.__all__) <= set(dir(planner))
    from planner import pipeline

    assert isinstance(pipeline, ModuleType)
