"""Which stated instant a dose rule counts from."""

from __future__ import annotations

from planner.domain.catalogue import DoseKind
from planner.domain.orders import Order


def dose_base_s(order: Order, kind: DoseKind) -> int | None:
    """Return the second that a dose rule of this kind counts from; None when the order does not state it."""
    if kind == DoseKind.PROTOCOL:
        return None
    if kind == DoseKind.TROUGH:
        return order.next_dose_s
    return order.infusion_end_s if kind == DoseKind.POST_END else order.last_dose_s
