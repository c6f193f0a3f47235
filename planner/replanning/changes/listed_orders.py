"""Orders of a list that comes during the round: new ones are added, known ones recognised, none is lost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.domain.beds import nearest_beds
from planner.domain.orders import Order, OrderId, Patient, PatientId
from planner.domain.patients.said_later import with_what_is_said
from planner.domain.places import PlaceId, PlaceKind
from planner.domain.plan import Reason, SetAside, Unplanned
from planner.domain.revisions.changes import Cancel, NewOrders
from planner.domain.revisions.event_kinds import Channel
from planner.domain.revisions.events import (
    ListRead,
    OrderAdded,
    OrderCancelled,
    OrderChanged,
    OrderSetAside,
    PatientAdded,
    PatientSaid,
)
from planner.findings import Severity
from planner.replanning.changes.new_beds import bed_off_the_map, can_reach
from planner.replanning.changes.order_parts import change_order, lost_its_note, note_order
from planner.replanning.changes.orders import apply_cancel
from planner.replanning.changes.perform import do
from planner.replanning.changes.working import Working


def apply_new_orders(work: Working, change: NewOrders) -> None:
    """Add the orders of a list, with patients who are new; what it says otherwise of an order of the round is applied.

    An order that was refused, drawn in part, or otherwise settled in this morning stays as it is.
    """
    before_it = len(work.events)
    refused = {p.id: fault for p in change.patients if (fault := _add_patient(work, p, change.patients))}
    known: list[OrderId] = []
    unnoted: list[OrderId] = []
    for order in change.orders:
        if order.id in work.orders:
            is_changed = not _is_known(work, order) and change_order(work, order, change.stated)
            if change.has_notes and lost_its_note(work, order):
                unnoted.append(order.id)
            elif not (note_order(work, order) or is_changed):
                known.append(order.id)
        elif (before := work.set_aside.get(order.id)) and (before.reason in _SETTLED or _is_cancelled(work, order.id)):
            known.append(order.id)
        elif (before := work.set_aside.get(order.id)) and not before.reason.needs_decision:
            _say_differs(work, order.id, f"it is set aside ({before.detail})")
        elif fault := refused.get(order.patient_id) or _fault(work, order):
            _set_aside(work, order, fault, known)
        else:
            _add(work, order)
    for unplanned in change.set_aside:
        if unplanned.order_id in work.orders:
            _say_differs(work, unplanned.order_id, f"the list has it so that it cannot be planned ({unplanned.detail})")
        elif (before := work.set_aside.get(unplanned.order_id)) and _is_other(before, unplanned):
            _say_differs(
                work, unplanned.order_id, f"it is set aside ({before.detail}), and cannot be planned as listed"
            )
        elif before:
            known.append(unplanned.order_id)
        else:
            do(work, OrderSetAside(unplanned=unplanned), Channel.ORDER_LIST)
    for order_id in change.cancelled:
        apply_cancel(work, Cancel(order_id=order_id), Channel.ORDER_LIST)
    if unnoted:
        message = (
            f"order{'s' * (len(unnoted) > 1)} {', '.join(unnoted)}: the list has no note any more; the round's is "
            "kept. If it does not hold any more, write another in its place, such as 'no note', or cancel the order "
            "and give it a new number"
        )
        work.error("order-differs", message, unnoted)
    if known:
        message = f"in the round already, as the list has them: orders {', '.join(known)}"
        work.say("order-known", Severity.NOTE, message, known)
    brought = [event.what for event in work.events[before_it:]]
    read = ListRead(
        num_orders=len(change.orders) + len(change.set_aside) + len(change.cancelled),
        num_new=sum(isinstance(what, OrderAdded | OrderSetAside) for what in brought),
        num_changed=len({w.order.id for w in brought if isinstance(w, OrderChanged)})
        + sum(isinstance(what, OrderCancelled) for what in brought),
    )
    do(work, read, Channel.ORDER_LIST)


def _add_patient(work: Working, patient: Patient, listed: Sequence[Patient]) -> SetAside | None:
    """Add a patient who is new to the round, or what is said of one it has; return why nobody can be sent there."""
    if _clash(work, patient.id):
        return None
    if before := work.patients.get(patient.id):
        if (said := with_what_is_said(before, patient)) != before:
            do(work, PatientSaid(patient=said), Channel.ORDER_LIST)
        return None
    bed = _bed(work, patient)
    if bed is None:
        fault = f"bed {patient.bed!r} is not in this round. {nearest_beds(work.places.values(), patient.bed)}"
        return SetAside(Reason.NO_BED, fault)
    words = work.bed_words(bed)
    others = {p.id for p in listed if p.bed == patient.bed} - {patient.id}
    if work.patients_at(bed) or others:
        fault = f"bed {words} has another patient too; say where that one is (--moved, --gone), or correct the bed"
        return SetAside(Reason.BED_CONFLICT, fault)
    if not can_reach(work, bed):
        return SetAside(Reason.UNREACHABLE, f"no way on the map leads to bed {words} and back; add a corridor")
    placed = replace(patient, bed=bed, ward=work.places[bed].ward or patient.ward)
    do(work, PatientAdded(patient=placed), Channel.ORDER_LIST)
    return None


def _bed(work: Working, patient: Patient) -> PlaceId | None:
    """Return the bed of a new patient; one that the round does not have is added where there is no map."""
    if patient.bed in work.places:
        return patient.bed
    beds = [p for p in work.places.values() if p.kind is PlaceKind.BED and patient.ward in ("", p.ward)]
    is_one_ward = len({p.ward for p in beds}) == 1
    added = bed_off_the_map(work, patient.bed, beds[0].id) if is_one_ward else None
    if added is None:
        return None
    do(work, added, Channel.ORDER_LIST)
    return added.place.id


def _fault(work: Working, order: Order) -> SetAside | None:
    """Return why an order cannot be drawn although it could be read."""
    if clash := _clash(work, order.patient_id):
        return SetAside(Reason.IDENTITY_CONFLICT, clash)
    patient = work.patients.get(order.patient_id)
    if patient is None:
        return SetAside(
            Reason.UNKNOWN_PATIENT, "the order's patient is not in this round and has no bed; write the bed"
        )
    if patient.gone_s is not None:
        return SetAside(
            Reason.PATIENT_GONE, f"the patient was gone at {work.words(patient.gone_s)}; is the order still wanted?"
        )
    return None


def _clash(work: Working, patient_id: PatientId) -> str | None:
    """Return what is said of a patient number under which the round found two people."""
    clashes = [u for u in work.set_aside.values() if u.reason is Reason.IDENTITY_CONFLICT]
    return next((u.detail for u in clashes if u.patient_id == patient_id), None)


def _set_aside(work: Working, order: Order, fault: SetAside, known: list[OrderId]) -> None:
    if order.id in work.set_aside:
        known.append(order.id)
        return
    reason, detail = fault
    patient = work.patients.get(order.patient_id)
    unplanned = Unplanned.of(order, reason, detail, bed="" if patient is None else patient.bed)
    do(work, OrderSetAside(unplanned=unplanned), Channel.ORDER_LIST)
    work.error("new-order-aside", f"order {order.id} is set aside: {detail}", [order.id])


def _add(work: Working, order: Order) -> None:
    if order.id in work.set_aside:
        work.say("order-freed", Severity.NOTE, f"order {order.id} was set aside and can be planned now", [order.id])
    do(work, OrderAdded(order=order), Channel.ORDER_LIST)


def _is_known(work: Working, order: Order) -> bool:
    """Whether the round has an order with what matters for its draw; notes and where it was read do not."""
    before = work.orders.get(order.id)
    return before is not None and order.asks_the_same(before)


def _is_other(before: Unplanned, unplanned: Unplanned) -> bool:
    """Whether two orders under one number are not the same."""
    return (before.patient_id, before.test.casefold()) != (unplanned.patient_id, unplanned.test.casefold())


_SETTLED = frozenset(
    {
        Reason.REFUSED,
        Reason.NOT_IDENTIFIED,
        Reason.PARTLY_DRAWN,
        Reason.PATIENT_GONE,
        Reason.ADD_ON,
        Reason.ADD_ON_LOST,
    }
)
"""What happened in a morning is not undone by a list that still has the order; a new order has a new number."""


def _is_cancelled(work: Working, order_id: OrderId) -> bool:
    """Whether somebody cancelled an order by phone, of which a list need not know yet."""
    return any(e.what == OrderCancelled(order_id=order_id) and e.came_by is Channel.OPTION for e in work.log())


def _say_differs(work: Working, order_id: OrderId, why: str) -> None:
    message = f"order {order_id}: {why}; the round's is kept. To change it, cancel it and give it a new number"
    work.error("order-differs", message, [order_id])
