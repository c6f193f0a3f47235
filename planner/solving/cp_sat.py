"""Runs a CP-SAT model repeatably: the one place that touches the solver."""

from __future__ import annotations

import threading
import time
from typing import Any

from ortools.sat.python import cp_model

from planner.errors import SolverError
from planner.solving.outcome import CpOutcome, SolveStatus, safe_lower_bound
from planner.solving.params import SolveParams
from planner.solving.progress import ProgressListener
from planner.solving.stopping import CTRL_C

_STATUS = {
    cp_model.OPTIMAL: SolveStatus.OPTIMAL,
    cp_model.FEASIBLE: SolveStatus.FEASIBLE,
    cp_model.INFEASIBLE: SolveStatus.INFEASIBLE,
    cp_model.UNKNOWN: SolveStatus.UNKNOWN,
}


class _Teller(cp_model.CpSolverSolutionCallback):
    """Passes every better solution on to the listener."""

    def __init__(self, model: cp_model.CpModel, listener: ProgressListener) -> None:
        super().__init__()
        self._model = model
        self._listener = listener

    def on_solution_callback(self) -> None:
        """Tell the listener."""
        bound = _bound(self._model, self.best_objective_bound)
        objective = round(self.objective_value)
        self._listener.improved(objective, objective if bound is None else bound, self.wall_time)


ASKED_EVERY_S = 0.2
"""So often a search is asked whether Ctrl-C was heard."""


def run_cp_sat(
    model: cp_model.CpModel,
    params: SolveParams,
    *,
    deterministic_limit: float,
    wall_limit_s: float | None = None,
    listener: ProgressListener | None = None,
) -> CpOutcome:
    """Search a model and return what came out.

    Parameters
    ----------
    model
        The model, with or without an objective; hints are its own.
    params
        Seed, workers and the wall-clock guard.
    deterministic_limit
        Work the search may do, in the solver's deterministic seconds (near seconds on an idle machine).
    wall_limit_s
        Another guard than ``params.wall_limit_s``, in seconds.
    listener
        Told of each better solution.

    Returns
    -------
    CpOutcome
        Status, values, recomputed objective and safe bound.

    Raises
    ------
    SolverError
        If the model is not valid, or the solver ends in a way that nobody foresaw.
    KeyboardInterrupt
        If the person presses Ctrl-C; the search is stopped first.
    """
    if text := model.validate():
        raise SolverError(f"the model is not valid: {text}")
    guard_s = params.wall_limit_s if wall_limit_s is None else wall_limit_s
    solver = _new_solver(params, deterministic_limit, guard_s)
    began_s = time.monotonic()
    status = _solve(solver, model, None if listener is None else _Teller(model, listener))
    took_s = time.monotonic() - began_s
    if status not in _STATUS:
        raise SolverError(f"the solver ended with status {solver.status_name(status)}")
    known = _STATUS[status]
    did_work = solver.response_proto.deterministic_time
    stopped_early = known in (SolveStatus.FEASIBLE, SolveStatus.UNKNOWN)
    return CpOutcome(
        status=known,
        value=solver.value,
        objective=_objective(model, solver) if known.has_solution and model.has_objective() else None,
        bound=_proven(model, solver, known),
        wall_s=solver.wall_time,
        hit_wall_guard=stopped_early and did_work < deterministic_limit and took_s >= 0.95 * guard_s,
    )


def _new_solver(params: SolveParams, deterministic_limit: float, guard_s: float) -> cp_model.CpSolver:
    """Return a solver whose search stops on work done; the clock is a guard."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = params.workers
    solver.parameters.random_seed = params.seed
    solver.parameters.max_deterministic_time = deterministic_limit
    solver.parameters.max_time_in_seconds = guard_s
    # The solver's own handler would swallow Ctrl-C and return as if nothing had happened.
    solver.parameters.catch_sigint_signal = False
    return solver


def _solve(solver: cp_model.CpSolver, model: cp_model.CpModel, teller: _Teller | None) -> Any:
    """Search in a thread, so that the main thread is free to notice Ctrl-C, stops the search and passes it on."""
    result: list[Any] = []

    def search() -> None:
        try:
            result.append(solver.solve(model, teller))
        except BaseException as error:  # carried over to the caller's thread and raised there
            result.append(error)

    thread = threading.Thread(target=search, name="cp-sat", daemon=True)
    thread.start()
    try:
        is_over = False
        while not is_over:
            thread.join(ASKED_EVERY_S)
            if CTRL_C.is_asked:
                raise KeyboardInterrupt
            is_over = not thread.is_alive()
    except KeyboardInterrupt:
        solver.stop_search()
        thread.join()
        raise
    if isinstance(result[0], BaseException):
        raise result[0]
    return result[0]


def _objective(model: cp_model.CpModel, solver: cp_model.CpSolver) -> int:
    """Return the objective in whole numbers, summed from the values (the solver reports a float)."""
    proto = model.proto.objective
    total = sum(
        coefficient * solver.response_proto.solution[index]
        for index, coefficient in zip(proto.vars, proto.coeffs, strict=True)
    )
    objective: int = round((total + proto.offset) * (proto.scaling_factor or 1.0))
    return objective


def _bound(model: cp_model.CpModel, best: float) -> int | None:
    """Return the solver's bound as a whole number that is safe in the direction of the objective."""
    if (model.proto.objective.scaling_factor or 1.0) > 0:
        return safe_lower_bound(best)
    upper = safe_lower_bound(-best)
    return None if upper is None else -upper


def _proven(model: cp_model.CpModel, solver: cp_model.CpSolver, status: SolveStatus) -> int | None:
    """Return what the search has proven about the objective, None when there is nothing to prove."""
    if not model.has_objective() or status is SolveStatus.INFEASIBLE:
        return None
    if status is SolveStatus.OPTIMAL:
        return _objective(model, solver)
    return _bound(model, solver.best_objective_bound)
