"""The whole path from a problem to a checked plan: windows, visits, tubes, routes, and the independent checker."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from planner.checker import check_plan
from planner.domain.draws import Draw
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.errors import CheckRefusedError
from planner.findings import Finding, Severity
from planner.prepared import PreparedRound, lost_weight, prepare_round, with_tubes
from planner.regrouping import Regrouping
from planner.scheduling import ScheduleOutcome, schedule
from planner.solving.params import SolveParams
from planner.visits.remarks import visit_findings

Listener = Callable[[str, Sequence[int], Sequence[int]], None]
"""Told of the stage, the goals' values and their bounds."""

MAX_REGROUPINGS = 2
"""A round whose visits were changed is searched anew, and its visits are looked at once more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRound:
    """A checked plan, the draws it was made from, and what is worth saying about it."""

    plan: Plan
    draws: tuple[Draw, ...]
    findings: tuple[Finding, ...]
    hit_wall_guard: bool = False
    was_interrupted: bool = False


def plan_round(
    problem: Problem, params: SolveParams, listener: Listener = lambda _stage, _values, _bounds: None
) -> PlannedRound:
    """Return a plan that the independent checker has passed.

    Raises
    ------
    CheckRefusedError
        If the checker finds a rule broken or a figure wrong; it carries the findings.
    """
    prepared = prepare_round(problem, params)
    outcome = _scheduled(problem, prepared, params, listener)
    for _ in range(MAX_REGROUPINGS):
        regrouping = Regrouping(problem, params, prepared, outcome.plan, outcome.was_interrupted)
        if not regrouping.run():
            break
        prepared = with_tubes(problem, regrouping.prepared.requests, params)
        outcome = _scheduled(problem, prepared, params, listener, regrouping.plan)
    report = check_plan(problem, outcome.plan)
    if not report.is_clean:
        raise CheckRefusedError(report.errors)
    return PlannedRound(
        plan=outcome.plan,
        draws=prepared.draws,
        findings=(
            *prepared.findings,
            *visit_findings(problem, outcome.plan),
            *report,
            *_search_findings(outcome, params),
        ),
        hit_wall_guard=outcome.hit_wall_guard,
        was_interrupted=outcome.was_interrupted,
    )


def _scheduled(
    problem: Problem, prepared: PreparedRound, params: SolveParams, listener: Listener, start: Plan | None = None
) -> ScheduleOutcome:
    return schedule(
        problem,
        prepared.draws,
        params,
        unplanned=prepared.unplanned,
        lost_weight=lost_weight(problem, prepared.unplanned),
        listener=listener,
        start=start,
    )


def _search_findings(outcome: ScheduleOutcome, params: SolveParams) -> list[Finding]:
    """Return what is worth saying of the search itself."""
    findings = [
        Finding(
            code="solver-trouble", severity=Severity.WARNING, message=f"{text}; its proof is missing, the plan stands"
        )
        for text in outcome.trouble
    ]
    if outcome.was_interrupted:
        message = "the search was stopped by hand; the plan is the best found until then, and planning again goes on"
        findings.append(Finding(code="stopped-early", severity=Severity.WARNING, message=message))
    if outcome.hit_wall_guard:
        message = (
            f"the search was ended by the clock after {params.wall_limit_s:g} s, not by its work; "
            "a run on an idle machine may give another plan"
        )
        findings.append(Finding(code="wall-clock-guard", severity=Severity.WARNING, message=message))
    return findings
