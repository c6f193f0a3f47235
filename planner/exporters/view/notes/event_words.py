"""Says in words what happened: the events of a revision, as the summary and the sheets print them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from planner.domain.draws import DrawId
from planner.domain.order_parts import changed_words, parts_that_differ
from planner.domain.orders import PatientId, Priority
from planner.domain.places import PlaceId
from planner.domain.plan import Outcome, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.event_kinds import Channel
from planner.domain.revisions.events import (
    BedAdded,
    CourierChanged,
    Event,
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
from planner.domain.revisions.replan import Promised, Replan
from planner.domain.revisions.reported import Reported
from planner.exporters.view.words import OUTCOME_SAID, count_words
from planner.units import format_minutes

MOST_LISTED = 8
"""Orders of one list that are named; more are counted."""

_SAID_IN_WORDS = frozenset({Outcome.UNIDENTIFIED, Outcome.UNSUCCESSFUL})


def event_words(
    problem: Problem, events: Iterable[Event], who: Callable[[PatientId], str] | None = None
) -> tuple[str, ...]:
    """Return the events in words: visits that a file reports as collected as a number, and long lists; the rest singly.

    Parameters
    ----------
    problem
        The round after the events.
    who
        Says who a patient is, to be read back with the bed; None: no patient is named.
    """
    listed = tuple(events)
    collected = [e for e in listed if isinstance(e.what, Reported) and e.what.outcome is Outcome.COLLECTED]
    typed = [e for e in collected if e.came_by is Channel.OPTION]
    counted = collected if len(typed) > MOST_LISTED else [e for e in collected if e not in typed]
    added = [e for e in listed if isinstance(e.what, OrderAdded)]
    number = len({e.what.draw_id for e in counted if isinstance(e.what, Reported)})
    words = [f"{count_words(number, 'visit')} reported as collected{_by_person(problem, counted)}"] * bool(number)
    for event in listed:
        if event in counted or (event in added and len(added) > MOST_LISTED):
            continue
        patient_id = _patient_id(problem, event)
        named = f" ({who(patient_id)})" if who is not None and patient_id is not None else ""
        words.append(_WORDS[type(event.what)](problem, event.what, event) + named)
    if len(added) > MOST_LISTED and not any(isinstance(event.what, ListRead) for event in listed):
        words.append(f"{len(added)} orders of a list")
    return tuple(dict.fromkeys(words))


def _patient_id(problem: Problem, event: Event) -> PatientId | None:
    """Return the patient in the bed that was given; None where an event is not about somebody in a bed."""
    what, replan = event.what, problem.replan
    if isinstance(what, StatOrdered | PatientAway | PatientMoved | PatientGone):
        return what.patient_id if what.patient_id in problem.patients else None
    if replan is None or not isinstance(what, Reported):
        return None
    return {visit.draw_id: visit.patient_id for visit in _known(replan)}.get(what.draw_id)


def _known(replan: Replan) -> tuple[Promised | Visit, ...]:
    """Return the visits that an event of a revision may be about, the surest last."""
    return (*replan.came_back, *replan.promised, *replan.ended)


def _bed(problem: Problem, place: PlaceId) -> str:
    return problem.place_name(place)


def _bed_of(problem: Problem, patient_id: PatientId) -> str:
    """Return where a patient lies; one who came with a list that was taken back lies nowhere."""
    return _bed(problem, problem.patients[patient_id].bed) if patient_id in problem.patients else "?"


def _who(problem: Problem, phlebotomist: int) -> str:
    """Return somebody's initials; one who joined and whose joining was taken back has none any more."""
    return problem.staff[phlebotomist].initials if phlebotomist < len(problem.staff) else "somebody who joined"


def _reported(problem: Problem, what: Reported, _event: Event) -> str:
    person, at_s = _made(problem, what)
    at = "" if at_s is None else f" at {problem.clock.format_clock(at_s)}"
    by = "" if person is None else f" by {_who(problem, person)}"
    said = OUTCOME_SAID[what.outcome] if what.outcome in _SAID_IN_WORDS else what.outcome.value
    return f"bed {_bed_of_draw(problem, what.draw_id)}: {said}{at}{by}"


def _made(problem: Problem, what: Reported) -> tuple[int | None, int | None]:
    """Return who drew or tried, and when: as reported, else as the round has it since; None: nobody, or not known."""
    pasts = problem.replan.past if problem.replan else ()
    made = ((past.phlebotomist, stop) for past in pasts for stop in past.stops if isinstance(stop, Visit))
    person, at_s = next(((who, stop.draw_s) for who, stop in made if stop.draw_id == what.draw_id), (None, None))
    return (person if what.drawn_by is None else what.drawn_by, at_s if what.at_s is None else what.at_s)


def _by_person(problem: Problem, events: Iterable[Event]) -> str:
    """Return who made how many visits, and when the last of them: ' (AB 3, the last at 05:42; CD 1, at 05:40)'."""
    times: dict[int, dict[DrawId, int]] = {}
    for event in events:
        if isinstance(event.what, Reported):
            person, at_s = _made(problem, event.what)
            if person is not None and at_s is not None:
                times.setdefault(person, {})[event.what.draw_id] = at_s
    said = [
        f"{_who(problem, person)} {len(draws)}, {'the last ' * (len(draws) > 1)}at "
        f"{problem.clock.format_clock(max(draws.values()))}"
        for person, draws in sorted(times.items())
    ]
    return f" ({'; '.join(said)})" if said else ""


def _bed_of_draw(problem: Problem, draw_id: DrawId) -> str:
    replan = problem.replan
    if replan is None:
        return "?"
    places = {visit.draw_id: visit.place for visit in _known(replan)}
    return _bed(problem, places[draw_id]) if draw_id in places else "?"


def _stat(problem: Problem, what: StatOrdered, _event: Event) -> str:
    sets = f" x{what.number}" if what.number > 1 else ""
    again = "" if what.again_s is None else f", again at {problem.clock.format_clock(what.again_s)}"
    return f"stat {what.test}{sets} at bed {_bed(problem, what.bed)}{again} (order {what.order_ids[0]})"


def _order(problem: Problem, what: OrderAdded, _event: Event) -> str:
    called = f"{_urgency(what.order.priority)}{what.order.called}"
    return f"order {what.order.id} {called} at bed {_bed_of(problem, what.order.patient_id)}"


def _order_aside(problem: Problem, what: OrderSetAside, _event: Event) -> str:
    item = what.unplanned
    return f"order {item.order_id} {_urgency(item.priority)}{item.test} (set aside: {item.reason.value})"


def _urgency(priority: Priority | None) -> str:
    """Return 'stat ' for what is wanted at once, likewise asap and urgent; nothing for routine and unknown."""
    return "" if priority is None or priority is Priority.ROUTINE else f"{priority.value} "


def _order_changed(problem: Problem, what: OrderChanged, _event: Event) -> str:
    order = what.order
    bed = _bed_of(problem, order.patient_id)
    parts = changed_words(problem.clock, what.before, order, parts_that_differ(what.before, order))
    note = "" if order.note == what.before.note else "another note"
    return f"order {order.id} {order.called} at bed {bed}: {', '.join(filter(None, (parts, note)))}"


def _cancelled(problem: Problem, what: OrderCancelled, event: Event) -> str:
    by = " by the list" if event.came_by is Channel.ORDER_LIST else ""
    return f"order {what.order_id} cancelled{by} (at {problem.clock.format_clock(event.said_s)})"


def _recollected(problem: Problem, what: OrderRecollected, _event: Event) -> str:
    return f"order {what.order_id} to be drawn again"


def _patient(problem: Problem, what: PatientAdded, _event: Event) -> str:
    return f"new patient at bed {_bed(problem, what.patient.bed)}"


def _patient_said(problem: Problem, what: PatientSaid, _event: Event) -> str:
    return f"more is said of the patient at bed {_bed_of(problem, what.patient.id)} (alerts, isolation or arms)"


def _bed_added(problem: Problem, what: BedAdded, _event: Event) -> str:
    return f"bed {_bed(problem, what.place.id)} beside {_bed(problem, what.neighbour)}"


def _away(problem: Problem, what: PatientAway, _event: Event) -> str:
    clock = problem.clock.format_clock
    return f"patient of bed {_bed(problem, what.bed)} away {clock(what.span.earliest_s)}-{clock(what.span.latest_s)}"


def _moved(problem: Problem, what: PatientMoved, _event: Event) -> str:
    return f"patient of bed {_bed(problem, what.bed)} moved to {_bed(problem, what.to)}"


def _gone(problem: Problem, what: PatientGone, _event: Event) -> str:
    number = len(what.order_ids)
    orders = "1 order" if number == 1 else f"{number} orders"
    return f"patient of bed {_bed(problem, what.bed)} gone ({orders} set aside)"


def _late(problem: Problem, what: PhlebotomistLate, _event: Event) -> str:
    clock, who = problem.clock.format_clock, _who(problem, what.phlebotomist)
    by = f"by {what.minutes} minutes" if what.minutes is not None else f"until {clock(what.ready_s)}"
    return f"{who} late {by} (not before {clock(what.ready_s)})"


def _lost(problem: Problem, what: PhlebotomistLost, event: Event) -> str:
    who = _who(problem, what.phlebotomist)
    return f"{who} collects no more (from {problem.clock.format_clock(event.said_s)})"


def _never_came(problem: Problem, what: PhlebotomistNeverCame, _event: Event) -> str:
    return f"{_who(problem, what.phlebotomist)} never came"


def _joined(problem: Problem, what: PhlebotomistJoined, _event: Event) -> str:
    person, clock = what.person, problem.clock.format_clock
    place = problem.place_name(person.starts_at)
    span = f"{clock(person.from_s)} to {clock(person.until_s)}"
    return f"{what.name} joins (as {person.initials}, {span}, from {place})"


def _courier(problem: Problem, what: CourierChanged, _event: Event) -> str:
    place = problem.place_name(what.place)
    if what.delay_s is not None:
        coming = [at_s for at_s in what.departures_s if problem.replan is None or at_s > problem.replan.now_s]
        at = f": leaves at {', '.join(map(problem.clock.format_clock, coming))}" if coming else ""
        return f"courier at {place} {format_minutes(what.delay_s)} minutes later{at}"
    if not what.departs_s:
        return f"courier at {place} comes no more"
    return f"courier at {place} at {', '.join(map(problem.clock.format_clock, what.departs_s))}"


def _list_read(_problem: Problem, what: ListRead, _event: Event) -> str:
    new = f"{what.num_new} new" if what.num_new else "none new"
    changed = f", {what.num_changed} changed or cancelled" if what.num_changed else ""
    return f"list read: {count_words(what.num_orders, 'order')}, {new}{changed}"


_WORDS: Mapping[type, Callable[[Problem, Any, Event], str]] = {
    Reported: _reported,
    StatOrdered: _stat,
    OrderAdded: _order,
    OrderSetAside: _order_aside,
    OrderChanged: _order_changed,
    OrderCancelled: _cancelled,
    OrderRecollected: _recollected,
    PatientAdded: _patient,
    PatientSaid: _patient_said,
    BedAdded: _bed_added,
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
