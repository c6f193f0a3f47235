"""What nobody reported and a person must ask about: visits that count as done, stat draws that are due, left orders."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import chain

from planner.domain.draws import DrawId
from planner.domain.orders import OrderId
from planner.domain.plan import Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past
from planner.domain.revisions.reported import Reported
from planner.findings import Finding, Severity
from planner.replanning.past.open_visits import is_stat, unanswered


def unreported(
    problem: Problem,
    plan: Plan,
    past: Sequence[Past],
    reports: Iterable[Reported],
    now_s: int,
    left_out: Collection[DrawId] = (),
) -> tuple[Finding, ...]:
    """Return what a person must ask about.

    Parameters
    ----------
    problem, plan
        The revision that is replanned.
    past, reports
        What happened by ``now_s``, and what was reported of it.
    left_out
        Visits that their phlebotomists were told to leave out, by what is taken back now.
    """
    reported: dict[DrawId, list[Reported]] = {}
    for report in reports:
        reported.setdefault(report.draw_id, []).append(report)
    return tuple(
        chain(
            _assumed(problem, past, now_s),
            _stats(problem, plan, past, now_s, left_out, reported),
            _left(problem, plan, past, reported),
        )
    )


def _assumed(problem: Problem, past: Iterable[Past], now_s: int) -> Iterator[Finding]:
    """Yield the finding that more visits are assumed to be done than the policy allows."""
    done = {
        one.phlebotomist: [
            stop
            for index, stop in enumerate(one.stops)
            if index in one.assumed and isinstance(stop, Visit) and stop.depart_s <= now_s
        ]
        for one in past
    }
    number, limit = sum(map(len, done.values())), problem.policy.replan.assumed_done_limit
    if number > limit:
        people = [(problem.staff[person].initials, visits) for person, visits in done.items() if visits]
        counts = ", ".join(f"{initials} {len(visits)}" for initials, visits in people)
        beds = "; ".join(f"{initials} {', '.join(_bed(problem, v) for v in visits)}" for initials, visits in people)
        initials, visits = people[0]
        at = problem.clock.format_clock(max(visit.draw_s for visit in visits))
        yield Finding(
            code="assumed-done",
            severity=Severity.WARNING,
            message=f"{number} visits count as done although nobody reported them (at most {limit}): {counts}. Ask "
            f'each how far: --done "{initials}={at}". Who was not drawn would be missed: {beds}',
        )


def _stats(
    problem: Problem,
    plan: Plan,
    past: Iterable[Past],
    now_s: int,
    left_out: Collection[DrawId],
    reported: Collection[DrawId],
) -> Iterator[Finding]:
    """Yield a finding for each stat draw that was due by now and that nobody reported: it is still to come."""
    made = {stop.draw_id for one in past for stop in one.stops if isinstance(stop, Visit)}
    before = {v.draw_id for v in problem.replan.visits} if problem.replan else set()
    for route in plan.routes:
        for visit in route.visits:
            was_due = unanswered(problem, visit)
            if visit.draw_id in made or visit.draw_id in reported or not (is_stat(problem, visit) or was_due):
                continue
            over_s = visit.draw_s if visit.draw_id in left_out else visit.depart_s
            is_due = over_s <= now_s and (visit.outcome is None or visit.draw_id in before)
            if is_due or was_due is not None:
                bed = _bed(problem, visit)
                who = problem.staff[route.phlebotomist if was_due is None else was_due.phlebotomist].initials
                at = problem.clock.format_clock(visit.draw_s if was_due is None else was_due.draw_s)
                typed = ",".join(visit.order_ids) if _has_others(plan, past, visit) else bed
                yield Finding(
                    code="stat-unreported",
                    severity=Severity.WARNING,
                    message=f"bed {bed}: ask {who} about the stat of {at} before anybody draws: it is not reported. "
                    f'If it was drawn: --drawn "{typed}={at} by {who}"; until then it is planned',
                    order_ids=visit.order_ids,
                )


def _has_others(plan: Plan, past: Iterable[Past], visit: Visit) -> bool:
    """Return whether the patient of a visit has another: the bed alone does not say which of them is meant."""
    planned = chain.from_iterable(route.visits for route in plan.routes)
    made = (stop for one in past for stop in one.stops if isinstance(stop, Visit))
    return any(v.patient_id == visit.patient_id and v.draw_id != visit.draw_id for v in chain(planned, made))


def _left(
    problem: Problem, plan: Plan, past: Iterable[Past], reported: Mapping[DrawId, Sequence[Reported]]
) -> Iterator[Finding]:
    """Yield a finding for each visit of which some orders are reported and others are not."""
    planned: dict[DrawId, tuple[OrderId, ...]] = {
        visit.draw_id: (*visit.order_ids, *visit.tried) for route in plan.routes for visit in route.visits
    }
    for visit in (stop for one in past for stop in one.stops if isinstance(stop, Visit)):
        orders = planned.get(visit.draw_id, ()) if visit.draw_id in reported else ()
        if left := [order for order in orders if order not in (*visit.order_ids, *visit.tried)]:
            yield Finding(
                code="report-incomplete",
                severity=Severity.WARNING,
                message=f"bed {_bed(problem, visit)}: other orders of this visit are reported, {', '.join(left)} not; "
                "what is not reported is planned as still to come",
                order_ids=tuple(left),
            )


def _bed(problem: Problem, visit: Visit) -> str:
    return problem.place_name(visit.place)
