"""Changes of what is ordered: at once, from a list, cancelled, to be drawn again."""

from __future__ import annotations

from dataclasses import replace
from difflib import get_close_matches

from planner.domain.catalogue import TestCode
from planner.domain.changes import Cancel, Recollect, StatOrders
from planner.domain.order_numbers import find_order, nearest_orders
from planner.domain.orders import Order, OrderId, Patient, Priority
from planner.domain.plan import Reason
from planner.findings import Severity, Source
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
    bed, clock = work.bed_words(patient.bed), work.words(work.now_s)
    sets = f" x{number}" if number > 1 else ""
    key = f"stat {code}{sets} at bed {bed}" + (f", again at {clock}" if change.is_again else "")
    known = work.known(key)
    if known and _is_for(work, known, patient):
        again = "" if change.is_again else f'. If it is wanted once more, write "{change.bed}:{code} again"'
        work.say_known(known, again)
        return
    numbers = [_number(work) for _ in range(number)]
    for order_id in numbers:
        work.orders[order_id] = Order(
            id=order_id,
            patient_id=patient.id,
            test=code,
            priority=Priority.STAT,
            series=f"{numbers[0]} {code}" if number > 1 else None,
            ordered_s=work.now_s,
            source=Source(file=f"--stat {change.bed}:{code}"),
        )
    work.given.append(f"{key} (order {numbers[0]})")


def _number(work: Working) -> OrderId:
    """Return the next free number, and count it as taken."""
    taken = {*work.order_ids(), *(u.order_id for u in work.plan.unplanned), *work.added}
    stem = f"S{work.clock.to_local(work.now_s):%H%M}"
    number = 1
    while (order_id := OrderId(f"{stem}-{number}")) in taken:
        number += 1
    work.added.append(order_id)
    return order_id


def _is_for(work: Working, known: str, patient: Patient) -> bool:
    """Whether an order that was given before is the same patient's: since then another may have come to the bed."""
    order_id = OrderId(known.rpartition("(order ")[2].removesuffix(")"))
    before = work.orders.get(order_id) or work.set_aside.get(order_id)
    return before is not None and before.patient_id == patient.id


def apply_cancel(work: Working, change: Cancel) -> None:
    """Set an order aside that is no longer wanted, if its blood is not drawn yet."""
    order_id = _find(work, change.order_id)
    if order_id is None:
        return
    detail = f"cancelled at {work.words(work.now_s)}"
    key = f"order {order_id} cancelled"
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
        message = f"order {order_id} is drawn already; it stays in the round. Tell the laboratory that it is cancelled"
        work.error("order-drawn", message, [order_id])
        return
    if before is not None:
        work.set_aside[order_id] = replace(before, reason=Reason.CANCELLED, detail=detail)
    else:
        work.put_aside(work.orders[order_id], Reason.CANCELLED, detail)
    work.given.append(f"{key} (at {work.words(work.now_s)})")


def apply_recollect(work: Working, change: Recollect) -> None:
    """Have an order drawn again whose specimen is of no use."""
    order_id = _find(work, change.order_id)
    if order_id is None:
        return
    key = f"order {order_id} to be drawn again"
    if work.known(key) and order_id in work.to_come():
        work.say_known(key)
    elif order_id not in work.orders:
        message = f"order {order_id} is set aside ({work.set_aside[order_id].detail}); give it as a new order instead"
        work.error("order-not-drawn", message, [order_id])
    elif order_id not in work.drawn:
        message = f"order {order_id} is not drawn yet by {work.words(work.now_s)}; there is nothing to draw again"
        work.error("order-not-drawn", message, [order_id])
    else:
        work.recollect.add(order_id)
        work.given.append(f"{key} (told at {work.words(work.now_s)})")


def _find(work: Working, text: str) -> OrderId | None:
    """Return the order that a text means; None with a finding."""
    order_id = find_order(work.order_ids(), text)
    if order_id is None:
        hint = nearest_orders(work.order_ids(), text)
        work.error("order-not-found", f"order {text!r} is not in this round; {hint}", [text])
    return order_id
