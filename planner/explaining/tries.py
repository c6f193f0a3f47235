"""Single changes to a round that may mend an order which is late or not planned, family by family, smallest first.

A family is a list of changes of one kind in ascending size; the first that mends is the smallest of its kind.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from planner.domain.draws import OrderWindow
from planner.domain.orders import Order, Priority
from planner.domain.plan import Plan, Reason, Unplanned, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past
from planner.domain.staff import Phlebotomist
from planner.units import SECONDS_PER_MINUTE

STEPS_MINUTES = (5, 10, 15, 30, 60)
"""Sizes tried of a delay."""

HELP_STEP_S = 15 * SECONDS_PER_MINUTE
MOST_OTHERS = 6
MOST_COURIERS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Try:
    """A changed round, and in words what is changed."""

    words: str
    problem: Problem


def families(problem: Problem, plan: Plan, order: Order, window: OrderWindow | None) -> Iterator[list[Try]]:
    """Yield the families of changes for one order; ``problem`` is the round as it can still be planned."""
    if window is not None:
        yield _one_more_person(problem, window)
        yield from _couriers_held(problem, window)
        yield from _others_moved(problem, plan, order, window)
        yield _window_widened(problem, order, window)
    else:
        yield []


def _one_more_person(problem: Problem, window: OrderWindow) -> list[Try]:
    """Somebody who can do everything comes to the base, late if that suffices: the later, the smaller the change."""
    clock = problem.clock
    first_s = problem.begin_s
    last_s = max(first_s, min(window.latest.at_s, problem.end_s) - HELP_STEP_S)
    starts = [first_s, *range(first_s - first_s % HELP_STEP_S + HELP_STEP_S, last_s + 1, HELP_STEP_S)]
    skills = frozenset(skill for p in problem.patients.values() for skill in p.needs)
    tries: list[Try] = []
    for from_s in reversed(starts):
        helper = Phlebotomist(
            name="one more",
            initials="+1",
            from_s=from_s,
            until_s=problem.end_s,
            starts_at=problem.staff[0].starts_at,
            skills=skills,
        )
        replan = problem.replan
        if replan is not None:
            past = Past(phlebotomist=len(problem.staff), stops=(), place=helper.starts_at, free_s=from_s)
            replan = replace(replan, past=(*replan.past, past))
        changed = replace(problem, staff=(*problem.staff, helper), replan=replan)
        tries.append(Try(words=f"one more phlebotomist from {clock.format_clock(from_s)}", problem=changed))
    return tries


def _couriers_held(problem: Problem, window: OrderWindow) -> Iterator[list[Try]]:
    """A departure not long after the window begins is held: one family a departure."""
    clock = problem.clock
    departures = sorted(
        (departs_s, n)
        for n, pickup in enumerate(problem.pickups)
        for departs_s in pickup.departures_s
        if departs_s >= max(window.earliest.at_s, problem.begin_s)
    )
    for departs_s, n in departures[:MOST_COURIERS]:
        tries = []
        for minutes in STEPS_MINUTES:
            pickup = problem.pickups[n]
            held_s = departs_s + minutes * SECONDS_PER_MINUTE
            times = tuple(sorted({held_s if d == departs_s else d for d in pickup.departures_s}))
            pickups = (*problem.pickups[:n], replace(pickup, departures_s=times), *problem.pickups[n + 1 :])
            place = problem.place_name(pickup.place)
            words = f"the {clock.format_clock(departs_s)} courier at {place} held {minutes} minutes"
            tries.append(Try(words=words, problem=replace(problem, pickups=pickups)))
        yield tries


def _others_moved(problem: Problem, plan: Plan, order: Order, window: OrderWindow) -> Iterator[list[Try]]:
    """A visit with routine orders only, made shortly before the order should be drawn, is left to another round."""
    due_s = window.latest.at_s if window.target_s is None else window.target_s
    order_of = {o.id: o for o in problem.open_orders}
    visits = [
        visit
        for route in plan.routes
        for visit in route.visits
        if visit.outcome is None
        and visit.patient_id != order.patient_id
        and all(o in order_of and _can_wait(order_of[o]) for o in visit.order_ids)
        and visit.draw_s <= due_s
    ]
    visits.sort(key=lambda v: (due_s - v.draw_s, v.draw_id))
    for visit in visits[:MOST_OTHERS]:
        yield [_without(problem, visit)]


def _can_wait(order: Order) -> bool:
    return order.priority is Priority.ROUTINE and not order.is_timed


def _without(problem: Problem, visit: Visit) -> Try:
    gone = set(visit.order_ids)
    aside = tuple(
        Unplanned.of(o, Reason.OTHER_ROUND, "left to another round", bed=visit.place)
        for o in problem.orders
        if o.id in gone
    )
    bed = problem.place_name(visit.place)
    ids = ", ".join(visit.order_ids)
    return Try(
        words=f"bed {bed} ({ids}) left to another round",
        problem=replace(
            problem,
            orders=tuple(o for o in problem.orders if o.id not in gone),
            set_aside=(*problem.set_aside, *aside),
        ),
    )


def _window_widened(problem: Problem, order: Order, window: OrderWindow) -> list[Try]:
    """The end that is missed comes later: the time asked for, the meal, or the shifts."""
    rule = window.latest.rule if window.target is None else window.target.rule
    make = _LATER.get(rule)
    return [make(problem, order, window, minutes) for minutes in STEPS_MINUTES] if make else []


def _asked_later(problem: Problem, order: Order, window: OrderWindow, minutes: int) -> Try:
    assert window.target is not None
    to_s = window.target.at_s + minutes * SECONDS_PER_MINUTE
    from_s = window.earliest.at_s if window.earliest.rule == "requested" else order.collect_from_s
    changed = replace(order, collect_at_s=None, collect_from_s=from_s, collect_to_s=to_s)
    words = f"it may be drawn {minutes} minutes later, until {problem.clock.format_clock(to_s)}"
    return Try(words=words, problem=_with_order(problem, changed))


def _meal_later(problem: Problem, order: Order, window: OrderWindow, minutes: int) -> Try:
    patient = problem.patient_of(order)
    meal_s = window.latest.at_s + minutes * SECONDS_PER_MINUTE
    patients = dict(problem.patients) | {patient.id: replace(patient, next_meal_s=meal_s)}
    words = f"the patient's meal {minutes} minutes later, at {problem.clock.format_clock(meal_s)}"
    return Try(words=words, problem=replace(problem, patients=patients))


def _shifts_longer(problem: Problem, _order: Order, _window: OrderWindow, minutes: int) -> Try:
    staff = tuple(replace(who, until_s=who.until_s + minutes * SECONDS_PER_MINUTE) for who in problem.staff)
    return Try(words=f"everybody stays {minutes} minutes longer", problem=replace(problem, staff=staff))


_LATER = {"requested": _asked_later, "priority": _asked_later, "fasting": _meal_later, "round": _shifts_longer}


def _with_order(problem: Problem, changed: Order) -> Problem:
    return replace(problem, orders=tuple(changed if o.id == changed.id else o for o in problem.orders))
