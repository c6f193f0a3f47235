"""Changes of when couriers leave: other times, later, no more."""

from __future__ import annotations

from planner.domain.places import PickupKind
from planner.domain.plan import Handover
from planner.domain.revisions.changes import Courier
from planner.domain.revisions.events import CourierChanged
from planner.findings import Severity
from planner.replanning.changes.perform import do
from planner.replanning.changes.working import Working
from planner.units import SECONDS_PER_MINUTE, format_minutes


def apply_courier(work: Working, change: Courier) -> None:
    """Replace the departures still to come at a place; those that are gone by now stay.

    A courier who comes no more and never came keeps one departure before the round: no departure at all would mean
    that specimens leave at once.
    """
    index = _find(work, change.place)
    if index is None:
        return
    pickup = work.pickups[index]
    gone = tuple(d for d in pickup.departures_s if d <= work.now_s)
    to_come = tuple(d for d in pickup.departures_s if d > work.now_s)
    words, new = _departures(work, change, work.bed_words(pickup.place), to_come)
    if new is None:
        return
    what = CourierChanged(
        place=pickup.place,
        delay_s=change.delay_s,
        departs_s=new if change.delay_s is None else (),
        departures_s=tuple(sorted({*gone, *new})) or (work.problem.start_s - SECONDS_PER_MINUTE,),
    )
    if new == to_come or (change.delay_s is not None and work.knows(what)):
        advice = ". If it is later still, write the time" if change.delay_s is not None else ""
        work.say_known(words, advice)
        return
    do(work, what)
    _report_waiting(work, index)


def _departures(
    work: Working, change: Courier, place: str, to_come: tuple[int, ...]
) -> tuple[str, tuple[int, ...] | None]:
    """Return the change in words and the new departures to come; None for these with a finding."""
    if change.delay_s is not None:
        key = f"courier at {place} {format_minutes(change.delay_s)} minutes later"
        if not to_come:
            work.error("change-in-the-past", f"{key}: no departure is left after {work.words(work.now_s)}")
            return key, None
        return key, tuple(sorted({to_come[0] + change.delay_s, *to_come[1:]}))
    if not change.departs_wall_s:
        return f"courier at {place} comes no more", ()
    times = sorted({work.near_now(wall_s) for wall_s in change.departs_wall_s})
    over = [t for t in times if t <= work.now_s]
    if over:
        shown = ", ".join(map(work.words, over))
        message = f"courier at {place} at {shown}: that is over at {work.words(work.now_s)}; write the times to come"
        work.error("change-in-the-past", message)
    left = tuple(t for t in times if t > work.now_s)
    return f"courier at {place} at {', '.join(map(work.words, left))}", left or None


def _report_waiting(work: Working, index: int) -> None:
    """Say which specimens lie at the place for a departure that is moved or cancelled."""
    pickup = work.pickups[index]
    handovers = [stop for route in work.plan.routes for stop in route.stops if isinstance(stop, Handover)]
    waiting = [
        stop
        for stop in handovers
        if stop.place == pickup.place
        and stop.kind is PickupKind.COURIER
        and stop.depart_s <= work.now_s < (stop.departs_s or 0)
        and stop.departs_s not in pickup.departures_s
    ]
    if not waiting:
        return
    later = [d for d in pickup.departures_s if d > work.now_s]
    place = work.bed_words(pickup.place)
    then = f"the next leaves at {work.words(later[0])}" if later else "nobody comes for them: have them fetched"
    message = f"specimens lie at {place} for the courier of {work.words(waiting[0].departs_s or 0)}; {then}"
    work.say("courier-waiting", Severity.WARNING if later else Severity.ERROR, message)


def _find(work: Working, text: str) -> int | None:
    """Return the index of the courier's pickup that a text names; None with a finding."""
    couriers = [n for n, p in enumerate(work.pickups) if p.kind is PickupKind.COURIER]
    names = {n: work.bed_words(work.pickups[n].place) for n in couriers}
    wanted = _plain(text)
    ids = [n for n in couriers if _plain(work.pickups[n].place) == wanted]
    same = ids or [n for n in couriers if _plain(names[n]) == wanted]
    found = same or [n for n in couriers if wanted in _plain(names[n])]
    if len(found) == 1:
        return found[0]
    choices = ", ".join(names[n] for n in (found or couriers)) or "none"
    what = "can be several" if found else "is not one"
    work.error("courier-not-found", f"{text!r} {what} of the places at which a courier calls: {choices}")
    return None


def _plain(text: str) -> str:
    return "".join(text.casefold().split())
