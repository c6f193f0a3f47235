"""Stat tests that the new plan cannot draw, or only late: who could be there first, when, and at what cost.

They are not hidden in a list: whoever is at the telephone must know what to say, and what a doctor's "at once" takes.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from planner.domain.draws import Draw, DrawId, OrderWindow
from planner.domain.orders import Order, OrderId, Priority
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.finding_codes import Code
from planner.findings import Finding, Severity
from planner.replanning.urgent.put_first import PutFirst, put_first
from planner.scheduling.rounds.alone import draws_made_alone
from planner.units import SECONDS_PER_MINUTE
from planner.visits.service import least_service

CODE: Code = "stat-impossible"

MOST_WAYS = 3
"""People who are named for one visit: the first to be there."""


def impossible_stats(
    problem: Problem, plan: Plan, windows: Mapping[OrderId, OrderWindow], draws: Sequence[Draw]
) -> tuple[Finding, ...]:
    """Return a finding for each visit with stat orders that are not drawn, or past their target.

    Parameters
    ----------
    problem, plan
        A replanned round.
    windows, draws
        Those that the plan was made from.
    """
    drawn_s = {o: v.draw_s for route in plan.routes for v in route.visits for o in v.order_ids}
    aside = {u.order_id for u in plan.unplanned if not u.reason.needs_decision}
    stats = {
        order.id: order
        for order in problem.open_orders
        if order.priority is Priority.STAT and order.id not in aside and not _in_time(order, windows, drawn_s)
    }
    if not stats:
        return ()
    told = _Telling(problem, plan, draws)
    found = [told.of_draw(draw, windows, drawn_s, stats) for draw in draws if _ids(draw) & stats.keys()]
    served = {order_id for draw in draws for order_id in _ids(draw)}
    return (*found, *(told.of_order(order) for order in stats.values() if order.id not in served))


def _in_time(order: Order, windows: Mapping[OrderId, OrderWindow], drawn_s: Mapping[OrderId, int]) -> bool:
    if order.id not in drawn_s or order.id not in windows:
        return False
    target_s = windows[order.id].target_s
    return target_s is None or drawn_s[order.id] <= target_s


def _ids(draw: Draw) -> set[OrderId]:
    return {order.id for order in draw.request.orders}


@dataclass(frozen=True)
class _Telling:
    """Puts into words what a round can do for a stat."""

    problem: Problem
    plan: Plan
    draws: Sequence[Draw]

    def of_draw(
        self,
        draw: Draw,
        windows: Mapping[OrderId, OrderWindow],
        drawn_s: Mapping[OrderId, int],
        stats: Collection[OrderId],
    ) -> Finding:
        """Return what is said of a visit that can be made, but not in time, or not beside what weighs more."""
        mine = [order for order in draw.request.orders if order.id in stats]
        at_s = drawn_s.get(mine[0].id)
        targets = [t for order in mine if (t := windows[order.id].target_s) is not None]
        planned = "not planned" if at_s is None else f"planned for {self._clock(at_s)}"
        wanted = f", wanted by {self._clock(min(targets))}" if targets else ""
        ways = put_first(self.problem, self.plan, self.draws, draw.id)[:MOST_WAYS]
        told = [self._way(way) for way in ways] or [self._nobody(draw)]
        return self._finding(mine, f"{planned}{wanted}. First there: {'; '.join(told)}")

    def _nobody(self, draw: Draw) -> str:
        """Return what is true where nobody can put a visit before all other stops."""
        detail = next((u.detail for u in self.plan.unplanned if u.order_id in _ids(draw)), "")
        if not detail or draws_made_alone(self.problem, [draw]) == [True]:
            return "nobody can make this visit before all other stops"
        return f"nobody, whatever is left out: {detail}"

    def of_order(self, order: Order) -> Finding:
        """Return what is said of an order that no visit can be made of: who would be there first all the same."""
        lead_s, _service_s = least_service(self.problem, self.problem.patient_of(order))
        bed = self.problem.patient_of(order).bed
        assert self.problem.replan is not None
        there = sorted(
            (past.free_s + self.problem.walking.between(past.place, bed) + lead_s, past.phlebotomist)
            for past in self.problem.replan.past
            if past.free_s < self.problem.staff[past.phlebotomist].until_s
        )
        reason = next((u.detail for u in self.plan.unplanned if u.order_id == order.id), "")
        first = [f"{self._who(person)} could draw at {self._clock(at_s)}" for at_s, person in there[:MOST_WAYS]]
        ways = "; ".join(first) or "nobody collects any more"
        return self._finding([order], f"not planned: {reason.rstrip('.?')}. First there: {ways}")

    def _way(self, way: PutFirst) -> str:
        parts = [f"{self._who(way.phlebotomist)} could draw at {self._clock(way.draw_s)}"]
        if way.is_too_old:
            parts.append(f"but its specimen would be too old in the laboratory at {self._clock(way.lab_arrival_s)}")
        if way.dropped:
            parts.append(f"then not drawn: {self._beds(way.dropped)}")
        if way.later:
            parts.append(f"then later past their time: {', '.join(self._late(way.later))}")
        if not way.dropped and not way.later:
            parts.append("nobody else late or left out")
        if way.moved:
            parts.append(f"moves {way.moved} more stop{'s' * (way.moved > 1)}")
        return ", ".join(parts)

    def _late(self, later: Mapping[DrawId, int]) -> list[str]:
        """Return each bed once, the latest first, with the minutes of each of its visits."""
        minutes: dict[str, list[str]] = {}
        for draw_id, late_s in sorted(later.items(), key=lambda item: (-item[1], item[0])):
            minutes.setdefault(self._beds([draw_id]), []).append(f"{-(-late_s // SECONDS_PER_MINUTE)} min")
        return [f"{bed} by {' and '.join(late)}" for bed, late in minutes.items()]

    def _beds(self, draw_ids: Sequence[DrawId]) -> str:
        bed_of = {draw.id: draw.request.bed for draw in self.draws}
        beds = dict.fromkeys(bed_of[i] for i in draw_ids)
        return f"bed{'s' * (len(beds) > 1)} {self.problem.place_names.listed(beds)}"

    def _finding(self, orders: Sequence[Order], message: str) -> Finding:
        bed = self.problem.place_name(self.problem.patient_of(orders[0]).bed)
        tests = ", ".join(dict.fromkeys(order.test for order in orders))
        return Finding(
            code=CODE,
            severity=Severity.WARNING,
            message=f"stat {tests} at bed {bed}: {message}",
            order_ids=tuple(order.id for order in orders),
        )

    def _who(self, person: int) -> str:
        return self.problem.staff[person].initials

    def _clock(self, seconds: int) -> str:
        return self.problem.clock.format_clock(seconds)
