"""What phlebotomists carry when a round is replanned: specimens drawn, and not yet given away."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.domain.draws import Tube
from planner.domain.orders import Order
from planner.domain.plan import Visit
from planner.domain.problem import Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayLoad:
    """The tubes of one past visit that its collector still carries.

    ``too_old`` are those that no hand-over brings to the laboratory while they are good: they are given away all the
    same, but nothing waits or hurries for them.
    """

    collector: int
    visit: Visit
    tubes: tuple[Tube, ...]
    too_old: frozenset[Tube] = frozenset()

    def orders(self, problem: Problem) -> tuple[Order, ...]:
        """Return the orders that the tubes serve."""
        served = {order_id for tube in self.tubes for order_id in tube.order_ids} & set(self.visit.order_ids)
        return tuple(order for order in problem.orders if order.id in served)

    def groups(self) -> tuple[tuple[Tube, ...], ...]:
        """Return the tubes in groups that travel alike: by any pickup or by hand only, still good or too old."""
        keys = [(by_hand, is_old) for is_old in (False, True) for by_hand in (False, True)]
        groups = [tuple(t for t in self.tubes if (t.by_hand, t in self.too_old) == key) for key in keys]
        return tuple(group for group in groups if group)


def tray_loads(problem: Problem) -> Iterator[TrayLoad]:
    """Yield what is in the trays, by phlebotomist, in the order of the visits.

    A tube of which all orders are drawn again is of no use: nobody carries it anywhere.
    """
    waiting = {order.id for order in problem.open_orders}
    for past in problem.replan.past if problem.replan else ():
        for stop in past.stops:
            if not isinstance(stop, Visit):
                continue
            held = [p.tube for p in stop.tubes if p.handover is None and not p.tube.is_discard]
            tubes = tuple(tube for tube in held if not set(tube.order_ids) <= waiting)
            if tubes:
                yield TrayLoad(collector=past.phlebotomist, visit=stop, tubes=tubes)
