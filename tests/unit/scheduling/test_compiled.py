"""Compiled code is kept where it can be, made anew where it cannot, and done without where there is no compiler."""

from __future__ import annotations

import pickle
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import FunctionType

import numba
import pytest

from planner.scheduling import compiled
from tests.helpers import ROOT

PLAN = """
import sys
if sys.argv[1] == "without":
    sys.modules["numba"] = None  # importing it fails
from planner.exporters.plan_json.codec import encode
from planner.pipeline import plan_round
from planner.scheduling.compiled import why_slow
from planner.solving.params import SolveParams
from tests.builders import make_order, make_phlebotomist, make_problem
orders = [make_order(f"O{n}{test}", f"P{n}", test) for n in range(1, 5) for test in ("CBC", "LFT")]
staff = [make_phlebotomist("AB"), make_phlebotomist("CD")]
problem = make_problem(orders, staff=staff)
print(encode(plan_round(problem, SolveParams(effort="quick", proves=False)).plan))
print(why_slow(), file=sys.stderr)
"""


@pytest.mark.slow
def test_plan_without_a_compiler_is_the_same_and_the_reason_is_known() -> None:
    plans, reasons = [], []
    for way in ("with", "without"):
        done = subprocess.run([sys.executable, "-c", PLAN, way], cwd=ROOT, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        plans.append(done.stdout)
        reasons.append(done.stderr.strip().splitlines()[-1])
    assert plans[0] == plans[1]
    assert len(plans[0]) > 1000
    assert reasons[0] == "None"
    assert reasons[1].startswith("the compiler numba cannot be used (")


@compiled.compiled
def twice(number: int) -> int:
    return 2 * number


def fourfold(number: int) -> int:
    return twice(twice(number))


def test_what_is_compiled_calls_what_is_compiled_and_python_what_is_python(monkeypatch: pytest.MonkeyPatch) -> None:
    compiled_of: list[FunctionType] = []

    def compiler(function: FunctionType, **_options: bool) -> FunctionType:
        compiled_of.append(function)
        return function

    monkeypatch.setattr("numba.njit", compiler)
    run = compiled.kept_on_disk()(fourfold)
    assert compiled_of == [], "nothing is compiled before it is called"
    assert run(3) == fourfold(3) == 12
    assert {function.__name__ for function in compiled_of} == {"twice", "fourfold"}
    for function in compiled_of:
        assert function not in (twice, fourfold)
        assert function.__globals__["twice"] is not twice or "twice" not in function.__code__.co_names


@pytest.mark.parametrize(
    "error", [OSError("disk full"), EOFError(), pickle.UnpicklingError(), IndexError(), ValueError()]
)
def test_what_the_compiler_cannot_keep_is_compiled_anew(error: Exception, monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[tuple[object, ...]] = []

    def compiler(_function: object, *, nogil: bool, cache: bool = False) -> Callable[..., None]:
        def kept(*_arguments: object) -> None:
            raise error

        return kept if cache else lambda *arguments: made.append(arguments)

    monkeypatch.setattr("numba.njit", compiler)
    run = compiled.kept_on_disk()(lambda *_arguments: None)
    if isinstance(error, ValueError):  # anything else is a fault, and not hidden
        with pytest.raises(ValueError):
            run(1, 2)
    else:
        run(1, 2)
        assert made == [(1, 2)]


@pytest.mark.parametrize(
    ("chosen", "prefix", "folder"), [("", "/v", "/v/cache"), ("", "/base", ""), ("/own", "/v", "/own")]
)
def test_code_is_kept_in_the_virtual_environment_and_not_in_the_package(
    chosen: str, prefix: str, folder: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What lies in an installed package stays behind when it is uninstalled, and hides the package from Python then."""
    seen: dict[bool, str] = {}

    def compiler(function: Callable[[], None], *, nogil: bool, cache: bool = False) -> Callable[[], None]:
        seen[cache] = str(numba.config.CACHE_DIR)
        return function

    monkeypatch.setattr("numba.njit", compiler)
    monkeypatch.setattr(numba.config, "CACHE_DIR", chosen)
    monkeypatch.setattr(sys, "prefix", prefix)
    monkeypatch.setattr(sys, "base_prefix", "/base")
    compiled.kept_on_disk()(lambda: None)()
    assert Path(seen[True]) == Path(folder)
    assert chosen == numba.config.CACHE_DIR, "what other programs set is left as it was"


def test_without_a_folder_to_keep_it_in_code_is_compiled_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    def compiler(function: Callable[[int], int], *, nogil: bool, cache: bool = False) -> Callable[[int], int]:
        if cache:
            raise RuntimeError("no locator available")
        return function

    monkeypatch.setattr("numba.njit", compiler)
    assert compiled.kept_on_disk()(lambda number: number + 1)(1) == 2
