"""What follows from what was told of visits: who is tried again, by whom and when, and what is settled by a person."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from planner.domain.orders import OrderId
from planner.domain.plan import Outcome, Plan, Reason, Unplanned, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Answered, Past, Retry
from planner.domain.revisions.reported import Reported
from planner.replanning.past.happened import as_told, outcomes_told


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """Orders that are not drawn again without a person's word, and those that are."""

    set_aside: tuple[Unplanned, ...]
    retries: tuple[Retry, ...]


_LISTED = {
    Outcome.REFUSED: (Reason.REFUSED, "refused at {at}"),
    Outcome.UNIDENTIFIED: (Reason.NOT_IDENTIFIED, "identity not certain at {at}"),
    Outcome.PARTIAL: (Reason.PARTLY_DRAWN, "drawn in part at {at}"),
}


def answers(plan: Plan, reports: Iterable[Reported], now_s: int) -> tuple[Answered, ...]:
    """Return the visits that reports end although nobody was there."""
    said = {report.draw_id: report for report in reports if not report.was_there}
    return tuple(
        Answered(phlebotomist=route.phlebotomist, visit=as_told(visit, [said[visit.draw_id]], now_s))
        for route in plan.routes
        for visit in route.visits
        if visit.draw_id in said
    )


def settle(
    problem: Problem, past: Iterable[Past], reports: Sequence[Reported], answered: Iterable[Answered] = ()
) -> Settled:
    """Return what becomes of the orders that visits did not bring, as far as this was told now.

    Refused, partial and unidentified ones are listed for a decision. Who was away is tried again after
    `ReplanPolicy.retry_after_s`, a failed attempt by somebody else; what is to be recollected simply stays open.
    """
    listed: list[Unplanned] = []
    retries = {retry.order_id: retry for retry in (problem.replan.retries if problem.replan else ())}
    told: dict[str, list[Reported]] = {}
    for report in reports:
        told.setdefault(report.draw_id, []).append(report)
    for one in past:
        for visit in one.stops:
            if not isinstance(visit, Visit) or visit.draw_id not in told:
                continue
            for order_id, outcome in outcomes_told(visit, told[visit.draw_id]).items():
                if outcome in _LISTED:
                    listed += _listed(problem, visit, order_id, outcome)
                elif outcome in (Outcome.AWAY, Outcome.UNSUCCESSFUL):
                    before = retries.get(order_id, Retry(order_id=order_id))
                    retries[order_id] = _again(problem, before, one.phlebotomist, visit, outcome)
    for visit in (answer.visit for answer in answered):
        for order_id in visit.tried:
            listed += _listed(problem, visit, order_id, visit.outcome or Outcome.REFUSED)
    return Settled(set_aside=tuple(listed), retries=tuple(retries[key] for key in sorted(retries)))


def _again(problem: Problem, before: Retry, person: int, visit: Visit, outcome: Outcome) -> Retry:
    if outcome is Outcome.UNSUCCESSFUL:
        return replace(before, not_by=before.not_by | {person})
    return replace(before, not_before_s=visit.draw_s + problem.policy.replan.retry_after_s)


def _listed(problem: Problem, visit: Visit, order_id: OrderId, outcome: Outcome) -> list[Unplanned]:
    """Return the entry of an order for the list; none when it was cancelled meanwhile."""
    reason, words = _LISTED[outcome]
    order = next((o for o in problem.orders if o.id == order_id), None)
    if order is None:
        return []
    return [
        Unplanned.of(
            order,
            reason,
            words.format(at=problem.clock.format_clock(visit.draw_s)),
            bed=problem.patients[order.patient_id].bed,
        )
    ]


def without_recollected(past: Sequence[Past], order_ids: frozenset[OrderId]) -> tuple[Past, ...]:
    """Return the past in which some orders do not count as brought: they are to be drawn again."""
    if not order_ids:
        return tuple(past)

    def corrected(visit: Visit) -> Visit:
        kept = tuple(o for o in visit.order_ids if o not in order_ids)
        if len(kept) == len(visit.order_ids):
            return visit
        lost = tuple(o for o in visit.order_ids if o in order_ids)
        return replace(visit, order_ids=kept, tried=(*visit.tried, *lost), outcome=Outcome.RECOLLECT)

    return tuple(
        replace(one, stops=tuple(corrected(stop) if isinstance(stop, Visit) else stop for stop in one.stops))
        for one in past
    )
