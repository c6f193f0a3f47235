"""Says in words what changed of a stop against the last sheet, and why orders are gone."""

from __future__ import annotations

from planner.domain.orders import OrderId, PatientId
from planner.domain.places import PlaceId
from planner.domain.revisions.stop_changes import ChangeKind, Move, StopChange
from planner.exporters.view.context import ViewContext
from planner.exporters.view.words import REASON

CHANGE_WORD = {
    ChangeKind.ADDED: "NEW",
    ChangeKind.MOVED: "MOVED",
    ChangeKind.DROPPED: "DROPPED",
    ChangeKind.ORDERS: "OTHER TUBES",
}


def lies_now(context: ViewContext, patient_id: PatientId, place: PlaceId) -> str:
    """Return where a patient lies now if that is not the place that somebody knows; empty where it is."""
    patient = context.problem.patients[patient_id]
    if patient.bed == place or patient.gone_s is not None:
        return ""
    return f"The patient lies in bed {context.place(patient.bed)} now"


def tests_words(context: ViewContext, orders: tuple[OrderId, ...]) -> str:
    """Return the test codes of orders, each once; a number where an order is no longer in the problem."""
    known: dict[OrderId, str] = {o.id: o.called for o in context.problem.orders}
    known |= {u.order_id: u.test for u in (*context.problem.set_aside, *context.plan.unplanned) if u.test}
    return ", ".join(dict.fromkeys(context.clean(known.get(o, o)) for o in orders))


def moved_words(context: ViewContext, change: StopChange) -> str:
    """Return whence a stop moved: 'from 05:37', 'from 05:39, Tomás Breathnach', 'from 05:40, bed 12'."""
    before, visit = change.before, change.visit
    assert before is not None
    assert visit is not None
    start_s = before.draw_s - (visit.draw_s - visit.start_s)
    parts = [f"from {context.clock(start_s)}"]
    if Move.PERSON in change.moves:
        parts.append(context.person(before.phlebotomist))
    if Move.BED in change.moves:
        parts.append(f"bed {context.place(before.place)}")
    return ", ".join(parts)


def gone_words(context: ViewContext, change: StopChange) -> str:
    """Return why orders are no longer drawn at a stop: 'CBC: cancelled; PT: drawn already'."""
    why: dict[str, list[OrderId]] = {}
    for order_id in change.gone_orders:
        why.setdefault(_gone(context, change, order_id), []).append(order_id)
    return "; ".join(f"{tests_words(context, tuple(orders))}: {words}" for words, orders in why.items())


def _gone(context: ViewContext, change: StopChange, order_id: OrderId) -> str:
    for item in change.reasons:
        if item.order_id == order_id:
            return REASON[item.reason][0].lower()
    assert context.problem.replan is not None
    if any(addon.order_id == order_id for addon in context.problem.replan.addons):
        return "added to a tube that is drawn"
    for route in context.plan.routes:
        for visit in route.visits:
            if order_id in visit.order_ids:
                return "drawn already" if visit.outcome is not None else f"left for {context.clock(visit.draw_s)}"
    return "no longer ordered"


def change_words(context: ViewContext, change: StopChange) -> str:
    """Return what changed of a stop, as it stands on the stop's own card."""
    parts = []
    if change.kind is ChangeKind.ADDED:
        parts.append("new on this sheet")
    if change.kind is ChangeKind.MOVED:
        parts.append(f"moved {moved_words(context, change)}")
    if change.kind is not ChangeKind.ADDED and change.new_orders:
        parts.append(f"also {tests_words(context, change.new_orders)}")
    if change.gone_orders:
        parts.append(f"not {gone_words(context, change)}")
    return "; ".join(parts)
