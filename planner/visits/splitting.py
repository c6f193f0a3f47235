"""Splits a visit whose orders hold one another up: those that keep only minutes, and the rest."""

from __future__ import annotations

from collections.abc import Sequence

from planner.domain.draws import Draw, DrawId, VisitRequest
from planner.domain.orders import Order, OrderId
from planner.visits.grouping import visit_number
from planner.visits.spans import intersect


def split_by_stability(requests: Sequence[VisitRequest], draw: Draw) -> tuple[VisitRequest, ...] | None:
    """Return the requests with one visit split in two, None when all its specimens keep equally long.

    The orders on tubes with the shortest stability make one visit, the others the other; each visit gets the
    draw times that its own orders allow. The second takes a number that no visit of the patient has yet. Orders of
    the visit that are on no tube (they wait for a child's blood limit) stay in the first part: the tubes of both parts
    are chosen anew, and whoever chooses them lists what waits.
    """
    limits = {tube.stability_s for tube in draw.tube_set.tubes if not tube.is_discard and tube.stability_s is not None}
    if not limits:
        return None
    short = {
        order_id
        for tube in draw.tube_set.tubes
        if not tube.is_discard and tube.stability_s == min(limits)
        for order_id in tube.order_ids
    }
    if len(short) == len(draw.request.orders):
        return None
    request = next(other for other in requests if other.id == draw.request.id)
    taken = max(visit_number(other.id) for other in requests if other.patient_id == request.patient_id)
    parts = (
        _part(request, [o for o in request.orders if o.id not in short], request.id),
        _part(request, [o for o in request.orders if o.id in short], DrawId(f"{request.patient_id}#{taken + 1}")),
    )
    return tuple(part for other in requests for part in (parts if other.id == request.id else (other,)))


def _part(request: VisitRequest, orders: list[Order], draw_id: DrawId) -> VisitRequest:
    kept: set[OrderId] = {order.id for order in orders}
    order_windows = tuple(window for window in request.order_windows if window.order_id in kept)
    windows = order_windows[0].windows
    for window in order_windows[1:]:
        windows = intersect(windows, window.windows)
    return VisitRequest(
        id=draw_id,
        patient_id=request.patient_id,
        bed=request.bed,
        orders=tuple(orders),
        windows=windows,
        order_windows=order_windows,
    )
