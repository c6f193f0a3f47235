"""Minimises several terms strictly one after the other, in one search where the numbers allow it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ortools.sat.python import cp_model

from planner.solving.cp_sat import run_cp_sat
from planner.solving.outcome import CpOutcome, SolveStatus
from planner.solving.params import SolveParams

LARGEST_SUM = 2**31 - 1
"""Above this the solver's floating-point bound could be off by one whole unit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """A linear expression to be made small, never below 0 and never above ``highest``."""

    expression: Any
    highest: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StagedOutcome:
    """The last search that had a solution (None when the first had none) and whether every stage was proven.

    Without a solution ``is_proven`` means that there is none.
    """

    outcome: CpOutcome | None
    is_proven: bool
    hit_wall_guard: bool


def minimise_in_turn(
    model: cp_model.CpModel,
    terms: Sequence[Term],
    params: SolveParams,
    *,
    deterministic_limit: float,
    keep: Sequence[cp_model.IntVar] = (),
) -> StagedOutcome:
    """Minimise the first term, then the second among its optima, and so on.

    Neighbouring terms are put into one sum as long as that stays below 2^31: with terms a (0 to 9) and b (0 to
    99), 100 a + b orders the pairs (a, b) exactly as comparing a first and b then does.

    Parameters
    ----------
    model
        The model; it is extended by what each stage has fixed.
    terms
        Most important first.
    params, deterministic_limit
        As for `run_cp_sat`; the limit holds for each stage.
    keep
        Variables whose values are handed to the next stage as its hint.
    """
    last: CpOutcome | None = None
    for stage in _stages(terms):
        model.minimize(_weighted_sum(stage))
        outcome = run_cp_sat(model, params, deterministic_limit=deterministic_limit)
        if not outcome.status.has_solution:
            is_none = last is None and outcome.status is SolveStatus.INFEASIBLE
            return StagedOutcome(outcome=last, is_proven=is_none, hit_wall_guard=outcome.hit_wall_guard)
        last = outcome
        if not outcome.is_proven:
            return StagedOutcome(outcome=outcome, is_proven=False, hit_wall_guard=outcome.hit_wall_guard)
        for term in stage:
            model.add(term.expression == outcome.value(term.expression))
        model.clear_hints()  # type: ignore[no-untyped-call]  # the library does not type it
        for variable in keep:
            model.add_hint(variable, outcome.value(variable))
    return StagedOutcome(outcome=last, is_proven=last is not None, hit_wall_guard=False)


def _stages(terms: Sequence[Term]) -> list[list[Term]]:
    """Return runs of neighbouring terms whose combined sum stays below the limit."""
    stages: list[list[Term]] = []
    size = 0
    for term in terms:
        span = term.highest + 1
        if stages and size * span <= LARGEST_SUM:
            stages[-1].append(term)
            size *= span
        else:
            stages.append([term])
            size = span
    return stages


def _weighted_sum(stage: Sequence[Term]) -> Any:
    """Return the sum in which one unit of a term outweighs all that the later terms can come to."""
    weight = 1
    total: Any = 0
    for term in reversed(stage):
        total = total + weight * term.expression
        weight *= term.highest + 1
    return total
