"""Visits parted and put together: the same orders of a patient in other visits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations

from planner.domain.draws import DrawId, VisitRequest
from planner.domain.orders import Order, OrderId, PatientId
from planner.domain.problem import Problem
from planner.visits.grouping import visit_number
from planner.visits.spans import intersect
from planner.visits.together import must_part


def part_of(request: VisitRequest, orders: Iterable[Order], draw_id: DrawId) -> VisitRequest:
    """Return the visit of some of a request's orders: the draw times that they allow in common."""
    kept: set[OrderId] = {order.id for order in orders}
    order_windows = tuple(window for window in request.order_windows if window.order_id in kept)
    windows = order_windows[0].windows
    for window in order_windows[1:]:
        windows = intersect(windows, window.windows)
    return VisitRequest(
        id=draw_id,
        patient_id=request.patient_id,
        bed=request.bed,
        orders=tuple(order for order in request.orders if order.id in kept),
        windows=windows,
        order_windows=order_windows,
    )


def next_number(patient_id: PatientId, requests: Iterable[VisitRequest], begun: Iterable[DrawId] = ()) -> DrawId:
    """Return a number that no visit of the patient has, to come or begun."""
    ids = [*begun, *(request.id for request in requests if request.patient_id == patient_id)]
    taken = (visit_number(i) for i in ids if i.rpartition("#")[0] == patient_id)
    return DrawId(f"{patient_id}#{1 + max(taken, default=0)}")


def with_parts(
    requests: Sequence[VisitRequest], draw_id: DrawId, parts: Sequence[Sequence[Order]]
) -> tuple[VisitRequest, ...]:
    """Return the requests with one visit in parts; the first keeps its number, the others take such as no visit has."""
    whole = next(request for request in requests if request.id == draw_id)
    made = [part_of(whole, parts[0], draw_id)]
    for orders in parts[1:]:
        made.append(part_of(whole, orders, next_number(whole.patient_id, (*requests, *made))))
    return tuple(r for request in requests for r in (made if request.id == draw_id else (request,)))


def put_together(
    problem: Problem, requests: Sequence[VisitRequest], first: VisitRequest, second: VisitRequest
) -> tuple[VisitRequest, ...] | None:
    """Return the requests with two visits of a patient made one; None where no moment lies in the windows of both.

    Neither do orders go together that never share a puncture (`must_part`).
    """
    windows = intersect(first.windows, second.windows)
    if not windows or any(must_part(problem, order, first.orders) for order in second.orders):
        return None
    whole = VisitRequest(
        id=first.id,
        patient_id=first.patient_id,
        bed=first.bed,
        orders=tuple(sorted((*first.orders, *second.orders), key=lambda order: order.id)),
        windows=windows,
        order_windows=tuple(sorted((*first.order_windows, *second.order_windows), key=lambda w: w.order_id)),
    )
    return tuple(whole if r.id == first.id else r for r in requests if r.id != second.id)


def pairs_of_visits(requests: Iterable[VisitRequest]) -> list[tuple[VisitRequest, VisitRequest]]:
    """Return the pairs of visits of one patient, in the order of their numbers."""
    by_patient: dict[str, list[VisitRequest]] = {}
    for request in requests:
        by_patient.setdefault(request.patient_id, []).append(request)
    return [
        pair
        for patient_id in sorted(by_patient)
        for pair in combinations(sorted(by_patient[patient_id], key=lambda r: visit_number(r.id)), 2)
    ]
