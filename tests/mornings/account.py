"""What became of every order, kept from what was told and read off no planner: nothing gets lost between revisions."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from planner.domain.orders import OrderId
from planner.domain.plan import Outcome, Plan, Reason
from planner.domain.problem import Problem
from planner.domain.revisions.reported import Reported

_LISTED = {
    Outcome.REFUSED: Reason.REFUSED,
    Outcome.UNIDENTIFIED: Reason.NOT_IDENTIFIED,
    Outcome.PARTIAL: Reason.PARTLY_DRAWN,
}

INFORMED = frozenset(
    {Reason.ADD_ON, Reason.CANCELLED, Reason.PATIENT_GONE, Reason.REFUSED, Reason.NOT_IDENTIFIED, Reason.PARTLY_DRAWN}
)


@dataclass(slots=True)
class Account:
    """The orders by what was told of them; those of which nothing was told are open."""

    orders: set[OrderId]
    said: dict[OrderId, Reported] = field(default_factory=dict)
    """What was told last of an order."""
    cancelled: set[OrderId] = field(default_factory=set)

    @classmethod
    def of(cls, problem: Problem) -> Account:
        """Open an account of a round that has not begun."""
        return cls(orders=_ids(problem))

    def tell(self, reports: Iterable[Reported]) -> None:
        """Note what was told of visits."""
        for report in reports:
            self.said |= dict.fromkeys(report.order_ids, report)

    def arrivals(self, problem: Problem) -> set[OrderId]:
        """Return the numbers that are new in a round, and count them in."""
        new = _ids(problem) - self.orders
        self.orders |= new
        return new

    def faults(self, problem: Problem, plan: Plan) -> list[str]:
        """Return what does not agree between the account and a revision."""
        past = Counter(o for route in plan.routes for v in route.visits if v.outcome is not None for o in v.order_ids)
        coming = Counter(o for route in plan.routes for v in route.visits if v.outcome is None for o in v.order_ids)
        listed = Counter(u.order_id for u in plan.unplanned)
        reason = {u.order_id: u.reason for u in plan.unplanned}
        faults = [f"{o}: in the round, and never asked for" for o in (past + coming + listed).keys() - self.orders]
        brought = {(v.draw_id, o) for route in plan.routes for v in route.visits if v.outcome for o in v.order_ids}
        for order in sorted(self.orders):
            places = past[order] + coming[order] + listed[order]
            in_vain = past[order] and reason.get(order) is Reason.DRAWN_IN_VAIN
            if places != 1 + bool(in_vain):
                faults.append(f"{order}: drawn {past[order]}, to come {coming[order]}, listed {listed[order]} times")
            told = self.said.get(order)
            said = told.outcome if told else None
            if said is Outcome.COLLECTED and not past[order]:
                faults.append(f"{order}: told as collected, and not among what is drawn")
            if said in _LISTED and reason.get(order) not in (_LISTED[said], Reason.CANCELLED, Reason.PATIENT_GONE):
                faults.append(f"{order}: told as {said.value}, listed as {reason.get(order)}")
            if (
                said in (Outcome.AWAY, Outcome.UNSUCCESSFUL, Outcome.RECOLLECT)
                and told
                and (told.draw_id, order) in brought
            ):
                faults.append(f"{order}: told as {said.value}, and counted as drawn")
            if order in self.cancelled and reason.get(order) is not Reason.CANCELLED and not past[order]:
                faults.append(f"{order}: cancelled, and neither listed as such nor drawn")
        return faults


def ends(plan: Plan) -> Counter[str]:
    """Return how many orders ended in which way."""
    drawn = [o for route in plan.routes for v in route.visits if v.outcome is not None for o in v.order_ids]
    coming = [o for route in plan.routes for v in route.visits if v.outcome is None for o in v.order_ids]
    in_vain = {u.order_id for u in plan.unplanned if u.reason is Reason.DRAWN_IN_VAIN}
    counted = Counter(u.reason.value if u.reason in INFORMED else "postponed" for u in plan.unplanned)
    counted["drawn in vain"] = len(in_vain)
    counted["postponed"] -= len(in_vain)
    counted["collected"] = len(drawn) - len(in_vain & set(drawn))
    counted["still to come"] = len(coming)
    return counted


def _ids(problem: Problem) -> set[OrderId]:
    return {o.id for o in problem.orders} | {u.order_id for u in problem.set_aside}
