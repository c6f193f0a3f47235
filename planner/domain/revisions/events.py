"""What happens in a morning, as a log of typed events; a revision stores its own, and is the fold of all of them.

Two events are the same when they say the same: what came of an event (``compare=False``) does not count. So whatever
is reported twice is recognised, and changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NewType

from planner.domain.catalogue import TestCode
from planner.domain.orders import Order, OrderId, Patient, PatientId, TimeWindow
from planner.domain.places import Place, PlaceId
from planner.domain.plan import Unplanned
from planner.domain.revisions.event_kinds import Channel, EventKind
from planner.domain.revisions.reported import Reported
from planner.domain.staff import Phlebotomist

EventId = NewType("EventId", str)


@dataclass(frozen=True, slots=True, kw_only=True)
class StatOrdered:
    """A test wanted at once for a patient, in so many sets; ``again_s``: once more, asked for at this instant."""

    patient_id: PatientId
    test: TestCode
    number: int = 1
    again_s: int | None = None
    order_ids: tuple[OrderId, ...] = field(default=(), compare=False)
    bed: PlaceId = field(default=PlaceId(""), compare=False)
    kind: EventKind = field(default=EventKind.STAT, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderAdded:
    """An order came with a list, or one that was set aside can be planned now."""

    order: Order
    kind: EventKind = field(default=EventKind.ORDER, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderSetAside:
    """An order of a list cannot be planned; it is listed with its reason."""

    unplanned: Unplanned
    kind: EventKind = field(default=EventKind.ORDER_ASIDE, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderChanged:
    """An order of the round says something else now: another dose, time, priority, fasting state or note."""

    order: Order
    before: Order
    kind: EventKind = field(default=EventKind.ORDER_CHANGED, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderCancelled:
    """An order is no longer wanted."""

    order_id: OrderId
    kind: EventKind = field(default=EventKind.CANCELLED, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRecollected:
    """An order that was drawn must be drawn again."""

    order_id: OrderId
    kind: EventKind = field(default=EventKind.RECOLLECT, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientAdded:
    """A patient came with an order list."""

    patient: Patient
    kind: EventKind = field(default=EventKind.PATIENT, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientSaid:
    """A list says more of a patient whom the round has: alerts, isolation, arms. ``patient`` is as they are now."""

    patient: Patient
    kind: EventKind = field(default=EventKind.PATIENT_SAID, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class BedAdded:
    """The round got a bed that it did not have, beside a neighbour."""

    place: Place
    neighbour: PlaceId
    kind: EventKind = field(default=EventKind.BED, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientAway:
    """A patient is away for a time; seconds after midnight of the round's day, both ends included."""

    patient_id: PatientId
    span: TimeWindow
    bed: PlaceId = field(default=PlaceId(""), compare=False)
    kind: EventKind = field(default=EventKind.AWAY, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientMoved:
    """A patient lies in another bed now."""

    patient_id: PatientId
    bed: PlaceId
    to: PlaceId
    kind: EventKind = field(default=EventKind.MOVED, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientGone:
    """A patient has left or has died."""

    patient_id: PatientId
    bed: PlaceId
    order_ids: tuple[OrderId, ...] = field(default=(), compare=False)
    """The orders that are no longer drawn."""
    kind: EventKind = field(default=EventKind.GONE, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhlebotomistLate:
    """Somebody is held up: by so many minutes, or until an instant; ``ready_s`` is when they can go on."""

    phlebotomist: int
    minutes: int | None = None
    until_s: int | None = None
    ready_s: int = field(default=0, compare=False)
    kind: EventKind = field(default=EventKind.LATE, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhlebotomistLost:
    """Somebody collects no more; what they collected stays theirs."""

    phlebotomist: int
    kind: EventKind = field(default=EventKind.LOST, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhlebotomistNeverCame:
    """Somebody did not come at all, and has drawn nothing but what was reported before."""

    phlebotomist: int
    kind: EventKind = field(default=EventKind.NEVER_CAME, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhlebotomistJoined:
    """Somebody more collects; ``name`` is as it was given."""

    name: str
    person: Phlebotomist = field(compare=False)
    kind: EventKind = field(default=EventKind.JOINED, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class CourierChanged:
    """Departures at a place: the next one later by ``delay_s``, or those to come as stated (none: no courier comes).

    ``departures_s`` are all departures there from now on, those that are over included.
    """

    place: PlaceId
    delay_s: int | None = None
    departs_s: tuple[int, ...] = ()
    departures_s: tuple[int, ...] = field(default=(), compare=False)
    kind: EventKind = field(default=EventKind.COURIER, init=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class ListRead:
    """A list of orders was read: how many it holds, those that are cancelled included, and how many were new.

    ``num_changed`` counts the orders of the round of which it says something else now, or that it cancels.
    """

    num_orders: int
    num_new: int
    num_changed: int = 0
    kind: EventKind = field(default=EventKind.LIST_READ, init=False)


Happening = (
    StatOrdered
    | OrderAdded
    | OrderSetAside
    | OrderChanged
    | OrderCancelled
    | OrderRecollected
    | PatientAdded
    | PatientSaid
    | BedAdded
    | PatientAway
    | PatientMoved
    | PatientGone
    | PhlebotomistLate
    | PhlebotomistLost
    | PhlebotomistNeverCame
    | PhlebotomistJoined
    | CourierChanged
    | ListRead
    | Reported
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happened: what, when it was said, when it happened (None: not stated), by whom, how it came in.

    ``id`` is the revision that it made and its number in there, such as ``3-2``. Times are seconds after midnight of
    the round's day. ``by`` are initials as written, or empty.
    """

    id: EventId
    said_s: int
    what: Happening
    happened_s: int | None = None
    by: str = ""
    came_by: Channel = Channel.OPTION
