"""What is said to a person about tube sets: blood flags, many tubes, missing proof, and orders that wait."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from planner.domain.catalogue import Importance, TestCode, TubeCode
from planner.domain.draws import TubeSet, VisitRequest
from planner.domain.orders import Order, Patient, Priority
from planner.domain.patients.ages import is_limited
from planner.domain.patients.blood_limits import BloodLimits
from planner.domain.plan import Reason, Unplanned
from planner.domain.problem import Problem
from planner.findings import Report, Severity
from planner.tubes.cultures import is_in_gap
from planner.tubes.demands import Demand
from planner.tubes.kinds import is_culture_test
from planner.units import format_ml

_IMPORTANCE_WORDS = {
    Importance.VITAL: "a vital test",
    Importance.ACUTE: "for today's treatment",
    Importance.USUAL: "seldom needed within hours",
    Importance.LATER: "can wait for another day",
}
"""Why a test had its place when orders were left out: after the priority, by what its result is for."""


def waiting(problem: Problem, orders: Iterable[Order], reason: Reason, detail: str) -> list[Unplanned]:
    """Return the orders as not planned, with the reason."""
    return [Unplanned.of(order, reason, detail, bed=problem.patient_of(order).bed) for order in orders]


def limit_detail(demand: Demand, limits: BloodLimits, drawn_ul: int) -> str:
    """Return why a demand waits: the limit, what the round draws, what the test would need at least."""
    urgent = min((order.priority for order in demand.orders), key=list(Priority).index)
    return (
        f"blood limit: {limits.because}; this round draws {format_ml(drawn_ul)} mL and {demand.test.code} "
        f"({urgent.value}; {_IMPORTANCE_WORDS[demand.test.importance]}) needs at least {format_ml(demand.need_ul)} mL; "
        "draw it later, or ask for leave"
    )


def remark_on_cultures(problem: Problem, report: Report, patient: Patient, orders: Sequence[Order]) -> None:
    """Say where the culture table of the policy has no readable row for a child's weight."""
    cultures = [o for o in orders if is_culture_test(problem.catalogue, problem.test_of(o))]
    if not cultures or patient.weight_g is None or not is_limited(problem, patient):
        return
    if is_in_gap(problem.policy.tubes.weight_table_cultures, patient.weight_g):
        message = (
            f"bed {problem.place_name(patient.bed)}: "
            f"culture table b has no readable row for {patient.weight_g / 1000:g} kg; the row below "
            "it is used; set table a, or state the volume"
        )
        report.add("culture-table-gap", Severity.WARNING, message, order_ids=_ids(cultures))


def remark_on_visit(
    problem: Problem, report: Report, request: VisitRequest, tube_set: TubeSet, limits: BloodLimits | None
) -> None:
    """Flag a visit with many tubes, a large share of a child's blood, or no proof."""
    most = problem.policy.tubes.max_tubes_per_draw
    ids = _ids(request.orders)
    if tube_set.num_tubes > most:
        message = (
            f"bed {problem.place_name(request.bed)}: "
            f"{tube_set.num_tubes} tubes in one draw, more than {most}; consider two visits"
        )
        report.add("many-tubes", Severity.WARNING, message, order_ids=ids)
    if not tube_set.is_proven:
        message = (
            f"bed {problem.place_name(request.bed)}: "
            f"a limit ended the search; a smaller tube set may exist; try --effort thorough"
        )
        report.add("tube-set-not-proven", Severity.WARNING, message, order_ids=ids)
    if limits is not None:
        share = problem.policy.blood.child_visit_warn_tbv_pct
        if tube_set.volume_ul * 100 > share * limits.total_ul:
            message = (
                f"bed {problem.place_name(request.bed)}: "
                f"{format_ml(tube_set.volume_ul)} mL in one visit is more than {share:g} % of the "
                f"child's blood ({format_ml(limits.total_ul)} mL)"
            )
            report.add("blood-visit-share", Severity.WARNING, message, order_ids=ids)


def remark_on_series(
    problem: Problem, report: Report, patient: Patient, differing: Iterable[tuple[Demand, TubeCode]]
) -> None:
    """Say where a test of a series cannot be drawn into the kind of the draw before (rule ``series-kind``)."""
    order_ids: dict[tuple[TestCode, TubeCode], list[str]] = {}
    for demand, made in differing:
        order_ids.setdefault((demand.test.code, made), []).extend(demand.order_ids)
    for (test, made), ids in order_ids.items():
        kind = problem.catalogue.tubes.get(made)
        message = (
            f"bed {problem.place_name(patient.bed)}: "
            f"{test} was drawn into {kind.name if kind else made} before, which this round "
            "cannot use; the values may not compare, tell the laboratory"
        )
        report.add("series-kind-differs", Severity.WARNING, message, order_ids=ids)


def remark_on_round(problem: Problem, report: Report, patient: Patient, orders: Sequence[Order], drawn_ul: int) -> None:
    """Flag what an adult gives in 24 hours, and a child whose earlier draws are not known."""
    if is_limited(problem, patient):
        if patient.drawn_24h_ul is None:
            part = problem.policy.blood.unknown_drawn_pct
            message = (
                f"bed {problem.place_name(patient.bed)}: "
                f"what was drawn from the child in the last 24 h is not known; at most {part:g} % "
                "of the day's limit is planned, and the card asks"
            )
            report.add("blood-history-unknown", Severity.NOTE, message, order_ids=_ids(orders))
        return
    today_ul = drawn_ul + (problem.drawn_24h_ul(patient) or 0)
    flag_ul = problem.policy.blood.adult_flag_24h_ul
    if today_ul > flag_ul:
        stay_ul = patient.drawn_30d_ul
        stay = "" if stay_ul is None else f" ({format_ml(max(today_ul, stay_ul + drawn_ul))} mL in 30 days)"
        message = (
            f"bed {problem.place_name(patient.bed)}: "
            f"{format_ml(today_ul)} mL in 24 h with this round{stay}, over {format_ml(flag_ul)} mL; "
            "consider small-volume tubes or fewer tests"
        )
        report.add("blood-adult-flag", Severity.WARNING, message, order_ids=_ids(orders))


def _ids(orders: Iterable[Order]) -> tuple[str, ...]:
    return tuple(sorted(order.id for order in orders))
