"""Parts an order that cannot be drawn or carried from the patient's other orders, so that it alone is lost."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from planner.domain.orders import Order


def isolate(orders: Sequence[Order], can_be_made: Callable[[Sequence[Order]], bool]) -> list[list[Order]]:
    """Return the orders of a visit that nobody can make in parts that somebody can make, as far as there are any.

    An order that nobody can draw alone is a part of its own. The others stay together; where even they cannot, each
    goes to the first part that can be made with it, so that orders given first stay in the first part.

    Example: of a trough, a blood count and a specimen by hand only, on a ward with a tube station alone: the trough and
    the blood count, and the specimen.
    """
    lost = [[order] for order in orders if not can_be_made([order])]
    able = [order for order in orders if [order] not in lost]
    if able and can_be_made(able):
        return [able, *lost]
    parts: list[list[Order]] = []
    for order in able:
        part = next((part for part in parts if can_be_made([*part, order])), None)
        if part is None:
            parts.append([order])
        else:
            part.append(order)
    return [*parts, *lost]
