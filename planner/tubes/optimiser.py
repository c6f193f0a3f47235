"""Chooses the tubes of every visit: minimal, within a child's blood limits, with what must be said about them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from planner.domain.catalogue import Handling
from planner.domain.draws import DrawId, TubeSet, VisitRequest
from planner.domain.orders import Order, Patient, PatientId
from planner.domain.patients.ages import is_child, is_limited
from planner.domain.patients.blood_limits import BloodLimits, blood_limits
from planner.domain.plan import Reason, SetAside, Unplanned
from planner.domain.problem import Problem
from planner.findings import Finding, Report, Severity
from planner.solving.params import SolveParams
from planner.tubes.assemble import assemble
from planner.tubes.choice import Choice, Chooser
from planner.tubes.demands import Demand, demands_of
from planner.tubes.kinds import is_capillary, small_uses_for
from planner.tubes.remarks import (
    limit_detail,
    remark_on_cultures,
    remark_on_round,
    remark_on_series,
    remark_on_visit,
    waiting,
)
from planner.tubes.series_kind import in_one_kind, kinds_that_differ
from planner.tubes.unsettled import Unsettled, report_unsettled, unsettled
from planner.units import format_ml


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeChoice:
    """The tube sets by visit, the orders that are in none and why, and what a person should know."""

    tube_sets: Mapping[DrawId, TubeSet]
    postponed: tuple[Unplanned, ...]
    findings: tuple[Finding, ...]


@dataclass(slots=True)
class _Work:
    """What is collected patient by patient."""

    tube_sets: dict[DrawId, TubeSet] = field(default_factory=dict)
    postponed: list[Unplanned] = field(default_factory=list)
    report: Report = field(default_factory=Report)
    unsettled: list[tuple[Patient, Sequence[Order], Unsettled]] = field(default_factory=list)


def choose_tubes(problem: Problem, requests: Sequence[VisitRequest], params: SolveParams) -> TubeChoice:
    """Return the tube set of every visit, proven minimal unless it says otherwise.

    Goals strictly in order: fewest tubes, least blood (the discard included), the tests' preferred kinds, then a
    fixed tie-break (the search runs on a canonical form of the problem, so the order of the input changes
    nothing). A child over a blood limit gets smaller tubes, then its least urgent orders wait.

    Parameters
    ----------
    problem
        The round.
    requests
        The visits to choose tubes for; all visits of a patient count towards the daily limit.
    params
        Seed and effort of the search.

    Returns
    -------
    TubeChoice
        A visit all of whose orders wait has no tube set. Every other order is in exactly one.
    """
    chooser = Chooser(problem, params)
    by_patient: dict[PatientId, list[VisitRequest]] = defaultdict(list)
    for request in sorted(requests, key=lambda r: r.id):
        by_patient[request.patient_id].append(request)
    work = _Work()
    for patient_id in sorted(by_patient):
        _choose_for(problem, problem.patients[patient_id], by_patient[patient_id], chooser, work)
    report_unsettled(problem, work.unsettled, work.report)
    return TubeChoice(
        tube_sets={draw: work.tube_sets[draw] for draw in sorted(work.tube_sets)},
        postponed=tuple(sorted(work.postponed, key=lambda u: u.order_id)),
        findings=tuple(work.report.findings),
    )


def _choose_for(
    problem: Problem, patient: Patient, requests: Sequence[VisitRequest], chooser: Chooser, work: _Work
) -> None:
    """Choose the tubes of one patient's visits."""
    orders = sorted((order for request in requests for order in request.orders), key=lambda o: o.id)
    if (question := unsettled(problem, patient)) is not None:
        work.postponed += waiting(problem, orders, question.reason, question.detail)
        work.unsettled.append((patient, orders, question))
        return
    is_by_weight = is_limited(problem, patient) and patient.weight_g is not None
    limits = blood_limits(problem, patient, patient.weight_g or 0) if is_by_weight else None
    remark_on_cultures(problem, work.report, patient, orders)
    visits = [_drawable(problem, demands_of(problem, request), work) for request in requests]
    all_demands = [demand for demands in visits for demand in demands]
    remark_on_series(problem, work.report, patient, kinds_that_differ(problem, patient.id, all_demands))
    ways = [
        (demands, [chooser.choose(patient, of_visit) for of_visit in demands])
        for demands in in_one_kind(problem, requests, visits)
    ]
    visits, choices = min(ways, key=lambda way: _cost(way[1]))
    if limits is not None and _is_over(choices, limits):
        drawable = [{demand.key for demand in demands} for demands in visits]
        smaller = [
            [demand for demand in demands_of(problem, request, small_uses_for(problem, patient)) if demand.key in keys]
            for request, keys in zip(requests, drawable, strict=True)
        ]
        each = list(in_one_kind(problem, requests, smaller))
        choices = _within_limits(problem, patient, each, choices, limits, chooser.params, work)
    elif not all(choice.is_proven for _, chosen in ways for choice in chosen):
        choices = [replace(choice, is_proven=False) for choice in choices]
    for request, choice in zip(requests, choices, strict=True):
        if choice.filled:
            tube_set = assemble(problem, patient, choice)
            work.tube_sets[request.id] = tube_set
            remark_on_visit(problem, work.report, request, tube_set, limits)
        if choice.hit_wall_guard:
            message = (
                f"bed {problem.place_name(patient.bed)}: "
                f"the clock ended the search for tubes; the set may differ between runs"
            )
            work.report.add("wall-clock-guard", Severity.WARNING, message)
    remark_on_round(problem, work.report, patient, orders, sum(choice.volume_ul for choice in choices))


def _drawable(problem: Problem, demands: Sequence[Demand], work: _Work) -> list[Demand]:
    """Return the demands that some container serves; the orders of the others are set aside."""
    drawable = []
    for demand in demands:
        if (why := _why_not(problem, demand)) is not None:
            work.postponed += waiting(problem, demand.orders, why.reason, why.detail)
            message = f"bed {problem.place_name(problem.patient_of(demand.orders[0]).bed)}: {why.detail}"
            work.report.add("no-tube", Severity.ERROR, message, order_ids=demand.order_ids)
        else:
            drawable.append(demand)
    return drawable


def _why_not(problem: Problem, demand: Demand) -> SetAside | None:
    """Return why a demand is set aside: no container, or a heel test, which is no draw of the round."""
    patient = problem.patient_of(demand.orders[0])
    code, from_skin = demand.test.code, is_capillary(problem, patient)
    if Handling.HEEL_ONLY in demand.test.handling and not is_child(problem, patient):
        return SetAside(
            Reason.HEEL_TEST, f"{code} is taken from a newborn's heel, and this patient is none; ask who was meant"
        )
    if Handling.HEEL_ONLY in demand.test.handling and (demand.can_be_drawn or from_skin):
        return SetAside(Reason.HEEL_TEST, f"{code} is a heel test by ward staff or a trained person, never from a vein")
    if demand.can_be_drawn:
        return None
    if from_skin:
        return SetAside(Reason.NOT_CAPILLARY, f"{code} is not drawn from heel or finger; have it drawn from a vein")
    return SetAside(Reason.NO_TUBE, f"no tube of a size that the patient may have serves {code}; ask the laboratory")


def _cost(choices: Sequence[Choice]) -> tuple[int, ...]:
    """Return tubes, blood and preference of a patient's visits together."""
    return tuple(map(sum, zip(*(choice.cost for choice in choices), strict=True)))


def _is_over(choices: Sequence[Choice], limits: BloodLimits) -> bool:
    if sum(choice.volume_ul for choice in choices) > limits.round_ul:
        return True
    return limits.draw_ul is not None and any(choice.volume_ul > limits.draw_ul for choice in choices)


def _within_limits(
    problem: Problem,
    patient: Patient,
    ways: Sequence[Sequence[Sequence[Demand]]],
    unlimited: Sequence[Choice],
    limits: BloodLimits,
    params: SolveParams,
    work: _Work,
) -> list[Choice]:
    """Return choices within the limits, of the ways (see `in_one_kind`) the best; list what waits, or say that
    smaller tubes were enough.
    """
    from planner.tubes.limited import choose_within  # needs the solver, which takes long to load

    limited = min(
        (choose_within(problem, patient, visits, limits, params) for visits in ways),
        key=lambda found: (sum(demand.weight for demand in found.postponed), *_cost(found.choices)),
    )
    drawn_ul = sum(choice.volume_ul for choice in limited.choices)
    before_ul = sum(choice.volume_ul for choice in unlimited)
    for demand in limited.postponed:
        detail = limit_detail(demand, limits, drawn_ul)
        work.postponed += waiting(problem, demand.orders, Reason.BLOOD_LIMIT, detail)
    ids = [order_id for demand in limited.postponed for order_id in demand.order_ids]
    saved = f"{format_ml(before_ul)} mL would pass the limit ({limits.because})"
    if ids:
        message = (
            f"bed {problem.place_name(patient.bed)}: "
            f"{saved}; {format_ml(drawn_ul)} mL are drawn; not drawn: {', '.join(ids)}"
        )
        work.report.add("blood-limit-reached", Severity.ERROR, message, order_ids=ids)
    else:
        message = f"bed {problem.place_name(patient.bed)}: {saved}; smaller tubes take {format_ml(drawn_ul)} mL"
        work.report.add("blood-limit-smaller-tubes", Severity.NOTE, message)
    return list(limited.choices)
