"""Applies events to a round: each one alone, from what it says, so that a log of them makes the same round again."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any

from planner.domain.orders import Order, Priority
from planner.domain.patients.said_later import with_what_is_said
from planner.domain.plan import Reason
from planner.domain.revisions.event_kinds import Channel
from planner.domain.revisions.events import (
    BedAdded,
    CourierChanged,
    Event,
    EventId,
    Happening,
    ListRead,
    OrderAdded,
    OrderCancelled,
    OrderChanged,
    OrderRecollected,
    OrderSetAside,
    PatientAdded,
    PatientAway,
    PatientGone,
    PatientMoved,
    PatientSaid,
    PhlebotomistJoined,
    PhlebotomistLate,
    PhlebotomistLost,
    PhlebotomistNeverCame,
    StatOrdered,
)
from planner.domain.revisions.reported import Reported
from planner.findings import Source
from planner.replanning.changes.new_beds import add_bed, can_reach
from planner.replanning.changes.working import Working


def do(work: Working, what: Happening, came_by: Channel = Channel.OPTION) -> None:
    """Note that something happened, and apply it.

    Parameters
    ----------
    came_by
        How it came in.
    """
    event_id = EventId(str(len(work.events) + 1))
    work.events.append(Event(id=event_id, said_s=work.now_s, what=what, came_by=came_by))
    perform(work, what)


def do_again(work: Working, events: Iterable[Event]) -> None:
    """Apply the events of a revision once more, in their order; reports of visits belong to the past, not here."""
    for event in events:
        if not isinstance(event.what, Reported):
            work.events.append(event)
            perform(work, event.what)


def perform(work: Working, what: Happening) -> None:
    """Apply what happened to a round."""
    _PERFORMERS[type(what)](work, what)


def _stat(work: Working, what: StatOrdered) -> None:
    for order_id in what.order_ids:
        work.added.append(order_id)
        work.orders[order_id] = Order(
            id=order_id,
            patient_id=what.patient_id,
            test=what.test,
            priority=Priority.STAT,
            series=f"{what.order_ids[0]} {what.test}" if len(what.order_ids) > 1 else None,
            ordered_s=work.now_s,
            source=Source(file=f"--stat {work.bed_words(what.bed)}:{what.test}"),
        )


def _order(work: Working, what: OrderAdded) -> None:
    work.set_aside.pop(what.order.id, None)
    work.added.append(what.order.id)
    work.orders[what.order.id] = what.order


def _order_aside(work: Working, what: OrderSetAside) -> None:
    order_id = what.unplanned.order_id
    work.added.append(order_id)
    work.orders.pop(order_id, None)
    work.set_aside[order_id] = what.unplanned


def _order_changed(work: Working, what: OrderChanged) -> None:
    work.orders[what.order.id] = what.order


def _cancelled(work: Working, what: OrderCancelled) -> None:
    detail = f"cancelled at {work.words(work.now_s)}"
    before = work.set_aside.get(what.order_id)
    if before is not None:
        work.set_aside[what.order_id] = replace(before, reason=Reason.CANCELLED, detail=detail)
    else:
        work.put_aside(work.orders[what.order_id], Reason.CANCELLED, detail)


def _recollected(work: Working, what: OrderRecollected) -> None:
    work.recollect.add(what.order_id)


def _patient(work: Working, what: PatientAdded) -> None:
    can_reach(work, what.patient.bed)
    work.patients[what.patient.id] = what.patient


def _patient_said(work: Working, what: PatientSaid) -> None:
    before = work.patients[what.patient.id]
    work.patients[before.id] = with_what_is_said(before, what.patient)


def _bed(work: Working, what: BedAdded) -> None:
    add_bed(work, what.place, what.neighbour)


def _away(work: Working, what: PatientAway) -> None:
    patient = work.patients[what.patient_id]
    work.patients[patient.id] = replace(patient, away=tuple(sorted({*patient.away, what.span})))


def _moved(work: Working, what: PatientMoved) -> None:
    can_reach(work, what.to)
    patient = work.patients[what.patient_id]
    work.patients[patient.id] = replace(patient, bed=what.to, ward=work.places[what.to].ward or patient.ward)


def _gone(work: Working, what: PatientGone) -> None:
    patient = work.patients[what.patient_id]
    work.patients[patient.id] = replace(patient, gone_s=work.now_s)
    for order_id in what.order_ids:
        detail = f"the patient was gone at {work.words(work.now_s)}"
        work.put_aside(work.orders[order_id], Reason.PATIENT_GONE, detail)


def _late(work: Working, what: PhlebotomistLate) -> None:
    work.ready_s[what.phlebotomist] = what.ready_s


def _lost(work: Working, what: PhlebotomistLost) -> None:
    work.lost.add(what.phlebotomist)
    work.ready_s.pop(what.phlebotomist, None)


def _never_came(work: Working, what: PhlebotomistNeverCame) -> None:
    work.lost.add(what.phlebotomist)
    work.ready_s.pop(what.phlebotomist, None)


def _joined(work: Working, what: PhlebotomistJoined) -> None:
    can_reach(work, what.person.starts_at)
    work.staff.append(what.person)


def _courier(work: Working, what: CourierChanged) -> None:
    index = work.courier_at(what.place)
    work.pickups[index] = replace(work.pickups[index], departures_s=what.departures_s)


def _list_read(_work: Working, _what: ListRead) -> None:
    """What it brought are events of their own."""


_PERFORMERS: Mapping[type, Callable[[Working, Any], None]] = {
    StatOrdered: _stat,
    OrderAdded: _order,
    OrderSetAside: _order_aside,
    OrderChanged: _order_changed,
    OrderCancelled: _cancelled,
    OrderRecollected: _recollected,
    PatientAdded: _patient,
    PatientSaid: _patient_said,
    BedAdded: _bed,
    PatientAway: _away,
    PatientMoved: _moved,
    PatientGone: _gone,
    PhlebotomistLate: _late,
    PhlebotomistLost: _lost,
    PhlebotomistNeverCame: _never_came,
    PhlebotomistJoined: _joined,
    CourierChanged: _courier,
    ListRead: _list_read,
}
