"""Running a model: statuses, whole numbers, limits, interruption."""

from __future__ import annotations

import math
import os
import signal
import threading
import time
from collections.abc import Iterator

import pytest
from ortools.sat.python import cp_model

from planner.errors import SolverError
from planner.solving.cp_sat import run_cp_sat
from planner.solving.outcome import SolveStatus, safe_lower_bound
from planner.solving.params import SolveParams

PARAMS = SolveParams()


def hard_model() -> cp_model.CpModel:
    """Pigeons: 13 of them, 12 holes, counted by differences; the proof takes far longer than a test may."""
    model = cp_model.CpModel()
    inside = [[model.new_bool_var("") for _ in range(12)] for _ in range(13)]
    for row in inside:
        model.add(sum(row) <= 1)
    for hole in range(12):
        for i in range(13):
            for j in range(i):
                model.add_bool_or([inside[i][hole].negated(), inside[j][hole].negated()])
    weights = [[(7 * i * i + 13 * h * i + h) % 101 for h in range(12)] for i in range(13)]
    model.maximize(sum(weights[i][h] * inside[i][h] for i in range(13) for h in range(12)))
    return model


def test_optimum_is_recomputed_in_whole_numbers() -> None:
    # x + 2y over 0..10 with x + y >= 7: all of it in x, 7 + 3 (the constant).
    model = cp_model.CpModel()
    x, y = model.new_int_var(0, 10, "x"), model.new_int_var(0, 10, "y")
    model.add(x + y >= 7)
    model.minimize(x + 2 * y + 3)
    outcome = run_cp_sat(model, PARAMS, deterministic_limit=1.0)
    assert (outcome.status, outcome.objective, outcome.bound) == (SolveStatus.OPTIMAL, 10, 10)
    assert (outcome.value(x), outcome.value(x + y)) == (7, 7)
    assert not outcome.hit_wall_guard


def test_maximum_has_its_sign() -> None:
    model = cp_model.CpModel()
    x = model.new_int_var(0, 4, "x")
    model.maximize(5 * x - 1)
    outcome = run_cp_sat(model, PARAMS, deterministic_limit=1.0)
    assert (outcome.objective, outcome.bound) == (19, 19)


def test_infeasible_model_has_no_values() -> None:
    model = cp_model.CpModel()
    x = model.new_int_var(0, 1, "x")
    model.add(x >= 1)
    model.add(x <= 0)
    outcome = run_cp_sat(model, PARAMS, deterministic_limit=1.0)
    assert (outcome.status, outcome.objective, outcome.bound) == (SolveStatus.INFEASIBLE, None, None)


def test_invalid_model_is_refused_with_the_reason() -> None:
    model = cp_model.CpModel()
    x = model.new_int_var(-(2**62), 2**62, "x")
    model.add(4 * x <= 1)
    with pytest.raises(SolverError, match="not valid"):
        run_cp_sat(model, PARAMS, deterministic_limit=1.0)


def test_work_limit_repeats_and_is_not_the_clock() -> None:
    outcomes = [run_cp_sat(hard_model(), PARAMS, deterministic_limit=0.02) for _ in range(2)]
    assert outcomes[0].objective == outcomes[1].objective
    assert outcomes[0].bound == outcomes[1].bound
    assert not outcomes[0].hit_wall_guard


def test_wall_guard_says_that_it_struck() -> None:
    outcome = run_cp_sat(hard_model(), PARAMS, deterministic_limit=1e6, wall_limit_s=0.001)
    assert outcome.status in (SolveStatus.FEASIBLE, SolveStatus.UNKNOWN)
    assert outcome.hit_wall_guard


def test_listener_hears_of_better_solutions() -> None:
    heard: list[tuple[int, int]] = []

    class Listener:
        def improved(self, objective: int, bound: int, wall_s: float) -> None:
            heard.append((objective, bound))
            assert wall_s >= 0

    outcome = run_cp_sat(hard_model(), PARAMS, deterministic_limit=5.0, listener=Listener())
    assert heard[-1][0] == outcome.objective
    assert all(bound >= objective for objective, bound in heard)


@pytest.fixture
def heard_interrupts() -> Iterator[None]:
    """Let SIGINT be heard: a shell that runs the tests in its background hands it down as ignored."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def test_interrupt_stops_the_search_and_is_passed_on(heard_interrupts: None) -> None:
    threading.Timer(0.3, os.kill, (os.getpid(), signal.SIGINT)).start()
    began = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        run_cp_sat(endless_model(), PARAMS, deterministic_limit=1e6, wall_limit_s=30)
    assert time.monotonic() - began < 10


def endless_model() -> cp_model.CpModel:
    """A market-split problem of 6 rows and 50 columns: known to take hours."""
    model = cp_model.CpModel()
    chosen = [model.new_bool_var("") for _ in range(50)]
    state, rows = 12345, []
    for _ in range(6):
        row = []
        for _ in range(50):
            state = (1103515245 * state + 12345) % 2**31
            row.append(state // 65536 % 100)
        rows.append(row)
    for row in rows:
        model.add(sum(a * c for a, c in zip(row, chosen, strict=True)) == sum(row) // 2)
    return model


@pytest.mark.parametrize(
    ("bound", "whole"), [(6.9999999, 7), (6.01, 7), (7.0000001, 7), (7.0, 7), (-2.5, -2), (math.inf, None)]
)
def test_bound_is_rounded_to_the_safe_side(bound: float, whole: int | None) -> None:
    assert safe_lower_bound(bound) == whole


@pytest.mark.parametrize("wrong", [{"effort": "wild"}, {"workers": 0}, {"seed": -1}, {"wall_limit_s": 0.0}])
def test_senseless_parameters_are_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(ValueError):
        SolveParams(**wrong)
