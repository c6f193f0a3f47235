"""Ctrl-C and the guard of the clock, whenever they come, leave the best plan so far."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import pytest

from planner.domain.problem import Problem
from planner.pipeline import plan_round
from planner.scheduling.compact.compact_start import SEARCHES
from planner.solving.params import SolveParams
from tests.benchmark.rounds import generated_problem

STAGES = {
    "compact routes": "planner.scheduling.compact.compact_start.compact_walks",
    "search": "planner.scheduling.scheduler.improve",
    "proof": "planner.solving.cp_sat.run_cp_sat",
}
"""Where a round spends its time, the first plan apart."""


@pytest.fixture(scope="module")
def short_round() -> Problem:
    """Return a round that cannot be made whole, so that every stage is asked for."""
    return generated_problem(3, 8, 1, room=0.35)


@pytest.mark.slow
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
