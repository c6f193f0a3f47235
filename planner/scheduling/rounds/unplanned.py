"""Why a visit has no place in the round: found by trying it alone, then with single rules away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.domain.draws import Draw
from planner.domain.plan import Reason, Unplanned
from planner.domain.problem import Problem
from planner.scheduling.timing.insertion import insert_visit
from planner.scheduling.timing.instance import Instance
from planner.scheduling.timing.solution import Evaluator, Solution


def unplanned_orders(
    problem: Problem, instance: Instance, draws: Sequence[Draw], solution: Solution
) -> list[Unplanned]:
    """Return every order of the draws that the solution does not make, with the reason."""
    served = {stop for stops in solution.routes for stop in stops if stop >= 0}
    found: list[Unplanned] = []
    for index, draw in enumerate(draws):
        if index in served:
            continue
        reason, detail = _why(problem, instance, draw, index)
        found += [
            Unplanned(
                order_id=order.id,
                reason=reason,
                detail=detail,
                patient_id=order.patient_id,
                bed=draw.request.bed,
                test=order.test,
                source=order.source,
            )
            for order in draw.request.orders
        ]
    return found


def _why(problem: Problem, instance: Instance, draw: Draw, index: int) -> tuple[Reason, str]:
    clock = problem.clock
    visit = instance.visits[index]
    if not visit.able:
        if draw.not_by:
            return (
                Reason.SECOND_PERSON,
                "an attempt failed, and nobody else of this round may try; find somebody",
            )
        missing = ", ".join(sorted(draw.skills))
        return Reason.NO_SKILL, f"needs {missing}, which nobody on this round has; ask for somebody who has it"
    if _fits_alone(instance, index):
        first, last = draw.request.windows[0].earliest_s, draw.request.windows[-1].latest_s
        return Reason.NO_TIME, (
            f"could be drawn between {clock.format_clock(first)} and {clock.format_clock(last)}, but the round has no "
            f"room for it beside orders that weigh more; find another collector, or ask the ward for a later time"
        )
    unlimited = tuple(replace(s, limit_s=10**7) for s in visit.specimens)
    relaxed = replace(
        instance,
        visits=(*instance.visits[:index], replace(visit, specimens=unlimited), *instance.visits[index + 1 :]),
    )
    if _fits_alone(relaxed, index):
        shortest_s = min((s.limit_s for s in visit.specimens), default=0) - draw.lead_s
        return Reason.NO_HANDOVER, (
            f"must reach the laboratory within {shortest_s // 60} min of the draw, and no hand-over of this round "
            "brings it there in time; arrange a porter, or draw it near a courier's departure"
        )
    return Reason.NO_TIME, "its window cannot be reached within anybody's shift, or no hand-over follows; ask the ward"


def _fits_alone(instance: Instance, index: int) -> bool:
    """Return whether somebody could make this one visit if there were no other."""
    evaluator = Evaluator(instance)
    empty = evaluator.solution(((),) * len(instance.collectors))
    return empty is not None and insert_visit(evaluator, empty, index) is not None
