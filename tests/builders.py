"""Makes the nouns of a round with sensible defaults, so that a test says only what it is about.

Everything here is invented. The laboratory is that of `tests/catalogue_builders.py`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from itertools import pairwise
from typing import Any

from planner.domain.catalogue import Catalogue, TestCode
from planner.domain.orders import Order, OrderId, Patient, PatientId
from planner.domain.places import (
    Corridor,
    Pickup,
    PickupKind,
    Place,
    PlaceId,
    PlaceKind,
    WalkingTimes,
)
from planner.domain.policy import Policy
from planner.domain.problem import Problem
from planner.domain.staff import Phlebotomist
from planner.units import RoundClock, minutes_to_s
from tests.catalogue_builders import make_catalogue, make_test, make_tests, make_tube, make_tubes

__all__ = [
    "DAY",
    "STEP_S",
    "clock",
    "make_catalogue",
    "make_corridors",
    "make_order",
    "make_patient",
    "make_phlebotomist",
    "make_pickup",
    "make_place",
    "make_problem",
    "make_test",
    "make_tests",
    "make_tube",
    "make_tubes",
    "make_walking",
    "make_ward",
]

DAY = date(2026, 3, 10)
"""The day of every built round: a Tuesday without a change of the clocks."""

STEP_S = 10
"""Walking time between neighbouring positions on the built corridor."""


def clock(text: str) -> int:
    """Return seconds after midnight for HH:MM or HH:MM:SS."""
    parts = [int(part) for part in text.split(":")]
    return parts[0] * 3600 + parts[1] * 60 + (parts[2] if len(parts) > 2 else 0)


def make_patient(id: str = "P1", bed: str = "B1", **changes: Any) -> Patient:
    """Return an adult patient on ward W without precautions, away spans or known meals."""
    fields: dict[str, Any] = {
        "ward": "W",
        "family_name": f"Family{id}",
        "given_name": f"Given{id}",
        "birth_date": date(1960, 5, 17),
        "sex": "female",
    } | changes
    return Patient(id=PatientId(id), bed=PlaceId(bed), **fields)


def make_order(id: str = "O1", patient: str = "P1", test: str = "CBC", **changes: Any) -> Order:
    """Return a routine order without a stated time."""
    return Order(id=OrderId(id), patient_id=PatientId(patient), test=TestCode(test), **changes)


def make_place(id: str = "B1", kind: PlaceKind = PlaceKind.BED, **changes: Any) -> Place:
    """Return a place, a bed of ward W unless changed."""
    return Place(id=PlaceId(id), kind=kind, **({"ward": "W"} | changes))


def make_pickup(place: str = "PICKUP", kind: PickupKind = PickupKind.COURIER, **changes: Any) -> Pickup:
    """Return a pickup: couriers at 06:00, 07:00, 08:00 and 09:00, ten minutes to the laboratory.

    A tube station or carrying (no departures) takes three minutes.
    """
    fields: dict[str, Any] = (
        {"departures_s": tuple(clock(f"{h:02}:00") for h in (6, 7, 8, 9)), "transit_s": minutes_to_s(10)}
        if kind is PickupKind.COURIER
        else {"transit_s": minutes_to_s(3)}
    )
    return Pickup(place=PlaceId(place), kind=kind, **(fields | changes))


def make_phlebotomist(initials: str = "AB", **changes: Any) -> Phlebotomist:
    """Return a collector who starts at BASE and works from 05:00 to 09:00."""
    fields: dict[str, Any] = {
        "name": f"Name {initials}",
        "from_s": clock("05:00"),
        "until_s": clock("09:00"),
        "starts_at": PlaceId("BASE"),
    } | changes
    return Phlebotomist(initials=initials, **fields)


def make_ward(num_beds: int = 4) -> tuple[Place, ...]:
    """Return a corridor: BASE, B1, B2, ..., PICKUP, STATION (pneumatic tube), LAB, at positions 0, 1, 2, ...

    The laboratory is 27 positions beyond the station: 270 s of walking.
    """
    beds = [make_place(f"B{n}", position=n) for n in range(1, num_beds + 1)]
    return (
        make_place("BASE", PlaceKind.BASE, position=0),
        *beds,
        make_place("PICKUP", PlaceKind.PICKUP, position=num_beds + 1),
        make_place("STATION", PlaceKind.TUBE_STATION, position=num_beds + 2),
        make_place("LAB", PlaceKind.LABORATORY, position=num_beds + 29),
    )


def make_walking(places: Iterable[Place]) -> WalkingTimes:
    """Return `STEP_S` seconds for each position between two places on the corridor."""
    spots = {place.id: place.position or 0 for place in places}
    return WalkingTimes({(a, b): STEP_S * abs(spots[a] - spots[b]) for a in spots for b in spots if a != b})


def make_corridors(places: Iterable[Place]) -> tuple[Corridor, ...]:
    """Return the links between neighbouring positions; their shortest paths are `make_walking`."""
    line = sorted(places, key=lambda place: place.position or 0)
    return tuple(
        Corridor(from_place=a.id, to_place=b.id, seconds=STEP_S * ((b.position or 0) - (a.position or 0)))
        for a, b in pairwise(line)
    )


def make_problem(
    orders: Iterable[Order] = (),
    patients: Iterable[Patient] | None = None,
    *,
    places: Iterable[Place] | None = None,
    catalogue: Catalogue | None = None,
    staff: Iterable[Phlebotomist] | None = None,
    pickups: Iterable[Pickup] | None = None,
    policy: Policy | None = None,
    walking: Mapping[tuple[str, str], int] | WalkingTimes | None = None,
    corridors: Iterable[Corridor] | None = None,
    **changes: Any,
) -> Problem:
    """Return a round on one ward: AB works from 05:00 to 09:00; courier, pneumatic tube and laboratory at hand.

    Patients not given are made from the orders: P1 lies in B1, P2 in B2 and so on; with no orders at all, each
    of P1 to P4 has one full blood count (O1 to O4). Places without a ``walking`` table must have positions.
    """
    if patients is None:
        numbers = sorted({o.patient_id for o in orders}) if (orders := tuple(orders)) else ["P1", "P2", "P3", "P4"]
        patients = [make_patient(number, f"B{number[1:]}") for number in numbers]
    patients = tuple(patients)
    orders = tuple(orders) or tuple(make_order(f"O{n}", patient.id) for n, patient in enumerate(patients, start=1))
    if places is None:
        places = make_ward(max([4, *(int(p.bed[1:]) for p in patients if p.bed[1:].isdigit())]))
    places = tuple(places)
    if walking is None:
        walking, links = make_walking(places), make_corridors(places) if corridors is None else tuple(corridors)
    else:
        links = tuple(corridors or ())
    if not isinstance(walking, WalkingTimes):
        walking = WalkingTimes({(PlaceId(a), PlaceId(b)): s for (a, b), s in walking.items()})
    if pickups is None:
        kinds = {
            PlaceKind.PICKUP: PickupKind.COURIER,
            PlaceKind.TUBE_STATION: PickupKind.TUBE,
            PlaceKind.LABORATORY: PickupKind.CARRIED,
        }
        pickups = tuple(
            make_pickup(p.id, kinds[p.kind], **({"transit_s": 0} if p.kind is PlaceKind.LABORATORY else {}))
            for p in places
            if p.kind in kinds
        )
    fields: dict[str, Any] = {"round_name": "built", "clock": RoundClock(DAY)} | changes
    return Problem(
        catalogue=make_catalogue() if catalogue is None else catalogue,
        patients={p.id: p for p in patients},
        orders=tuple(sorted(orders, key=lambda o: o.id)),
        places={p.id: p for p in places},
        corridors=links,
        walking=walking,
        staff=(make_phlebotomist(),) if staff is None else tuple(staff),
        pickups=tuple(pickups),
        policy=Policy() if policy is None else policy,
        **fields,
    )
