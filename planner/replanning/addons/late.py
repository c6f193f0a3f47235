"""Add-ons whose tube the new plan brings in too late: the tube was in a tray when the test was added to it."""

from __future__ import annotations

from collections.abc import Iterator

from planner.domain.plan import Handover, Plan
from planner.domain.problem import Problem
from planner.findings import Finding, Severity


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
            f"{clock.format_clock(addon.limit_s)}; order it anew, or have the tube brought",
            order_ids=(addon.order_id,),
        )
