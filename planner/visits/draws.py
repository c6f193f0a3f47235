"""From a visit's orders and tubes to a draw that can be scheduled: its time at the bed and its allowed starts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planner.domain.draws import Draw, DrawId, TubeSet, VisitRequest
from planner.domain.orders import Order, OrderId, PatientId, TimeWindow
from planner.domain.plan import Reason, Unplanned
from planner.domain.problem import Problem
from planner.visits.parts import part_of
from planner.visits.service import service_parts
from planner.visits.spans import Windows, clip, cut, shift
from planner.visits.window_rules import has_dose_rule


def build_draws(
    problem: Problem, requests: Sequence[VisitRequest], tube_sets: Mapping[DrawId, TubeSet]
) -> tuple[tuple[Draw, ...], tuple[Unplanned, ...]]:
    """Return a draw for each request that has tubes, and the orders whose stay at the bed fits no window.

    Orders that lost their tube (postponed by a limit) are left out of the draw; the tube room lists them.
    """
    draws: list[Draw] = []
    unplanned: list[Unplanned] = []
    for request in requests:
        if request.id not in tube_sets:
            continue
        draw = _draw(problem, _served(request, tube_sets[request.id]), tube_sets[request.id])
        if draw.start_windows:
            draws.append(draw)
        else:
            unplanned += [_away(problem, request, order) for order in draw.request.orders]
    return tuple(draws), tuple(unplanned)


def start_windows(windows: Windows, taken: Sequence[TimeWindow], lead_s: int, service_s: int) -> Windows:
    """Return the allowed starts: draw windows less the lead, without stays that overlap a span already taken.

    A stay [start, start + service] overlaps a span [a, b] unless it ends by a or begins at b or later.
    """
    return cut(
        shift(windows, -lead_s),
        [(w.earliest_s - service_s + 1, w.latest_s) for w in taken],
    )


def _stays(problem: Problem, patient_id: PatientId) -> list[TimeWindow]:
    """Return the spans in which somebody is or was at the patient's bed, in a round that has begun."""
    past = problem.replan.visits if problem.replan else ()
    return [TimeWindow(earliest_s=v.start_s, latest_s=v.depart_s) for v in past if v.patient_id == patient_id]


def _not_by(problem: Problem, request: VisitRequest) -> frozenset[int]:
    ids = {order.id for order in request.orders}
    retries = problem.replan.retries if problem.replan else ()
    return frozenset(person for retry in retries if retry.order_id in ids for person in retry.not_by)


def uncollected_weight(problem: Problem, order: Order) -> int:
    """Return what an order counts in part ``uncollected`` when nobody draws it."""
    weights = problem.policy.weights
    weight = weights.uncollected[order.priority]
    is_bound_to_time = order.is_timed or has_dose_rule(problem.test_of(order))
    return max(weight, weights.uncollected_timed) if is_bound_to_time else weight


def late_weight(problem: Problem, order: Order) -> int:
    """Return what a second past its target counts for an order in part ``late``."""
    weight = problem.policy.weights.late[order.priority]
    return max(weight, problem.policy.weights.late_timed) if order.is_timed else weight


def _served(request: VisitRequest, tube_set: TubeSet) -> VisitRequest:
    """Return the request with only the orders that the tube set serves, and their windows in common."""
    served: set[OrderId] = {order_id for tube in tube_set.tubes for order_id in tube.order_ids}
    if len(served) == len(request.orders):
        return request
    return part_of(request, [order for order in request.orders if order.id in served], request.id)


def _draw(problem: Problem, request: VisitRequest, tube_set: TubeSet) -> Draw:
    patient = problem.patients[PatientId(request.patient_id)]
    lead_s, service_s = service_parts(problem, patient, tube_set)
    taken = (*patient.away, *_stays(problem, request.patient_id))
    windows = clip(start_windows(request.windows, taken, lead_s, service_s), problem.begin_s, problem.end_s - service_s)
    order_of = {o.id: o for o in request.orders}
    return Draw(
        request=request,
        tube_set=tube_set,
        lead_s=lead_s,
        service_s=service_s,
        start_windows=windows,
        targets=tuple(
            (w.target_s, late_weight(problem, order_of[w.order_id]))
            for w in request.order_windows
            if w.target_s is not None
        ),
        uncollected_weight=sum(uncollected_weight(problem, o) for o in request.orders),
        skills=patient.needs,
        not_by=_not_by(problem, request),
    )


def _absences(problem: Problem, request: VisitRequest) -> str:
    return " without the patient's absences" if problem.patients[request.patient_id].away else ""


def _away(problem: Problem, request: VisitRequest, order: Order) -> Unplanned:
    return Unplanned.of(
        order,
        Reason.NO_COMMON_WINDOW,
        f"its window{_absences(problem, request)} leaves no room for a stay at the bed within the round; "
        "ask the ward for a time",
        bed=request.bed,
    )
