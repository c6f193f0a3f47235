"""What notes and alerts state of each order, once the orders and the patients of a list are known."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import replace

from planner.domain.catalogue import Catalogue
from planner.domain.orders import NoteSays, Order, OrderId, Patient, PatientId
from planner.domain.plan import Visit
from planner.domain.problem import Problem
from planner.loaders.build.chilled import as_words_ask
from planner.loaders.build.order_rows import OrderDraft
from planner.loaders.values.note_times import counts_from_something, time_said
from planner.loaders.values.notes import Reach, conditions
from planner.units import RoundClock


def notes_of(drafts: Iterable[OrderDraft]) -> dict[PatientId, list[str]]:
    """Return the notes of a list by patient, those of orders that are set aside included."""
    notes: dict[PatientId, list[str]] = {}
    for draft in drafts:
        notes.setdefault(PatientId(draft.record.text("patient_number")), []).append(draft.record.text("note"))
    return notes


def with_what_is_said(
    orders: Iterable[Order],
    patients: Mapping[PatientId, Patient],
    notes: Mapping[PatientId, Sequence[str]],
    catalogue: Catalogue,
    clock: RoundClock,
    start_s: int,
    drawn: Set[OrderId] = frozenset(),
) -> Iterator[Order]:
    """Yield the orders with the conditions that texts state of them; ``notes`` are those of all a patient's orders.

    Texts turn some tests into others, but not of orders that are ``drawn``.
    A clock time beside a condition belongs to the day that brings it nearest to the round's begin.
    """
    for listed in orders:
        order = listed
        patient = patients.get(order.patient_id)
        alerts = (*patient.alerts, *patient.unmapped) if patient else ()
        texts = [
            (Reach.NOTE, order.note),
            *((Reach.ALERTS, text) for text in alerts),
            *((Reach.PATIENT, text) for text in notes.get(order.patient_id, ())),
        ]
        if order.id not in drawn:
            order = as_words_ask(order, (text for _, text in texts), catalogue)
        found = list(conditions(catalogue.tests[order.test], texts))
        counted = {NoteSays.COUNTED} if counts_from_something(order.note) else set()
        yield replace(
            order,
            note_says=frozenset(says for says, _ in found) | counted,
            time_in_note=time_said(order.note),
            antibiotic_s=_instants(found, NoteSays.ANTIBIOTIC, clock, start_s),
            elsewhere_s=_instants(found, NoteSays.ELSEWHERE, clock, start_s),
        )


def with_texts(problem: Problem) -> Problem:
    """Return a round with what its notes and alerts state of each order by now, later lists and stats included."""
    notes: dict[PatientId, list[str]] = {}
    for order in problem.orders:
        notes.setdefault(order.patient_id, []).append(order.note)
    for left in problem.set_aside:
        if left.patient_id is not None:
            notes.setdefault(left.patient_id, []).append(left.note)
    past = problem.replan.past if problem.replan else ()
    drawn = frozenset(i for one in past for stop in one.stops if isinstance(stop, Visit) for i in stop.order_ids)
    said = with_what_is_said(
        problem.orders, problem.patients, notes, problem.catalogue, problem.clock, problem.start_s, drawn
    )
    return replace(problem, orders=tuple(said))


def _instants(
    found: Iterable[tuple[NoteSays, tuple[int, ...]]], says: NoteSays, clock: RoundClock, start_s: int
) -> tuple[int, ...]:
    """Return the instants that stand beside a condition, in seconds after midnight of the round's day."""
    clocks = {clock_s for said, clocks in found if said is says for clock_s in clocks}
    return tuple(sorted(clock.near(clock_s, start_s) for clock_s in clocks))
