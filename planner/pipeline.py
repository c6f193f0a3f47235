"""The whole path from a problem to a checked plan: windows, visits, tubes, routes, and the independent checker."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from planner.checker import check_plan
from planner.domain.draws import Draw, VisitRequest
from planner.domain.plan import Plan, Unplanned
from planner.domain.problem import Problem
from planner.errors import CheckRefusedError
from planner.findings import Finding, Severity
from planner.scheduling import ScheduleOutcome, schedule
from planner.solving.params import SolveParams
from planner.tubes import choose_tubes
from planner.visits import build_draws, group_into_visits, order_windows
from planner.visits.draws import uncollected_weight
from planner.visits.splitting import split_by_stability

Listener = Callable[[str, Sequence[int], Sequence[int]], None]
"""Told of the stage, the goals' values and their bounds."""

MAX_SPLITS = 3
"""Late visits that are tried in two parts; each trial schedules the round anew."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRound:
    """A checked plan, the draws it was made from, and what is worth saying about it."""

    plan: Plan
    draws: tuple[Draw, ...]
    findings: tuple[Finding, ...]
    hit_wall_guard: bool = False
    was_interrupted: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PreparedRound:
    """What is known before anybody walks: draws with their tubes, and orders that cannot be drawn, with reasons."""

    requests: tuple[VisitRequest, ...]
    draws: tuple[Draw, ...]
    unplanned: tuple[Unplanned, ...]
    findings: tuple[Finding, ...]


def prepare_round(problem: Problem, params: SolveParams) -> PreparedRound:
    """Return the draws of a problem with their minimal tube sets; every order is in a draw or unplanned."""
    windows, without_window = order_windows(problem)
    return _with_tubes(problem, group_into_visits(problem, windows), without_window, params)


def _with_tubes(
    problem: Problem, requests: tuple[VisitRequest, ...], without_window: tuple[Unplanned, ...], params: SolveParams
) -> PreparedRound:
    choice = choose_tubes(problem, requests, params)
    draws, without_start = build_draws(problem, requests, choice.tube_sets)
    return PreparedRound(
        requests=requests,
        draws=draws,
        unplanned=(*without_window, *choice.postponed, *without_start),
        findings=tuple(choice.findings),
    )


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
    if not outcome.was_interrupted and problem.replan is None:
        prepared, outcome = _split_where_late(problem, prepared, outcome, params, listener)
    report = check_plan(problem, outcome.plan)
    if not report.is_clean:
        raise CheckRefusedError(report.errors)
    return PlannedRound(
        plan=outcome.plan,
        draws=prepared.draws,
        findings=(*prepared.findings, *report, *_search_findings(outcome, params)),
        hit_wall_guard=outcome.hit_wall_guard,
        was_interrupted=outcome.was_interrupted,
    )


def _scheduled(problem: Problem, prepared: PreparedRound, params: SolveParams, listener: Listener) -> ScheduleOutcome:
    lost_weight = sum(
        uncollected_weight(problem, problem.order(u.order_id)) for u in prepared.unplanned if u.reason.needs_decision
    )
    return schedule(
        problem,
        prepared.draws,
        params,
        unplanned=prepared.unplanned,
        lost_weight=lost_weight,
        listener=listener,
    )


def _split_where_late(
    problem: Problem, prepared: PreparedRound, outcome: ScheduleOutcome, params: SolveParams, listener: Listener
) -> tuple[PreparedRound, ScheduleOutcome]:
    """Try to split late visits whose specimens keep differently long; keep a split that makes the goals better.

    A stat culture need not wait with a lactate for the courier that the lactate must catch: lateness counts before
    punctures.
    """
    for draw in _late_draws(prepared, outcome)[:MAX_SPLITS]:
        requests = split_by_stability(prepared.requests, draw)
        if requests is None:
            continue
        _windows, without_window = order_windows(problem)
        other = _with_tubes(problem, requests, without_window, params)
        trial = _scheduled(problem, other, params, listener)
        if trial.was_interrupted:
            break
        if _values(trial) < _values(outcome):
            prepared, outcome = other, trial
    return prepared, outcome


def _late_draws(prepared: PreparedRound, outcome: ScheduleOutcome) -> list[Draw]:
    """Return the draws that are made past a target, the costliest first."""
    drawn_s = {visit.draw_id: visit.draw_s for route in outcome.plan.routes for visit in route.visits}
    cost = {
        draw.id: sum(weight * max(0, drawn_s[draw.id] - target_s) for target_s, weight in draw.targets)
        for draw in prepared.draws
        if draw.id in drawn_s
    }
    late = [draw for draw in prepared.draws if cost.get(draw.id, 0) > 0]
    return sorted(late, key=lambda draw: (-cost[draw.id], draw.id))


def _values(outcome: ScheduleOutcome) -> tuple[int, ...]:
    return tuple(goal.value for goal in outcome.plan.goals)


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
