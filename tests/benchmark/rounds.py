"""Generates ward rounds around a feasible walk, and measures what the planner makes of them.

Run: python tests/benchmark/rounds.py [number of patients ...] [--seeds N] [--effort quick|normal|thorough].
"""

from __future__ import annotations

import argparse
import math
import random
import resource
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from planner.domain.catalogue import Catalogue
from planner.domain.goals import Tier
from planner.domain.orders import Order, OrderId, Patient, PatientId, Priority, TimeWindow
from planner.domain.places import Corridor, Pickup, PickupKind, Place, PlaceId, PlaceKind, WalkingTimes
from planner.domain.policy import Policy
from planner.domain.problem import Problem
from planner.domain.staff import Phlebotomist
from planner.loaders.catalogue.load import load_catalogue
from planner.solving.params import Effort
from planner.units import RoundClock
from planner.walking import walking_times
from tests.benchmark.every_rule import BREAK_S, UNDERSTOOD, Step, Walk, with_every_rule

DAY = date(2026, 3, 10)
BEGIN_S = 5 * 3600
BEDS_PER_WARD = 15
WARDS_PER_FLOOR = 12
STAY_S = 450
"""What a visit with its walk is reckoned at when the walk is made, unless it takes longer."""

WAY_S = 120
"""Of that, what is left at least for the walk and a share of the hand-overs."""

AGAIN_S = 3600
"""From the first to the second draw of a series of two."""

EARLY_S = 300
"""How much earlier than it is due a second draw is made, rather than after another visit."""

COMMON = ("CBC", "BMP", "PT", "LFT", "CRP", "TNI", "TS", "MAGN", "TSH", "ESR")
"""Asked for often on a ward (our choice)."""


@lru_cache(maxsize=1)
def real_catalogue() -> Catalogue:
    """Return the built-in laboratory."""
    return load_catalogue()[0]


@dataclass(frozen=True)
class Map:
    """Wards along a corridor per floor: beds, a courier's pickup per ward, a tube station on every second ward."""

    places: tuple[Place, ...]
    corridors: tuple[Corridor, ...]
    beds: tuple[PlaceId, ...]
    pickups: tuple[Pickup, ...]


def generated_problem(
    seed: int,
    num_visits: int = 15,
    num_people: int | None = None,
    *,
    extras: bool = True,
    room: float = 1.0,
    every_rule: bool = False,
    **changes: Any,
) -> Problem:
    """Return the round of `round_and_walk` without its walk."""
    return round_and_walk(
        seed, num_visits, num_people, extras=extras, room=room, every_rule=every_rule, **changes
    ).problem


@dataclass(frozen=True)
class Walked:
    """A round, and the walk that it is made around."""

    problem: Problem
    walk: Walk


def round_and_walk(
    seed: int,
    num_visits: int = 15,
    num_people: int | None = None,
    *,
    extras: bool = True,
    room: float = 1.0,
    every_rule: bool = False,
    **changes: Any,
) -> Walked:
    """Return a round that somebody could make: a walk is drawn first, and every time wish is put around it.

    `tests.benchmark.walked.walked_plan` makes the plan of the walk, so that the checker can judge it.

    Parameters
    ----------
    seed
        The same seed gives the same round.
    num_visits
        Patients, one of whom may still need two visits.
    num_people
        Collectors; one for each 26 patients when None.
    extras
        With timed draws, troughs, fasting, urgent orders, isolation, children and absences; else plain orders.
    room
        Share of the walk's hours that people work: below 1 not everything can be on time, or done, and the walk of
        the round is no plan of it.
    every_rule
        With the rules of `every_rule` as well.
    changes
        Fields of `Problem` to be other than generated.
    """
    rng = random.Random(f"round {seed} {num_visits}")
    people = num_people or max(1, math.ceil(num_visits / 26))
    each = math.ceil(num_visits / people)
    pause_s = BREAK_S if every_rule else 0
    until_s = BEGIN_S + round(room * max(3600, (each + 4) * STAY_S)) + pause_s
    ward = _map(num_visits, until_s)
    policy = Policy()
    patients, orders = [], []
    for number, bed in enumerate(rng.sample(ward.beds, num_visits) if extras else ward.beds[:num_visits]):
        patients.append(_patient(rng, number, bed, extras))
    patients.sort(key=lambda p: ward.beds.index(p.bed))
    walking, unreachable = walking_times(
        {p.id: p for p in ward.places}, ward.corridors, policy.walking, [p.id for p in ward.places]
    )
    assert not unreachable
    walk: Walk = {}
    ends_s = [until_s]
    for person in range(people):
        first, end = person * each, min(num_visits, (person + 1) * each)
        steps, ordered, end_s = _walked(rng, person, patients[first:end], walking, until_s, pause_s, extras)
        walk |= steps
        patients[first:end] = [patient for patient, _own in ordered]
        orders += [order for _patient, own in ordered for order in own]
        ends_s.append(end_s + WAY_S)
    if room >= 1:
        until_s = max(ends_s)
    fields: dict[str, Any] = {
        "round_name": f"generated {seed}",
        "clock": RoundClock(DAY),
        "catalogue": real_catalogue(),
        "patients": {p.id: p for p in patients},
        "orders": tuple(sorted(orders, key=lambda o: o.id)),
        "places": {p.id: p for p in ward.places},
        "corridors": ward.corridors,
        "walking": walking,
        "staff": tuple(
            Phlebotomist(
                name=f"Collector {n}",
                initials=f"C{n}",
                from_s=BEGIN_S,
                until_s=until_s,
                starts_at=PlaceId("Base"),
                skills=frozenset({"child"}),
            )
            for n in range(people)
        ),
        "pickups": ward.pickups,
        "policy": policy,
    }
    problem = Problem(**(fields | changes))
    return Walked(with_every_rule(problem, walk, seed) if every_rule else problem, walk)


def _walked(
    rng: random.Random,
    person: int,
    patients: Sequence[Patient],
    walking: WalkingTimes,
    until_s: int,
    pause_s: int,
    extras: bool,
) -> tuple[Walk, list[tuple[Patient, list[Order]]], int]:
    """Return the walk of one person, the patients with what is ordered for it, and when it is over."""
    walk: Walk = {}
    ordered: list[tuple[Patient, list[Order]]] = []
    again: list[PatientId] = []
    bed_of = {patient.id: patient.bed for patient in patients}
    at_s = BEGIN_S + 60

    def draw_again(at_s: int, here: PlaceId) -> int:
        first = walk[again[0]]
        at_s = max(at_s, first.at_s + AGAIN_S - EARLY_S) + walking.between(here, bed_of[again[0]])
        walk[again[0]] = replace(first, again_s=at_s)
        return at_s + STAY_S + walking.between(bed_of[again.pop(0)], here)

    for number, patient in enumerate(patients):
        if number == 0:
            at_s = max(at_s, BEGIN_S + walking.between(PlaceId("Base"), patient.bed))
        if number == math.ceil(len(patients) / 2):
            at_s += pause_s
        while again and at_s >= walk[again[0]].at_s + AGAIN_S - EARLY_S:
            at_s = draw_again(at_s, patient.bed)
        ordered.append(_ordered(rng, patient, at_s, until_s, extras))
        patient, own = ordered[-1]
        walk[patient.id] = Step(person, at_s)
        if any(order.series == "TNI" for order in own):
            again.append(patient.id)
        at_s += max(STAY_S, _stay_s(patient) + WAY_S)
    while again:
        at_s = draw_again(at_s, patients[-1].bed)
    return walk, ordered, at_s


def _stay_s(patient: Patient) -> int:
    """Return how long a visit takes by the usual policy, if it takes no more tubes than that includes."""
    policy = Policy().service
    return (
        policy.identify_s
        + policy.prepare_s
        + policy.draw_s
        + policy.label_s
        + policy.tidy_s
        + max((policy.gown_s[precaution] for precaution in patient.precautions), default=0)
        + policy.child_extra_s * ("child" in patient.needs)
        + policy.difficult_veins_extra_s * patient.has_difficult_veins
    )


def _map(num_visits: int, until_s: int) -> Map:
    """Wards 30 m apart, beds 4 m apart, the base before those of each floor, the laboratory 200 m away from it."""
    places = [
        Place(id=PlaceId("Base"), ward="", kind=PlaceKind.BASE),
        Place(id=PlaceId("Lab"), ward="", kind=PlaceKind.LABORATORY),
    ]
    corridors = [Corridor(from_place=PlaceId("Base"), to_place=PlaceId("Lab"), metres=200.0)]
    beds: list[PlaceId] = []
    pickups = [Pickup(place=PlaceId("Lab"), kind=PickupKind.CARRIED)]
    last = PlaceId("Base")
    for ward in range(math.ceil(num_visits * 1.3 / BEDS_PER_WARD)):
        door = PlaceId(f"W{ward}-pickup")
        places.append(Place(id=door, ward=f"W{ward}", kind=PlaceKind.PICKUP))
        floor = ward // WARDS_PER_FLOOR
        last = PlaceId("Base") if ward % WARDS_PER_FLOOR == 0 else last
        corridors.append(Corridor(from_place=last, to_place=door, metres=30.0 + 20.0 * floor * (last == "Base")))
        minutes = 40 + 10 * (ward % 3)
        departures_s = tuple(range(BEGIN_S + minutes * 60, until_s + 3600, 3600))
        pickups.append(Pickup(place=door, kind=PickupKind.COURIER, departures_s=departures_s, transit_s=600))
        if ward % 2 == 0:
            station = PlaceId(f"W{ward}-station")
            places.append(Place(id=station, ward=f"W{ward}", kind=PlaceKind.TUBE_STATION))
            corridors.append(Corridor(from_place=door, to_place=station, metres=12.0))
            pickups.append(Pickup(place=station, kind=PickupKind.TUBE, transit_s=180))
        last = door
        for bed in range(BEDS_PER_WARD):
            here = PlaceId(f"W{ward}-{bed + 1:02d}")
            label = f"{bed // 3 + 1}{'ABC'[bed % 3]}"  # the same on every ward
            places.append(Place(id=here, ward=f"W{ward}", kind=PlaceKind.BED, position=bed + 1, label=label))
            corridors.append(Corridor(from_place=last, to_place=here, metres=4.0))
            beds.append(here)
            last = here
    return Map(tuple(places), tuple(corridors), tuple(beds), tuple(pickups))


def _patient(rng: random.Random, number: int, bed: PlaceId, extras: bool) -> Patient:
    is_child = extras and rng.random() < 0.05
    isolated = extras and rng.random() < 0.12
    return Patient(
        id=PatientId(f"P{number:03d}"),
        bed=bed,
        ward=str(bed).split("-")[0],
        family_name=f"Family{number}",
        given_name=f"Given{number}",
        birth_date=date(2019, 6, 1) if is_child else date(1940 + number % 50, 2, 3),
        sex=rng.choice(["female", "male"]),
        weight_g=22_000 if is_child else None,
        precautions=frozenset({rng.choice(UNDERSTOOD)}) if isolated else frozenset(),
        has_difficult_veins=extras and rng.random() < 0.08,
        needs=frozenset({"child"}) if is_child else frozenset(),
    )


def _ordered(
    rng: random.Random, patient: Patient, at_s: int, until_s: int, extras: bool
) -> tuple[Patient, list[Order]]:
    """Return the patient with what is ordered for a draw at about ``at_s``."""
    codes = sorted({rng.choice(COMMON) for _ in range(rng.randint(1, 4))})
    details: list[dict[str, Any]] = [{"test": code} for code in codes]
    if extras:
        patient, details = _with_extras(rng, patient, at_s, until_s, details)
    return patient, [
        Order(id=OrderId(f"{patient.id}-{n}"), patient_id=patient.id, **detail) for n, detail in enumerate(details)
    ]


def _with_extras(
    rng: random.Random, patient: Patient, at_s: int, until_s: int, details: list[dict[str, Any]]
) -> tuple[Patient, list[dict[str, Any]]]:
    draw = rng.random()
    if draw < 0.10:
        details[0]["collect_at_s"] = at_s + rng.randrange(-600, 600)
    elif draw < 0.18:
        details.append({"test": "VANCT", "next_dose_s": at_s + rng.randrange(300, 1800)})
    elif draw < 0.26:
        details.append({"test": "FGLU"})
        patient = replace(patient, last_ate_s=BEGIN_S - 9 * 3600, next_meal_s=at_s + rng.randrange(900, 3600))
    elif draw < 0.34:
        details[0]["priority"] = rng.choice([Priority.STAT, Priority.ASAP, Priority.URGENT])
    elif draw < 0.38:
        details.append({"test": "LACT"})
    elif draw < 0.42:
        details += [{"test": "BC", "series": "cultures"} for _ in range(2)]
    elif draw < 0.46 and at_s + 3600 < until_s:
        details += [{"test": "TNI", "series": "TNI", "collect_at_s": at_s + later_s} for later_s in (0, 3600)]
    elif draw < 0.52:
        patient = replace(patient, away=(TimeWindow(earliest_s=at_s + 2400, latest_s=at_s + 4800),))
    return patient, details


def _table(sizes: Sequence[int], seeds: int, effort: str) -> None:
    """Print a row for each round: time, memory, and of each tier its value and how far it may be from the best."""
    print(f"effort {effort}; a tier of goals: value, then 'ok' when proven, else how much less it could at most be")
    head = [f"{tier.value:>19}" for tier in Tier]
    print(f"{'visits':>6} {'people':>6} {'seed':>4} {'s':>6} {'MB':>5} {'left':>4}", *head)
    for size in sizes:
        took = []
        for seed in range(1, seeds + 1):
            with ProcessPoolExecutor(1) as fresh:  # a process of its own, so that memory is that of this round
                row, took_s = fresh.submit(_row, seed, size, effort).result()
            took.append(took_s)
            print(row, flush=True)
        print(f"{size:>6} mean {sum(took) / len(took):.1f} s, worst {max(took):.1f} s\n", flush=True)


def _row(seed: int, size: int, effort: str) -> tuple[str, float]:
    """Plan one round; return its row and the seconds from the orders to the plan."""
    from planner.pipeline import plan_round
    from planner.solving.params import SolveParams

    problem = generated_problem(seed, size)
    began = time.perf_counter()
    planned = plan_round(problem, SolveParams(effort=effort, wall_limit_s=600.0))
    took_s = time.perf_counter() - began
    cells = [f"{goal.value} {'ok' if goal.is_proven else f'-{goal.value - goal.bound}'}" for goal in planned.plan.goals]
    memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    row = f"{len(planned.draws):>6} {len(problem.staff):>6} {seed:>4} {took_s:>6.1f} {memory_mb:>5.0f} "
    return row + " ".join([f"{len(planned.plan.unplanned):>4}", *(f"{cell:>19}" for cell in cells)]), took_s


def main() -> None:
    """Print the table for the sizes given, or for 15, 30, 60 and 120 patients."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sizes", nargs="*", type=int, default=[15, 30, 60, 120])
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--effort", choices=[*Effort], default="normal")
    options = parser.parse_args()
    _table(options.sizes, options.seeds, options.effort)


if __name__ == "__main__":
    main()
