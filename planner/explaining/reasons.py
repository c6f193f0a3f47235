"""What a plan does with one order, and which rule set each end of its window."""

from __future__ import annotations

from dataclasses import dataclass

from planner.domain.draws import Ends, OrderWindow
from planner.domain.orders import Order, OrderId
from planner.domain.plan import Handover, Plan, Unplanned, Visit
from planner.domain.problem import Problem
from planner.visits.closed import closed_spans
from planner.visits.window_rules import RULES, absence_spans, quiet_spans
from planner.visits.windows import window_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """The visit that serves an order. ``lab_arrival_s`` is that of its last tube; None: none is given away."""

    visit: Visit
    phlebotomist: int
    stop_number: int
    lab_arrival_s: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """All that is known of one order. Seconds after midnight of the round's day.

    ``ends`` are what each rule says of its draw time; ``spans_out`` the spans cut out of it, with the rule's name.
    ``window`` is None where the rules leave none (``unplanned`` says why). ``late_s`` counts from the soft end.
    """

    order: Order | None
    ends: tuple[Ends, ...]
    spans_out: tuple[tuple[str, int, int], ...]
    window: OrderWindow | None
    made: Made | None
    unplanned: Unplanned | None
    late_s: int


def explain(problem: Problem, plan: Plan, order_id: OrderId) -> Explained | None:
    """Return what a plan does with an order; None when neither the round nor its list knows the number."""
    order = next((o for o in problem.orders if o.id == order_id), None)
    unplanned = next((u for u in plan.unplanned if u.order_id == order_id), None)
    if order is None:
        aside = unplanned or next((u for u in problem.set_aside if u.order_id == order_id), None)
        if aside is None:
            return None
        return Explained(order=None, ends=(), spans_out=(), window=None, made=None, unplanned=aside, late_s=0)
    window = window_of(problem, order)
    found = window if isinstance(window, OrderWindow) else None
    made = made_of(plan, order_id)
    target_s = None if found is None else found.target_s
    return Explained(
        order=order,
        ends=tuple(ends for rule in RULES for ends in rule(problem, order)),
        spans_out=(
            *(("absence", a, b) for a, b in absence_spans(problem, order)),
            *(("quiet-hours", a, b) for a, b in quiet_spans(problem, order)),
            *(("closed", a, b) for a, b in closed_spans(problem, order)),
        ),
        window=found,
        made=made,
        unplanned=unplanned,
        late_s=0 if made is None or target_s is None else max(0, made.visit.draw_s - target_s),
    )


def made_of(plan: Plan, order_id: OrderId) -> Made | None:
    """Return the visit of a plan that serves an order; None when none does."""
    for route in plan.routes:
        for index, stop in enumerate(route.stops):
            if isinstance(stop, Visit) and order_id in stop.order_ids:
                takers = [route.stops[p.handover] for p in stop.tubes if p.handover is not None]
                arrivals = [taker.lab_arrival_s for taker in takers if isinstance(taker, Handover)]
                return Made(
                    visit=stop,
                    phlebotomist=route.phlebotomist,
                    stop_number=index + 1,
                    lab_arrival_s=max(arrivals, default=None),
                )
    return None
