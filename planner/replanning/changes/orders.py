"""Changes of what is ordered: at once, from a list, cancelled, to be drawn again."""

from __future__ import annotations

from difflib import get_close_matches

from planner.domain.catalogue import TestCode
from planner.domain.order_numbers import find_order, nearest_orders
from planner.domain.orders import OrderId, Patient
from planner.domain.plan import Reason
from planner.domain.revisions.changes import Cancel, Recollect, StatOrders
from planner.domain.revisions.event_kinds import Channel
from planner.domain.revisions.events import OrderCancelled, OrderRecollected, StatOrdered
from planner.findings import Severity
from planner.replanning.changes.perform import do
from planner.replanning.changes.working import Working


def apply_stat(work: Working, change: StatOrders) -> None:
    """Order tests at once for the patient in a bed, each under a number of its own such as S0542-1."""
    patient = work.patient(change.bed)
    if patient is None:
        return
    for test in dict.fromkeys(change.tests):
        code = TestCode(test)
        if code in work.problem.catalogue.tests:
            is_culture = work.problem.catalogue.tests[code].is_culture
            _order_at_once(work, patient, code, change.tests.count(test) if is_culture else 1, change)
        else:
            close = get_close_matches(test.upper(), list(work.problem.catalogue.tests), n=3)
            hint = f"nearest: {', '.join(close)}" if close else "'planner catalogue' lists the codes"
            message = f"test {test!r} for bed {work.bed_words(patient.bed)} is not in the catalogue; {hint}"
            work.error("unknown-test", message)


def _order_at_once(work: Working, patient: Patient, code: TestCode, number: int, change: StatOrders) -> None:
    numbers = _numbers(work, number)
    what = StatOrdered(
        patient_id=patient.id,
        test=code,
        number=number,
        again_s=work.now_s if change.is_again else None,
        order_ids=numbers,
        bed=patient.bed,
    )
    if work.knows(what):
        sets = f" x{number}" if number > 1 else ""
        advice = "" if change.is_again else f'. If it is wanted once more, write "{change.bed}:{code} again"'
        work.say_known(f"stat {code}{sets} at bed {work.bed_words(patient.bed)}", advice)
    else:
        do(work, what)


def _numbers(work: Working, how_many: int) -> tuple[OrderId, ...]:
    """Return the next free numbers."""
    taken = {*work.order_ids(), *(u.order_id for u in work.plan.unplanned), *work.added}
    stem, number = f"S{work.clock.to_local(work.now_s):%H%M}", 1
    found: list[OrderId] = []
    while len(found) < how_many:
        if (order_id := OrderId(f"{stem}-{number}")) not in taken:
            found.append(order_id)
        number += 1
    return tuple(found)


def apply_cancel(work: Working, change: Cancel, came_by: Channel = Channel.OPTION) -> None:
    """Set an order aside that is no longer wanted, if its blood is not drawn yet."""
    order_id = find_order_id(work, change.order_id)
    if order_id is None:
        return
    before = work.set_aside.get(order_id)
    addons = {a.order_id for a in work.problem.replan.addons} if work.problem.replan else set()
    is_addon = order_id in addons and (before is None or before.reason is Reason.ADD_ON)
    if before is not None and not is_addon and not before.reason.needs_decision:
        work.say_known(f"order {order_id} is not planned ({before.detail})")
        return
    if is_addon:
        message = f"order {order_id} was to be added to a tube in the laboratory; phone that it is cancelled"
        work.say("addon-cancelled", Severity.WARNING, message, [order_id])
    elif order_id in work.drawn:
        work.drawn_already("order-drawn", order_id, "it stays in the round", "Tell the laboratory that it is cancelled")
        return
    do(work, OrderCancelled(order_id=order_id), came_by)


def apply_recollect(work: Working, change: Recollect) -> None:
    """Have an order drawn again whose specimen is of no use."""
    order_id = find_order_id(work, change.order_id)
    if order_id is None:
        return
    what = OrderRecollected(order_id=order_id)
    if work.knows(what) and order_id in work.to_come():
        work.say_known(f"order {order_id} to be drawn again")
    elif order_id not in work.orders:
        message = f"order {order_id} is set aside ({work.set_aside[order_id].detail}); give it as a new order instead"
        work.error("order-not-drawn", message, [order_id])
    elif order_id not in work.drawn:
        message = f"order {order_id} is not drawn yet by {work.words(work.now_s)}; there is nothing to draw again"
        work.error("order-not-drawn", message, [order_id])
    else:
        do(work, what)


def find_order_id(work: Working, text: str) -> OrderId | None:
    """Return the order that a text means; None with a finding."""
    order_id = find_order(work.order_ids(), text)
    if order_id is None:
        hint = nearest_orders(work.order_ids(), text)
        work.instead(text, "")
        work.error("order-not-found", f"order {text!r} is not in this round; {hint}", [text])
    return order_id
