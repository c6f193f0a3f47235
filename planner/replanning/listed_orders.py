"""Orders of a list that comes during the round: new ones are added, known ones recognised, none is lost."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.changes import Cancel, NewOrders
from planner.domain.orders import Order, OrderId, Patient
from planner.domain.plan import Reason, Unplanned
from planner.findings import Severity
from planner.replanning.new_beds import can_reach
from planner.replanning.order_changes import apply_cancel
from planner.replanning.working import Working


def apply_new_orders(work: Working, change: NewOrders) -> None:
    """Add the orders of a list, with patients who are new; an order of the round stays as it is."""
    for place in change.places:
        work.places.setdefault(place.id, place)
    refused = {p.id: fault for p in change.patients if (fault := _add_patient(work, p))}
    known: list[OrderId] = []
    for order in change.orders:
        if _is_known(work, order):
            known.append(order.id)
        elif order.id in work.orders:
            _say_differs(work, order.id, "the list has it with other contents")
        elif (before := work.set_aside.get(order.id)) and not _may_be_freed(before):
            _say_differs(work, order.id, f"it is set aside ({before.detail})")
        else:
            _add(work, order, refused.get(order.patient_id))
    for unplanned in change.set_aside:
        if unplanned.order_id in work.orders:
            _say_differs(work, unplanned.order_id, f"the list has it so that it cannot be planned ({unplanned.detail})")
        elif unplanned.order_id in work.set_aside:
            known.append(unplanned.order_id)
        else:
            work.set_aside[unplanned.order_id] = unplanned
            work.added.append(unplanned.order_id)
            work.given.append(f"order {unplanned.order_id} {unplanned.test} (set aside: {unplanned.reason.value})")
    for order_id in change.cancelled:
        apply_cancel(work, Cancel(order_id=order_id))
    if known:
        message = f"in the round already, as the list has them: orders {', '.join(known)}"
        work.say("order-known", Severity.NOTE, message, known)


def _add_patient(work: Working, patient: Patient) -> tuple[Reason, str] | None:
    """Add a patient who is new to the round; return why nobody can be sent there."""
    if patient.id in work.patients:
        return None
    bed = work.bed_words(patient.bed)
    if work.patients_at(patient.bed):
        fault = (
            f"bed {bed} has another patient in this round; say where that one is (--moved, --gone), or correct the bed"
        )
        return Reason.BED_CONFLICT, fault
    if not can_reach(work, patient.bed):
        return Reason.UNREACHABLE, f"no way on the map leads to bed {bed} and back; add a corridor"
    work.patients[patient.id] = patient
    return None


def _add(work: Working, order: Order, fault: tuple[Reason, str] | None) -> None:
    """Add one order, or list it with the reason why it cannot be drawn."""
    patient = work.patients.get(order.patient_id)
    clashes = {u.patient_id: u.detail for u in work.set_aside.values() if u.reason is Reason.IDENTITY_CONFLICT}
    if fault is None and order.patient_id in clashes:
        fault = Reason.IDENTITY_CONFLICT, clashes[order.patient_id]
    if fault is None and patient is not None and patient.gone_s is not None:
        fault = Reason.PATIENT_GONE, f"the patient was gone at {work.words(patient.gone_s)}; is the order still wanted?"
    if fault is None and patient is None:
        fault = Reason.UNKNOWN_PATIENT, "the order's patient is not in this round and has no bed; write the bed"
    was_aside = work.set_aside.pop(order.id, None) is not None
    work.added.append(order.id)
    if fault is not None:
        work.put_aside(order, *fault)
        work.given.append(f"order {order.id} {order.test} (set aside: {fault[0].value})")
        work.error(
            "order-not-found" if fault[0] is Reason.UNKNOWN_PATIENT else "order-differs",
            f"order {order.id} is set aside: {fault[1]}",
            [order.id],
        )
        return
    assert patient is not None
    work.orders[order.id] = order
    if was_aside:
        message = f"order {order.id} was set aside and can be planned now"
        work.say("order-freed", Severity.NOTE, message, [order.id])
    work.given.append(f"order {order.id} {order.test} at bed {work.bed_words(patient.bed)}")


def _is_known(work: Working, order: Order) -> bool:
    """Whether the round has an order with what matters for its draw; notes and where it was read do not."""
    before = work.orders.get(order.id)
    return before is not None and _bare(before) == _bare(order)


def _bare(order: Order) -> Order:
    return replace(order, source=None, note="", ordered_s=None)


def _may_be_freed(before: Unplanned) -> bool:
    """Whether what kept an order aside can be put right by giving it anew."""
    return before.reason.needs_decision and before.reason is not Reason.PATIENT_GONE


def _say_differs(work: Working, order_id: OrderId, why: str) -> None:
    message = f"order {order_id}: {why}; the round's is kept. To change it, cancel it and give it a new number"
    work.say("order-differs", Severity.WARNING, message, [order_id])
