"""The whole path from a problem to a checked plan: windows, visits, tubes, routes, and the independent checker."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from planner.checker import check_plan
from planner.domain.draws import Draw
from planner.domain.plan import Plan, Unplanned
from planner.domain.problem import Problem
from planner.errors import CheckRefusedError
from planner.findings import Finding, Severity
from planner.scheduling import schedule
from planner.solving.params import SolveParams
from planner.tubes import choose_tubes
from planner.visits import build_draws, group_into_visits, order_windows
from planner.visits.draws import uncollected_weight

Listener = Callable[[str, Sequence[int]], None]


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

    draws: tuple[Draw, ...]
    unplanned: tuple[Unplanned, ...]
    findings: tuple[Finding, ...]


def prepare_round(problem: Problem, params: SolveParams) -> PreparedRound:
    """Return the draws of a problem with their minimal tube sets; every order is in a draw or unplanned."""
    windows, without_window = order_windows(problem)
    requests = group_into_visits(problem, windows)
    choice = choose_tubes(problem, requests, params)
    draws, without_start = build_draws(problem, requests, choice.tube_sets)
    return PreparedRound(
        draws=draws,
        unplanned=(*without_window, *choice.postponed, *without_start),
        findings=tuple(choice.findings),
    )


def plan_round(
    problem: Problem, params: SolveParams, listener: Listener = lambda _stage, _values: None
) -> PlannedRound:
    """Return a plan that the independent checker has passed.

    Raises
    ------
    CheckRefusedError
        If the checker finds a rule broken or a figure wrong; it carries the findings.
    """
    prepared = prepare_round(problem, params)
    lost_weight = sum(
        uncollected_weight(problem, problem.order(u.order_id)) for u in prepared.unplanned if u.reason.needs_decision
    )
    outcome = schedule(
        problem,
        prepared.draws,
        params,
        unplanned=prepared.unplanned,
        lost_weight=lost_weight,
        listener=listener,
    )
    report = check_plan(problem, outcome.plan)
    if not report.is_clean:
        raise CheckRefusedError(report.errors)
    findings = [*prepared.findings, *report]
    if outcome.hit_wall_guard:
        findings.append(
            Finding(
                code="wall-clock-guard",
                severity=Severity.WARNING,
                message=f"the search was ended by the clock after {params.wall_limit_s:g} s, not by its work; "
                "a run on an idle machine may give another plan",
            )
        )
    findings += [
        Finding(
            code="solver-trouble", severity=Severity.WARNING, message=f"{text}; its proof is missing, the plan stands"
        )
        for text in outcome.trouble
    ]
    return PlannedRound(
        plan=outcome.plan,
        draws=prepared.draws,
        findings=tuple(findings),
        hit_wall_guard=outcome.hit_wall_guard,
        was_interrupted=outcome.was_interrupted,
    )
