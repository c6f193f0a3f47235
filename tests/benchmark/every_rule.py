"""Adds to a generated round the rules that it lacks, each put around the same walk, so that it can still be made.

Breaks, quiet hours, need-by times of wards, a tray limit, one-way corridors, a second skill that half the people have,
stated spans, peaks, more isolation, specimens that are carried by hand, on ice or at 37 C, a series that began before
the round, and blood drawn in the 24 hours before. What the round had stays as it was; a patient with a wish of her own
gets no other.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from planner.domain.orders import EarlierDraw, Order, OrderId, Patient, PatientId, Precaution, Priority, TimeWindow
from planner.domain.places import Corridor, PickupKind, PlaceKind
from planner.domain.policy import Policy
from planner.domain.problem import Problem
from planner.domain.staff import Phlebotomist
from planner.units import SECONDS_PER_DAY
from planner.walking import walking_times

UNDERSTOOD = tuple(precaution for precaution in Precaution if precaution is not Precaution.UNCLEAR)
"""Precautions that a table can state; the rounds that are measured stay the same."""

BREAK_S = 15 * 60
TRAY_LIMIT = 30
SKILL = "line"
"""Had by every second collector, the first among them."""
CARRIED_BY_HAND = ("AA", "COLD", "LDH", "MAL")
"""On ice, at 37 C and at room temperature; the laboratory must have them within an hour or two."""
ON_ICE = ("CALCIT", "CH50", "HCY")
_HOUR_S = 3600


@dataclass(frozen=True, slots=True)
class Step:
    """Where a patient stands in the walk that the round is made around: whose walk, and when they are at the bed.

    ``again_s``: when they draw there a second time; None: they do not.
    """

    person: int
    at_s: int
    again_s: int | None = None


Walk = dict[PatientId, Step]


def with_every_rule(problem: Problem, walk: Walk, seed: int) -> Problem:
    """Return the round with every rule of the program that tables can state; ``walk`` can still be walked."""
    rng = random.Random(f"every rule {seed} {len(walk)}")
    plain = _patients_without_wishes(problem)
    patients, orders, earlier = dict(problem.patients), list(problem.orders), list(problem.earlier_draws)
    for patient in problem.patients.values():
        if "child" in patient.needs:
            patients[patient.id] = replace(patient, drawn_24h_ul=6_000, haemoglobin_g_l=95)
        if patient.id in plain:
            own = [order for order in problem.orders if order.patient_id == patient.id]
            patients[patient.id], wished, made = _with_wish(rng, problem, patient, own, walk[patient.id])
            orders = [order for order in orders if order.patient_id != patient.id] + wished
            earlier += made
    lanes = _one_way_lanes(problem)
    places = problem.places
    corridors = (*problem.corridors, *lanes)
    walking, unreachable = walking_times(places, corridors, problem.policy.walking, places)
    assert not unreachable
    return replace(
        problem,
        patients=patients,
        orders=tuple(sorted(orders, key=lambda o: o.id)),
        earlier_draws=tuple(sorted(earlier, key=lambda d: (d.draw_s, d.patient_id, d.series, d.test))),
        corridors=corridors,
        walking=walking,
        staff=tuple(_with_break(person, number) for number, person in enumerate(problem.staff)),
        policy=_with_ward_hours(problem, walk),
    )


def _patients_without_wishes(problem: Problem) -> set[PatientId]:
    wishing = {
        o.patient_id
        for o in problem.orders
        if o.is_timed or o.series or o.next_dose_s is not None or o.priority is not Priority.ROUTINE
    }
    return {p.id for p in problem.patients.values() if not (p.id in wishing or p.away or p.needs or p.last_ate_s)}


def _with_wish(
    rng: random.Random, problem: Problem, patient: Patient, own: list[Order], step: Step
) -> tuple[Patient, list[Order], list[EarlierDraw]]:
    """Return the patient, the orders and earlier draws with at most one wish that the walk fulfils."""
    at_s, draw = step.at_s - step.at_s % 60, rng.random()
    if draw < 0.15:
        own = [replace(own[0], collect_from_s=at_s - 600, collect_to_s=at_s + 1800), *own[1:]]
    elif draw < 0.27:
        own = [*own, _more(own, test="VANCP", infusion_end_s=at_s - 80 * 60)]  # drawn 60 to 120 min after its end
    elif draw < 0.39:
        if _meets_courier(problem, patient, at_s):
            own = [*own, _more(own, test=rng.choice(CARRIED_BY_HAND))]
    elif draw < 0.50:
        if _meets_courier(problem, patient, at_s):
            own = [*own, _more(own, test=rng.choice(ON_ICE))]
    elif draw < 0.62:
        patient = replace(patient, needs=frozenset({SKILL} if step.person % 2 == 0 else ()))
    elif draw < 0.72:
        own = [*(o for o in own if o.test != "TNI"), _more(own, test="TNI", series="TNI")]
        return patient, own, [_drawn(patient, own[-1], at_s - _HOUR_S)]  # protocol 0;60: the second comes an hour later
    elif draw < 0.80:
        patient = replace(patient, drawn_24h_ul=rng.randrange(4, 30) * 1000, haemoglobin_g_l=rng.randrange(80, 140))
    elif draw < 0.90 and not patient.precautions:
        patient = replace(patient, precautions=frozenset({rng.choice(UNDERSTOOD)}))
    return patient, own, []


def _more(own: list[Order], **detail: Any) -> Order:
    return Order(id=OrderId(f"{own[0].patient_id}-{len(own)}"), patient_id=own[0].patient_id, **detail)


def _drawn(patient: Patient, order: Order, draw_s: int) -> EarlierDraw:
    return EarlierDraw(patient_id=patient.id, test=order.test, series=order.series or "", draw_s=draw_s)


def _meets_courier(problem: Problem, patient: Patient, at_s: int) -> bool:
    """Whether a courier leaves the patient's ward so soon that what he takes is in the laboratory within the hour."""
    return any(
        at_s + 900 <= departs_s <= at_s + _HOUR_S - pickup.transit_s - 300
        for pickup in problem.pickups
        if pickup.kind is PickupKind.COURIER and problem.places[pickup.place].ward == patient.ward
        for departs_s in pickup.departures_s
    )


def _one_way_lanes(problem: Problem) -> list[Corridor]:
    """Return short ways back from each ward's pickup to that of the ward before: doors that open one way only."""
    doors = [place.id for place in problem.places.values() if place.kind is PlaceKind.PICKUP]
    return [
        Corridor(from_place=later, to_place=before, metres=45.5, is_one_way=True) for before, later in pairwise(doors)
    ]


def _with_break(person: Phlebotomist, number: int) -> Phlebotomist:
    """Return the collector with a break in the middle of the shift, and with the skill if the number is even."""
    middle_s = (person.from_s + person.until_s) // 2
    middle_s -= middle_s % 60
    window = TimeWindow(
        earliest_s=max(person.from_s, middle_s - 1800), latest_s=min(person.until_s, middle_s + BREAK_S + 1800)
    )
    skills = person.skills | ({SKILL} if number % 2 == 0 else set())
    return replace(person, skills=skills, break_window=window, break_s=BREAK_S)


def _with_ward_hours(problem: Problem, walk: Walk) -> Policy:
    """Return the policy with quiet hours of every second ward, a need-by time of every ward, and a tray limit."""
    quiet: dict[str, tuple[TimeWindow, ...]] = {}
    needed_by_s: dict[str, int] = {}
    for number, ward in enumerate(sorted({p.ward for p in problem.patients.values()})):
        steps = [walk[p.id] for p in problem.patients.values() if p.ward == ward]
        at_s = sorted(at_s for step in steps for at_s in (step.at_s, step.again_s) if at_s is not None)
        if number % 2 and (span := _quiet_span(at_s, problem)):
            quiet[ward] = tuple(
                TimeWindow(earliest_s=span.earliest_s + day_s, latest_s=span.latest_s + day_s)
                for day_s in (-SECONDS_PER_DAY, 0, SECONDS_PER_DAY)
            )
        needed_by_s[ward] = _needed_by(problem, ward, at_s[-1])
    return replace(
        problem.policy,
        round=replace(problem.policy.round, day=problem.clock.day, quiet_hours=quiet, needed_by_s=needed_by_s),
        handover=replace(problem.policy.handover, tray_limit=TRAY_LIMIT),
    )


def _quiet_span(at_s: Sequence[int], problem: Problem) -> TimeWindow | None:
    """Return quiet hours before the walk comes to a ward, after it has left it, or while nobody is there.

    ``at_s``: when somebody is at a bed of the ward, ascending. Whole minutes; None: there are none so long.
    """
    befores_s = [(second - 300) // 60 * 60 for second in at_s]
    afters_s = [-(-(second + 1800) // 60) * 60 for second in at_s]
    if befores_s[0] > problem.start_s + 600:
        return TimeWindow(earliest_s=problem.start_s - _HOUR_S, latest_s=befores_s[0])
    if afters_s[-1] < problem.end_s:
        return TimeWindow(earliest_s=afters_s[-1], latest_s=afters_s[-1] + 2 * _HOUR_S)
    between = [TimeWindow(earliest_s=a, latest_s=b) for a, b in zip(afters_s, befores_s[1:], strict=False) if a < b]
    return max(between, key=lambda span: span.latest_s - span.earliest_s, default=None)


def _needed_by(problem: Problem, ward: str, last_s: int) -> int:
    """Return when the laboratory has what the first courier takes after the walk's last stop on a ward."""
    arrivals_s = [
        departs_s + pickup.transit_s
        for pickup in problem.pickups
        if pickup.kind is PickupKind.COURIER and problem.places[pickup.place].ward == ward
        for departs_s in pickup.departures_s
        if departs_s >= last_s + 900
    ]
    return min(arrivals_s, default=problem.end_s // 60 * 60 + _HOUR_S)
