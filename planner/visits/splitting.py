"""In which parts a visit is worth trying: orders that hold one another up, or of which one keeps the others away."""

from __future__ import annotations

from collections.abc import Hashable

from planner.domain.draws import Draw, Tube, VisitRequest
from planner.domain.orders import Order, OrderId


def parts_by_stability(request: VisitRequest, draw: Draw) -> list[list[Order]] | None:
    """Return a visit's orders in two parts, None when all its specimens keep equally long.

    The orders on tubes with the shortest stability make the second part, the others the first. ``draw`` is what is
    drawn for the request: orders on no tube (they wait for a child's blood limit) stay in the first part, and whoever
    chooses the tubes of both lists what waits.
    """
    tubes = [tube for tube in draw.tube_set.tubes if not tube.is_discard]
    limits = {tube.stability_s for tube in tubes if tube.stability_s is not None}
    if not limits:
        return None
    short = {order_id for tube in tubes if tube.stability_s == min(limits) for order_id in tube.order_ids}
    if len(short) == len(draw.request.orders):
        return None
    return [[o for o in request.orders if o.id not in short], [o for o in request.orders if o.id in short]]


def parts_by_rule(request: VisitRequest, draw: Draw) -> list[list[Order]] | None:
    """Return a visit's orders in parts that are alike for the scheduler, None when all are.

    Alike: the same draw times and target, and tubes that travel alike for as long. So whichever keeps the visit out of
    a round does not keep the others out.
    """
    windows = {window.order_id: (window.windows, window.target_s) for window in request.order_windows}
    tube_of: dict[OrderId, Tube] = {
        order_id: tube for tube in draw.tube_set.tubes if not tube.is_discard for order_id in tube.order_ids
    }

    def rules(order: Order) -> Hashable:
        tube = tube_of.get(order.id)
        return windows[order.id], None if tube is None else (tube.by_hand, tube.stability_s)

    parts: dict[Hashable, list[Order]] = {}
    for order in request.orders:
        parts.setdefault(rules(order), []).append(order)
    return list(parts.values()) if len(parts) > 1 else None
