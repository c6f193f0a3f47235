"""Tubes in a tray that the new plan brings in too late: for a test added to them, or after a draw made in part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.domain.plan import Handover, Plan, PlannedTube, Reason, Stop
from planner.domain.problem import Problem
from planner.findings import Finding, Severity
from planner.units import SECONDS_PER_MINUTE


def late_addons(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Yield a finding for each add-on whose tube is in the laboratory after the last second at which it may begin."""
    visit_of = {visit.draw_id: (visit, route.stops) for route in plan.routes for visit in route.visits}
    clock = problem.clock
    for addon in problem.replan.addons if problem.replan else ():
        if addon.draw_id not in visit_of or addon.limit_s is None:
            continue
        visit, stops = visit_of[addon.draw_id]
        given = [p.handover for p in visit.tubes if p.tube.draw_position == addon.draw_position]
        stop = stops[given[0]] if given and given[0] is not None else None
        if isinstance(stop, Handover) and stop.lab_arrival_s <= addon.limit_s:
            continue
        when = f"at {clock.format_clock(stop.lab_arrival_s)}" if isinstance(stop, Handover) else "nobody knows when"
        yield Finding(
            code="addon-late",
            severity=Severity.ERROR,
            message=f"order {addon.order_id} ({addon.test}): its tube is in the laboratory {when}, but must be by "
            f"{clock.format_clock(addon.limit_s)}; order it again, or have the tube brought",
            order_ids=(addon.order_id,),
        )


def late_partials(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Yield a finding for each tube of a draw made in part that is not in the laboratory while it is good."""
    past = {visit.draw_id for visit in problem.replan.visits} if problem.replan else set()
    partial = {item.order_id for item in problem.set_aside if item.reason is Reason.PARTLY_DRAWN}
    clock = problem.clock
    for route in plan.routes:
        for visit in route.visits:
            for planned in visit.tubes if visit.draw_id in past else ():
                orders = [o for o in planned.tube.order_ids if o in partial and o in visit.tried]
                if not orders or (when := _too_late(problem, planned, visit.draw_s, route.stops)) is None:
                    continue
                bed, who = problem.place_name(visit.place), problem.staff[route.phlebotomist].initials
                yield Finding(
                    code="partial-too-old",
                    severity=Severity.ERROR,
                    message=f"bed {bed}, orders {', '.join(orders)}: the tube that {who} drew in part at "
                    f"{clock.format_clock(visit.draw_s)} {when}. Phone the laboratory whether it takes the tube; if "
                    "not, discard it as your site's rule says, and give a new order if the test is still wanted",
                    order_ids=tuple(orders),
                )


def _too_late(problem: Problem, planned: PlannedTube, draw_s: int, stops: Sequence[Stop]) -> str | None:
    """Return how a tube comes too late; None when it is in time."""
    limit_s = planned.tube.stability_s
    if planned.tube.is_discard:
        return None
    stop = None if planned.handover is None else stops[planned.handover]
    if not isinstance(stop, Handover):
        return "is still in the tray, and no hand-over is left"
    if limit_s is None or stop.lab_arrival_s - draw_s <= limit_s:
        return None
    arrival = problem.clock.format_clock(stop.lab_arrival_s)
    return f"is in the laboratory at {arrival}, but good for {limit_s // SECONDS_PER_MINUTE} min only"
