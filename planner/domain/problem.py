"""The validated whole that a round is planned from, and its look-ups."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from planner.domain.beds import PlaceNames
from planner.domain.catalogue import Catalogue, Confirmation, LabTest
from planner.domain.orders import EarlierDraw, Order, OrderId, Patient, PatientId, Priority
from planner.domain.places import Corridor, Pickup, Place, PlaceId, WalkingTimes
from planner.domain.plan import Unplanned
from planner.domain.policy import Policy
from planner.domain.price_policy import PricePolicy
from planner.domain.revisions.replan import Replan
from planner.domain.site_names import SiteName
from planner.domain.staff import Phlebotomist
from planner.units import RoundClock


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One round to plan. Orders are in the order of their ids, so that the rows' order changes nothing.

    ``set_aside`` are orders that were read but are not to be planned, each with its reason; ``assumptions``
    say in words which defaults stood in for tables that were not given. ``start_s`` and ``end_s`` are the
    first instant at which anybody works and the last.

    Raises
    ------
    ValueError
        If something refers to a patient, a test, a place or a tube that is not there.
    """

    round_name: str
    clock: RoundClock
    catalogue: Catalogue
    patients: Mapping[PatientId, Patient]
    orders: tuple[Order, ...]
    places: Mapping[PlaceId, Place]
    corridors: tuple[Corridor, ...]
    walking: WalkingTimes
    staff: tuple[Phlebotomist, ...]
    pickups: tuple[Pickup, ...]
    policy: Policy = field(default_factory=Policy)
    site_prices: PricePolicy | None = None
    """The site's own prices, where a command tried others (`planner.domain.prices`); None: the policy has them."""
    set_aside: tuple[Unplanned, ...] = ()
    assumptions: tuple[str, ...] = ()
    earlier_draws: tuple[EarlierDraw, ...] = ()
    """Draws of series made before the round."""
    confirmation: Confirmation | None = None
    """The laboratory's confirmation of the catalogue; None: there is none."""
    site_names: tuple[SiteName, ...] = ()
    """The site's own names that a person confirmed: lists that come during the round are read with them too."""
    replan: Replan | None = None
    """What has happened already, when the round is replanned; None: nobody has begun."""

    def __post_init__(self) -> None:
        if [o.id for o in self.orders] != sorted({o.id for o in self.orders}):
            raise ValueError("orders are not in the order of their ids, or an id stands twice")
        for order in self.orders:
            if order.patient_id not in self.patients:
                raise ValueError(f"order {order.id}: patient is not in the problem")
            if order.test not in self.catalogue.tests:
                raise ValueError(f"order {order.id}: test {order.test} is not in the catalogue")
        for patient in self.patients.values():
            if patient.bed not in self.places:
                raise ValueError(f"bed {patient.bed} is not a place")
        stops = {p.starts_at for p in self.staff} | {p.place for p in self.pickups}
        if missing := sorted(stops - self.places.keys()):
            raise ValueError(f"not a place: {', '.join(missing)}")

    @property
    def start_s(self) -> int:
        """First instant at which anybody works."""
        return min(p.from_s for p in self.staff)

    @property
    def end_s(self) -> int:
        """Last instant at which anybody works."""
        return max(p.until_s for p in self.staff)

    @property
    def begin_s(self) -> int:
        """First instant at which anything can still be done: ``start_s``, or now when the round has begun."""
        return self.start_s if self.replan is None else max(self.start_s, self.replan.now_s)

    @property
    def drawn_orders(self) -> tuple[tuple[Order, int], ...]:
        """Orders that visits of the past brought, each with its draw time."""
        if self.replan is None:
            return ()
        order_of = {order.id: order for order in self.orders}
        return tuple((order_of[order_id], visit.draw_s) for visit in self.replan.visits for order_id in visit.order_ids)

    @property
    def open_orders(self) -> tuple[Order, ...]:
        """Orders that are still to be drawn."""
        drawn = {order.id for order, _draw_s in self.drawn_orders}
        return tuple(order for order in self.orders if order.id not in drawn)

    def drawn_24h_ul(self, patient: Patient) -> int | None:
        """Return what a patient gave in the last 24 h, to this round by now included; None: not known."""
        past = self.replan.visits if self.replan else ()
        by_now_ul = sum(p.tube.volume_ul for v in past if v.patient_id == patient.id for p in v.tubes)
        if patient.drawn_24h_ul is None and not by_now_ul:
            return None
        return (patient.drawn_24h_ul or 0) + by_now_ul

    @property
    def place_names(self) -> PlaceNames:
        """What the places of the round are called; to be kept by who names many."""
        return PlaceNames(self.places.values())

    def place_name(self, place_id: str) -> str:
        """Return what a place is called: see `PlaceNames`."""
        return self.place_names(place_id)

    def bed_words(self, unplanned: Unplanned) -> str:
        """Return the bed of an order that nobody draws; a question mark, after a known ward, where none is known."""
        ward = unplanned.person.ward if unplanned.person else ""
        return self.place_name(unplanned.bed) or f"{ward} ?".lstrip()

    def order(self, order_id: OrderId) -> Order:
        """Return the order with this number; KeyError when it is not one to plan."""
        index = bisect_left(self.orders, order_id, key=lambda order: order.id)
        if index == len(self.orders) or self.orders[index].id != order_id:
            raise KeyError(order_id)
        return self.orders[index]

    def has_stat(self, order_ids: Iterable[OrderId]) -> bool:
        """Return whether any of the orders to plan that have these numbers is wanted at once."""
        wanted = set(order_ids)
        return any(order.priority is Priority.STAT for order in self.orders if order.id in wanted)

    def test_of(self, order: Order) -> LabTest:
        """Return the laboratory test that an order asks for."""
        return self.catalogue.tests[order.test]

    def patient_of(self, order: Order) -> Patient:
        """Return the patient whom an order is for."""
        return self.patients[order.patient_id]
