"""Ctrl-C and the guard of the clock, whenever they come, leave the best plan so far."""

from __future__ import annotations

import pkgutil
import signal
import time
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from ortools.sat.python import cp_model
from typer.testing import CliRunner

import planner
from planner.cli.app import app
from planner.domain.problem import Problem
from planner.library.beside import Beside
from planner.pipeline import plan_round
from planner.scheduling.compact.compact_start import SEARCHES
from planner.solving.cp_sat import run_cp_sat
from planner.solving.params import SolveParams
from planner.solving.stopping import CTRL_C
from tests.benchmark.rounds import generated_problem

pytestmark = pytest.mark.slow

STAGES = {
    "compact routes": "planner.scheduling.compact.compact_start.compact_walks",
    "search": "planner.scheduling.scheduler.improve",
    "proof": "planner.scheduling.exact.capacity.run_cp_sat",
}
"""Where a round spends its time, the first plan apart."""


@pytest.fixture(scope="module")
def short_round() -> Problem:
    """Return a round that cannot be made whole, so that every stage is asked for."""
    return generated_problem(3, 8, 1, room=0.35)


@pytest.mark.parametrize("stage", STAGES)
def test_ctrl_c_keeps_the_plan_in_hand(short_round: Problem, stage: str, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def stop(*_args: Any, **_options: Any) -> None:
        asked.append(stage)
        raise KeyboardInterrupt

    monkeypatch.setattr(STAGES[stage], stop)
    outcome = plan_round(short_round, SolveParams(effort="quick"))
    assert asked
    assert outcome.was_interrupted
    assert any(route.stops for route in outcome.plan.routes)


def test_ctrl_c_ends_the_other_search_too(short_round: Problem, monkeypatch: pytest.MonkeyPatch) -> None:
    ended: list[bool] = []

    def walks(*_args: Any, seed: int, should_stop: Callable[[], bool], **_options: Any) -> Any:
        if seed % 2 == 0:
            raise KeyboardInterrupt
        until = time.monotonic() + 10
        while not should_stop() and time.monotonic() < until:
            time.sleep(0.01)
        ended.append(should_stop())

    monkeypatch.setattr(STAGES["compact routes"], walks)
    assert plan_round(short_round, SolveParams(effort="quick", wall_limit_s=600.0)).was_interrupted
    assert ended == [True]


def test_guard_of_the_clock_ends_the_search_for_compact_routes(
    short_round: Problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard: list[bool] = []

    def walks(*_args: Any, should_stop: Callable[[], bool], **_options: Any) -> Any:
        heard.append(should_stop())
        raise KeyboardInterrupt

    monkeypatch.setattr(STAGES["compact routes"], walks)
    plan_round(short_round, SolveParams(effort="quick", wall_limit_s=1e-6))
    assert heard == [True] * SEARCHES


LATER = {
    "search": "planner.scheduling.scheduler.improve",
    "other visits": "planner.regrouping.with_other_visits",
    "reasons": "planner.scheduling.scheduler.unplanned_orders",
    "check": "planner.pipeline.check_plan",
}
"""Where Ctrl-C may come once there is a plan."""


@pytest.mark.parametrize("stage", LATER)
def test_ctrl_c_when_there_is_a_plan_ends_with_it_wherever_it_comes(
    short_round: Problem, stage: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[str] = []
    real = pkgutil.resolve_name(LATER[stage])

    def pressed(*args: Any, **options: Any) -> Any:
        if not begun:
            CTRL_C.hear(signal.SIGINT, None)
        begun.append(stage)
        return real(*args, **options)

    monkeypatch.setattr(LATER[stage], pressed)
    with CTRL_C.heard():
        outcome = plan_round(short_round, SolveParams(effort="quick", wall_limit_s=600.0))
        assert CTRL_C.is_asked
    assert begun == [stage]  # what is long is not begun again
    assert any(route.stops for route in outcome.plan.routes)
    assert outcome.was_interrupted is (stage != "check")


def test_ctrl_c_before_there_is_a_plan_ends_the_program(short_round: Problem, monkeypatch: pytest.MonkeyPatch) -> None:
    def pressed(*_args: Any) -> None:
        CTRL_C.hear(signal.SIGINT, None)

    monkeypatch.setattr("planner.scheduling.scheduler.first_round", pressed)
    with CTRL_C.heard(), pytest.raises(KeyboardInterrupt):
        plan_round(short_round, SolveParams(effort="quick"))


def test_second_ctrl_c_ends_the_program() -> None:
    with CTRL_C.heard():
        CTRL_C.has_plan = True
        CTRL_C.hear(signal.SIGINT, None)
        with pytest.raises(KeyboardInterrupt):
            CTRL_C.hear(signal.SIGINT, None)
    assert not CTRL_C.is_asked


def test_ctrl_c_is_heard_this_way_only_where_python_would_raise_for_it() -> None:
    before = signal.getsignal(signal.SIGINT)
    try:
        for handler, heard in ((signal.default_int_handler, CTRL_C.hear), (signal.SIG_IGN, signal.SIG_IGN)):
            signal.signal(signal.SIGINT, handler)
            with CTRL_C.heard():
                assert signal.getsignal(signal.SIGINT) == heard
            assert signal.getsignal(signal.SIGINT) == handler
    finally:
        signal.signal(signal.SIGINT, before)


def test_solver_ends_when_ctrl_c_was_heard() -> None:
    model = cp_model.CpModel()
    model.new_int_var(0, 1, "x")
    with CTRL_C.heard():
        CTRL_C.is_asked = True
        with pytest.raises(KeyboardInterrupt):
            run_cp_sat(model, SolveParams(), deterministic_limit=1.0)


def test_one_clock_guards_all_searches_of_a_round() -> None:
    params = SolveParams(wall_limit_s=50.0).begun()
    assert params.begun() is params
    assert 40.0 < params.left_s <= 50.0
    assert not params.is_over
    late = replace(params, deadline_s=time.monotonic() - 1)
    assert late.is_over
    assert late.left_s == pytest.approx(0.1)


def test_plan_that_is_interrupted_while_it_is_written_is_written_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = planner.write

    def pressed(*args: Any, **options: Any) -> Any:
        CTRL_C.hear(signal.SIGINT, None)
        return real(*args, **options)

    monkeypatch.setattr("planner.write", pressed)
    monkeypatch.setattr("planner.cli.plan.second_process", lambda _load: nullcontext(Beside(None)))
    orders = tmp_path / "list.csv"
    orders.write_text("order_number,patient_number,birth_date,bed,test\n1,P1,1950-01-31,1,CBC\n", encoding="utf-8")
    command = ["plan", str(orders), "--date", "2026-03-10", "--out", str(tmp_path / "out"), "--effort", "quick"]
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        done = CliRunner().invoke(app, command)
    finally:
        signal.signal(signal.SIGINT, before)
    assert done.exit_code in (0, 3), done.output
    assert {"plan.json", "run.json", "round-sheet.html"} <= {file.name for file in (tmp_path / "out" / "r1").iterdir()}
