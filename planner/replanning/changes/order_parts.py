"""Changes of what an order of the round says: its dose, its time, its priority, whether it is fasting."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import replace
from typing import Any

from planner.domain.catalogue import DoseKind
from planner.domain.order_parts import OrderPart, changed_words, part_of, parts_that_differ
from planner.domain.orders import Order, OrderId, Priority
from planner.domain.revisions.changes import Dose, Timing
from planner.domain.revisions.event_kinds import Channel
from planner.domain.revisions.events import OrderChanged
from planner.replanning.changes.orders import find_order_id
from planner.replanning.changes.perform import do
from planner.replanning.changes.working import Working

_DOSE_PART = {
    DoseKind.TROUGH: OrderPart.NEXT_DOSE,
    DoseKind.POST_DOSE: OrderPart.LAST_DOSE,
    DoseKind.POST_START: OrderPart.LAST_DOSE,
    DoseKind.POST_CHANGE: OrderPart.LAST_DOSE,
    DoseKind.POST_END: OrderPart.INFUSION_END,
}
"""From which instant of an order the dose rule of its test counts, by the rule's kind."""


def change_order(work: Working, listed: Order, stated: Set[OrderPart]) -> bool:
    """Apply what a list says otherwise of an order of the round; return whether it says anything otherwise.

    Another patient or test under one number, a change of an order that is drawn, a part that is no longer stated and a
    stat that is none any more are not applied: a person decides.
    """
    before = work.orders[listed.id]
    if (before.patient_id, before.ordered_test) != (listed.patient_id, listed.ordered_test):
        work.error(
            "order-differs",
            f"order {listed.id}: the list has it for another patient or test; the round's is kept. Find out what is "
            "wanted, cancel it, and give it a new number",
            [listed.id],
        )
        return True
    differing = [p for p in parts_that_differ(before, listed) if p in stated or _says(listed, p)]
    if not differing or _is_older(work, listed, differing):
        return False
    doubtful = [p for p in differing if not _says(listed, p)]
    words = changed_words(work.clock, before, listed, differing)
    if listed.id in work.drawn:
        advice = "Tell the laboratory, and have it drawn again (--recollect) if the result would mislead"
        work.drawn_already("order-differs", listed.id, f"the list says otherwise ({words})", advice)
    elif doubtful:
        work.error(
            "order-differs",
            f"order {listed.id}: the list says otherwise ({words}), and no longer states what the round has; nothing "
            "of it is applied. Find out what is wanted, cancel the order, and give it a new number",
            [listed.id],
        )
    else:
        _change(work, before, _with(before, {p: part_of(listed, p) for p in differing}), Channel.ORDER_LIST)
    return True


def note_order(work: Working, listed: Order) -> bool:
    """Apply another note of an order that is not drawn; return whether there is one. An older list changes nothing."""
    before = work.orders[listed.id]
    is_same_order = (before.patient_id, before.ordered_test) == (listed.patient_id, listed.ordered_test)
    if not listed.note or not is_same_order or listed.id in work.drawn:
        return False
    if listed.note in {before.note, *_notes_before(work, listed.id)}:
        return False
    _change(work, before, before.with_note_of(listed), Channel.ORDER_LIST)
    return True


def lost_its_note(work: Working, listed: Order) -> bool:
    """Return whether a list that has notes has none any more for an order that is not drawn; an older list: never."""
    before = work.orders[listed.id]
    is_open = listed.id not in work.drawn and "" not in _notes_before(work, listed.id)
    return is_open and bool(before.note) and not listed.note


def _notes_before(work: Working, order_id: OrderId) -> set[str]:
    """Return the notes that an order had before it was changed."""
    return {what.before.note for what in work.happened(OrderChanged) if what.order.id == order_id}


def apply_dose(work: Working, change: Dose) -> None:
    """Move the dose from which the time of an order counts: the next one of a trough, the last one of any other."""
    order = _open_order(work, change.order_id)
    if order is None:
        return
    rule = work.problem.test_of(order).dose_rule
    if rule is None or rule.kind not in _DOSE_PART:
        message = f"order {order.id} ({order.test}): its time does not depend on a dose; give --time {order.id}=HH:MM"
        work.error("no-dose-rule", message, [order.id])
        return
    _change(work, order, _with(order, {_DOSE_PART[rule.kind]: work.near_now(change.at_wall_s)}))


def apply_time(work: Working, change: Timing) -> None:
    """Have an order drawn at another time."""
    order = _open_order(work, change.order_id)
    if order is not None:
        at_s = work.near_now(change.at_wall_s)
        _change(work, order, replace(order, collect_at_s=at_s, collect_from_s=None, collect_to_s=None))


def _is_older(work: Working, listed: Order, parts: Sequence[OrderPart]) -> bool:
    """Whether a list still has of an order what was changed by phone since."""
    phoned = [
        event.what.before
        for event in work.log()
        if isinstance(event.what, OrderChanged) and event.came_by is Channel.OPTION and event.what.order.id == listed.id
    ]
    return any(all(part_of(before, part) == part_of(listed, part) for part in parts) for before in phoned)


def _with(order: Order, parts: Mapping[OrderPart, object]) -> Order:
    """Return an order that says something else in some parts."""
    values: dict[str, Any] = {part.value: value for part, value in parts.items()}
    return replace(order, **values)


def _says(order: Order, part: OrderPart) -> bool:
    """Whether an order says something in a part; no priority at all reads as routine."""
    value = part_of(order, part)
    return value is not None and value is not Priority.ROUTINE


def _open_order(work: Working, text: str) -> Order | None:
    """Return the order of the round that a text means and that is not drawn yet; None with a finding."""
    order_id = find_order_id(work, text)
    if order_id is None:
        return None
    if order_id not in work.orders:
        message = f"order {order_id} is set aside ({work.set_aside[order_id].detail}); give it as a new order instead"
        work.error("order-not-found", message, [order_id])
        return None
    if order_id in work.drawn:
        work.drawn_already("order-drawn", order_id, "its time cannot change", "Tell the laboratory")
        return None
    return work.orders[order_id]


def _change(work: Working, before: Order, after: Order, came_by: Channel = Channel.OPTION) -> None:
    if before == after:
        work.say_known(f"order {before.id} as it is given")
    else:
        do(work, OrderChanged(order=after, before=before), came_by)
