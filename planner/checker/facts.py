"""A problem and a plan side by side, with the look-ups that rules need; nothing in it comes from the planner."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.checker.ages import CHILD_YEARS, is_under, way_of_collection
from planner.checker.paths import ShortestWalks
from planner.domain.catalogue import LabTest
from planner.domain.orders import Order, OrderId, Patient
from planner.domain.places import PlaceId
from planner.domain.plan import Break, Handover, Plan, PlannedTube, Reason, Route, Stop, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past
from planner.domain.staff import Phlebotomist
from planner.units import SECONDS_PER_DAY


@dataclass(frozen=True, slots=True, kw_only=True)
class StopAt:
    """A stop with its route and what came before: the place left, and when (the shift's begin for the first)."""

    route: Route
    who: Phlebotomist
    index: int
    stop: Stop
    left_place: PlaceId
    left_s: int
    called: str
    """What the place of the stop is called."""

    @property
    def where(self) -> str:
        """Initials, stop number from 1, place."""
        return f"{self.who.initials}, stop {self.index + 1} ({self.called})"


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitAt:
    """A visit with its stop, patient and orders; an order that the plan lists twice in the visit stands once."""

    at: StopAt
    visit: Visit
    patient: Patient
    orders: tuple[Order, ...]

    @property
    def where(self) -> str:
        """Initials, stop number from 1, bed."""
        return self.at.where


class Facts:
    """The problem, the plan, and what both say together. Every name in the plan is known (`unknown_name`)."""

    def __init__(self, problem: Problem, plan: Plan) -> None:
        self.problem = problem
        self.plan = plan
        self.orders: dict[OrderId, Order] = {order.id: order for order in problem.orders}
        self.walks = ShortestWalks(problem)
        every = tuple(at for route in plan.routes for at in _along(problem, route))
        self.stops = tuple(at for at in every if at.index >= self.num_past(at.route.phlebotomist))
        """Stops to come: all of them, unless the round has begun (`Problem.replan`)."""
        self.all_visits = tuple(self._visit(at, at.stop) for at in every if isinstance(at.stop, Visit))
        coming = {(at.route.phlebotomist, at.index) for at in self.stops}
        self.visits = tuple(v for v in self.all_visits if (v.at.route.phlebotomist, v.at.index) in coming)
        """Visits to come."""

    def num_past(self, phlebotomist: int) -> int:
        """Return how many stops of a phlebotomist lie in the past."""
        return len(past.stops) if (past := past_of(self.problem, phlebotomist)) is not None else 0

    def follows_in_series(self, order: Order) -> bool:
        """Return whether a draw of an order's series comes before it: one made, or one to come whose turn is first."""
        if order.series is None or self.test(order).is_culture:
            return False
        key = (order.patient_id, order.series, order.test)
        if any((draw.patient_id, draw.series, draw.test) == key for draw in self.problem.earlier_draws):
            return True
        drawn = {o for at in self.all_visits if at.visit.outcome is not None for o in at.visit.order_ids}
        return any(
            other.id in drawn or series_turn(other) < series_turn(order)
            for other in self.problem.orders
            if (other.patient_id, other.series, other.test) == key and other.id != order.id
        )

    @property
    def in_trays(self) -> Iterator[tuple[VisitAt, PlannedTube]]:
        """Tubes of past visits that had not been given away when the round was planned anew, as the plan has them."""
        for at in self.all_visits:
            past = past_of(self.problem, at.at.route.phlebotomist)
            if past is None or at.at.index >= len(past.stops):
                continue
            before = past.stops[at.at.index]
            if isinstance(before, Visit) and len(before.tubes) == len(at.visit.tubes):
                for old, planned in zip(before.tubes, at.visit.tubes, strict=True):
                    if old.handover is None and not old.tube.is_discard:
                        yield at, planned

    @property
    def in_vain(self) -> frozenset[OrderId]:
        """Orders that the plan lists as drawn in vain."""
        return frozenset(left.order_id for left in self.plan.unplanned if left.reason is Reason.DRAWN_IN_VAIN)

    @property
    def start_s(self) -> int:
        """R0, the first instant at which anybody works; without staff the policy's."""
        return min((p.from_s for p in self.problem.staff), default=self.problem.policy.round.start_at_s)

    @property
    def breaks(self) -> Iterator[tuple[StopAt, Break]]:
        """All breaks."""
        return ((at, at.stop) for at in self.stops if isinstance(at.stop, Break))

    @property
    def handovers(self) -> Iterator[tuple[StopAt, Handover]]:
        """All hand-overs."""
        return ((at, at.stop) for at in self.stops if isinstance(at.stop, Handover))

    @property
    def draws(self) -> Iterator[tuple[VisitAt, Order, LabTest]]:
        """Every order of every visit, with its test."""
        return ((at, order, self.test(order)) for at in self.visits for order in at.orders)

    def test(self, order: Order) -> LabTest:
        """Return the test that an order asks for."""
        return self.problem.catalogue.tests[order.test]

    def is_child(self, patient: Patient) -> bool:
        """Return whether a patient gets what the rules say of those under 14."""
        return is_under(self.problem.policy.blood, patient, CHILD_YEARS, self.problem.clock.day)

    def is_limited(self, patient: Patient) -> bool:
        """Return whether the limits by weight apply to a patient."""
        policy = self.problem.policy.blood
        return is_under(policy, patient, policy.child_under_years, self.problem.clock.day)

    def is_from_skin(self, patient: Patient) -> bool:
        """Return whether a patient is drawn from the skin."""
        day = self.problem.clock.day
        return way_of_collection(self.problem.policy.blood, patient, day) == "capillary"

    def time(self, seconds: int) -> str:
        """Return HH:MM:SS as the wall shows it; seconds for an instant more than two days away."""
        if abs(seconds) > 2 * SECONDS_PER_DAY:
            return f"{seconds} s"
        return self.problem.clock.to_local(seconds).strftime("%H:%M:%S")

    def _visit(self, at: StopAt, visit: Visit) -> VisitAt:
        return VisitAt(
            at=at,
            visit=visit,
            patient=self.problem.patients[visit.patient_id],
            orders=tuple(self.orders[order_id] for order_id in dict.fromkeys(visit.order_ids)),
        )


def series_turn(order: Order) -> tuple[bool, int, str]:
    """Return what orders of one series that are to come go by: stated time (none: last), then number."""
    asked_s = order.collect_from_s if order.collect_at_s is None else order.collect_at_s
    return asked_s is None, asked_s or 0, order.id


def past_of(problem: Problem, phlebotomist: int) -> Past | None:
    """Return what a phlebotomist has done; None when the round has not begun."""
    if problem.replan is None:
        return None
    return next((past for past in problem.replan.past if past.phlebotomist == phlebotomist), None)


def _along(problem: Problem, route: Route) -> Iterator[StopAt]:
    who = problem.staff[route.phlebotomist]
    left_place, left_s = who.starts_at, who.from_s
    name = problem.place_names
    past = past_of(problem, route.phlebotomist)
    for index, stop in enumerate(route.stops):
        if past is not None and index == len(past.stops):
            left_place, left_s = past.place, past.free_s
        yield StopAt(
            route=route,
            who=who,
            index=index,
            stop=stop,
            left_place=left_place,
            left_s=left_s,
            called=name(stop.place),
        )
        left_place, left_s = stop.place, stop.depart_s
