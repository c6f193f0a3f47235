"""The whole path from a problem to a checked plan: windows, visits, tubes, routes, and the independent checker."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from planner.checker import check_plan
from planner.domain.derived.isolation import isolation_findings
from planner.domain.derived.need_by import need_by_findings
from planner.domain.derived.two_samples import second_samples, two_sample_findings
from planner.domain.draws import Draw, DrawId, OrderWindow
from planner.domain.orders import OrderId
from planner.domain.plan import Plan, Reason, Unplanned
from planner.domain.problem import Problem
from planner.domain.wishes import policy_wished
from planner.errors import CheckRefusedError
from planner.findings import Finding, Severity
from planner.prepared import PreparedRound, lost_weight, prepare_round, with_tubes
from planner.regrouping import Regrouping
from planner.scheduling import ScheduleOutcome, schedule
from planner.scheduling.scheduler import TRIAL_WORK
from planner.solving.params import SolveParams
from planner.visits.remarks import visit_findings

Listener = Callable[[str, Sequence[int], Sequence[int]], None]
"""Told of the stage, the goals' values and their bounds."""

MAX_REGROUPINGS = 2
"""A round whose visits were changed is searched anew, and its visits are looked at once more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRound:
    """A checked plan, the draws and windows it was made from, and what is worth saying about it."""

    plan: Plan
    draws: tuple[Draw, ...]
    windows: Mapping[OrderId, OrderWindow]
    findings: tuple[Finding, ...]
    hit_wall_guard: bool = False
    was_interrupted: bool = False
    refused: tuple[Finding, ...] = ()
    """What the checker found in plans that it refused, before it passed this one."""


def plan_round_or_less(
    problem: Problem, params: SolveParams, listener: Listener = lambda _stage, _values, _bounds: None
) -> PlannedRound:
    """Return a plan that the independent checker has passed, if need be without the orders that it named before.

    Whoever needs a sheet at 04:30 gets one: the orders named are listed as needing a decision, they count as left out,
    and a finding says of each refusal what was refused.

    Raises
    ------
    CheckRefusedError
        If the checker names no order, or refuses what is left too; it carries the findings of all refusals.
    """
    params = params.begun()
    refused: list[Finding] = []
    left_out: list[Unplanned] = []
    while True:
        try:
            planned = plan_round(problem, params, listener, left_out)
        except CheckRefusedError as error:
            refused += error.findings
            named = {order_id for finding in error.findings for order_id in finding.order_ids}
            more = _left_out(problem, named - {entry.order_id for entry in left_out})
            left_out += more
            if not more or len(left_out) == len(problem.open_orders):
                raise CheckRefusedError(tuple(refused)) from error
            continue
        return replace(planned, refused=tuple(refused), findings=(*map(_told_again, refused), *planned.findings))


def _left_out(problem: Problem, named: Collection[str]) -> list[Unplanned]:
    return [
        Unplanned.of(
            order,
            Reason.CHECK_REFUSED,
            "the check of the program's own work refused a plan with it, and the round was planned without it",
            bed=problem.patient_of(order).bed,
        )
        for order in problem.open_orders
        if order.id in named
    ]


def _told_again(finding: Finding) -> Finding:
    message = (
        f"a plan was refused by the check of the program's own work ({finding.code}: {finding.message}); the round was "
        "planned again without the orders named"
    )
    return Finding(code="plan-refused", severity=Severity.ERROR, message=message, order_ids=finding.order_ids)


def plan_round(
    problem: Problem,
    params: SolveParams,
    listener: Listener = lambda _stage, _values, _bounds: None,
    left_out: Sequence[Unplanned] = (),
) -> PlannedRound:
    """Return a plan that the independent checker has passed; no visit serves the orders ``left_out``.

    A plan that is wished (``params.wish``) is searched with other prices, and counted and checked with the round's own.

    Raises
    ------
    CheckRefusedError
        If the checker finds a rule broken or a figure wrong; it carries the findings.
    """
    listed, params = {entry.order_id for entry in left_out}, params.begun()
    wish = params.wish
    searched = problem if wish is None else replace(problem, policy=policy_wished(problem.policy, wish))
    prepared = _without(prepare_round(searched, params, left_out), listed, left_out)
    outcome = _scheduled(searched, prepared, params, listener)
    for _ in range(MAX_REGROUPINGS):
        regrouping = Regrouping(
            searched, params, prepared, outcome.plan, outcome.was_interrupted, outcome.hit_wall_guard
        )
        is_changed = regrouping.run()
        outcome = replace(outcome, hit_wall_guard=regrouping.hit_wall_guard, was_interrupted=regrouping.was_interrupted)
        if not is_changed:
            break
        prepared = _without(
            with_tubes(searched, prepared.windows, regrouping.prepared.requests, params), listed, left_out
        )
        outcome = _ended_as(outcome, _scheduled(searched, prepared, params, listener, regrouping.plan))
    prepared, outcome = _by_two_people(searched, prepared, outcome, params, listener)
    if wish is not None:
        prepared = _without(with_tubes(problem, prepared.windows, prepared.requests, params), listed, left_out)
        counted = _scheduled(problem, prepared, params, listener, outcome.plan, is_found=True)
        outcome = replace(_ended_as(outcome, counted), trouble=(*outcome.trouble, *counted.trouble))
    report = check_plan(problem, outcome.plan)
    if not report.is_clean:
        raise CheckRefusedError(report.errors)
    decisions = (*isolation_findings(problem, outcome.plan), *two_sample_findings(problem, outcome.plan))
    told = {(finding.code, frozenset(finding.order_ids)) for finding in decisions}
    return PlannedRound(
        plan=outcome.plan,
        draws=prepared.draws,
        windows=prepared.windows.of,
        findings=(
            *prepared.findings,
            *visit_findings(problem, outcome.plan),
            *(finding for finding in report if (finding.code, frozenset(finding.order_ids)) not in told),
            *need_by_findings(problem, outcome.plan),
            *decisions,
            *_search_findings(outcome, params),
        ),
        hit_wall_guard=outcome.hit_wall_guard,
        was_interrupted=outcome.was_interrupted,
    )


def _without(prepared: PreparedRound, listed: Collection[str], left_out: Sequence[Unplanned]) -> PreparedRound:
    """Return the round with orders left out by somebody else listed once, for the reason given there."""
    others = (entry for entry in prepared.unplanned if entry.order_id not in listed)
    return replace(prepared, unplanned=(*others, *left_out))


def _scheduled(
    problem: Problem,
    prepared: PreparedRound,
    params: SolveParams,
    listener: Listener,
    start: Plan | None = None,
    *,
    is_found: bool = False,
) -> ScheduleOutcome:
    """Return a plan of the visits; ``is_found``: the start as it is, counted with the prices of ``problem``."""
    return schedule(
        problem,
        prepared.draws,
        params,
        unplanned=prepared.unplanned,
        lost_weight=lost_weight(problem, prepared.unplanned),
        listener=listener,
        start=start,
        is_trial=is_found,
        trial_work=0 if is_found else TRIAL_WORK,
    )


def _by_two_people(
    problem: Problem, prepared: PreparedRound, outcome: ScheduleOutcome, params: SolveParams, listener: Listener
) -> tuple[PreparedRound, ScheduleOutcome]:
    """Return the round with each second sample for the blood bank drawn by another person than the first.

    The search starts again from the plan found, and its result stays if it leaves out no more and nothing is later.
    """
    if problem.policy.transfusion.one_person_may_draw_both:
        return prepared, outcome
    not_by: dict[DrawId, set[int]] = {}
    for (person, first), (second, later) in second_samples(problem, outcome.plan):
        if person == second and later.outcome is None:
            not_by.setdefault(first.draw_id, set()).update(set(range(len(problem.staff))) - {person})
            not_by.setdefault(later.draw_id, set()).add(person)
    if not not_by or len(problem.staff) < 2:
        return prepared, outcome
    draws = tuple(replace(draw, not_by=draw.not_by | not_by.get(draw.id, set())) for draw in prepared.draws)
    parted = replace(prepared, draws=draws)
    other = _ended_as(outcome, _scheduled(problem, parted, params, listener, outcome.plan))
    before, after = ([goal.value for goal in found.plan.goals[:2]] for found in (outcome, other))
    is_worse = any(now > was for was, now in zip(before, after, strict=True))
    return (prepared, outcome) if is_worse else (parted, other)


def _ended_as(before: ScheduleOutcome, outcome: ScheduleOutcome) -> ScheduleOutcome:
    """Return an outcome that says too how the search before it ended: it began from what that one had found."""
    return replace(
        outcome,
        hit_wall_guard=before.hit_wall_guard or outcome.hit_wall_guard,
        was_interrupted=before.was_interrupted or outcome.was_interrupted,
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
