"""Generates small rounds that stress what is rare: nothing is promised to be possible, only that nothing is lost.

Children near their blood limits, series of three, wards with a tube station alone, trays of four to six, absences
inside windows, discard tubes, afternoon and night shifts, wards with equal bed numbers, late asap orders, specimens by
hand, on ice and at 37 C, breaks, skills that few have. Everything is invented.
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta
from functools import lru_cache
from typing import Any

from planner.domain.catalogue import Catalogue
from planner.domain.draws import Device
from planner.domain.orders import Method, Order, OrderId, Patient, PatientId, Precaution, Priority, TimeWindow
from planner.domain.places import Pickup, PickupKind, Place, PlaceId, PlaceKind, WalkingTimes
from planner.domain.policy import NeonateMethod, Policy
from planner.domain.problem import Problem
from planner.domain.staff import Phlebotomist
from planner.loaders.catalogue.load import load_catalogue
from planner.units import RoundClock

DAY = date(2026, 3, 10)
HOUR_S = 3600
WARDS = ("Heron", "Kite (South)", "Rail, East")
BEDS = ("1A", "1B", "2A", "2B", "3A")
COMMON = ("CBC", "BMP", "PT", "LFT", "CRP", "TS", "MAGN", "TSH", "ESR")
BY_HAND = ("MAL", "LDH", "COLD", "CRYO", "AA")
ON_ICE = ("LACT", "NH3", "HCY", "VITC")
WITH_DISCARD = ("AT", "PROTC", "LA", "PFN")
TROUGHS = ("VANCT", "GENTT", "TOBRT", "LEV")
SHIFTS = ((5 * HOUR_S, 9 * HOUR_S), (13 * HOUR_S, 17 * HOUR_S), (22 * HOUR_S, 27 * HOUR_S))
"""Begin and end: a morning, an afternoon, a night past midnight."""


@lru_cache(maxsize=1)
def laboratory() -> Catalogue:
    """Return the built-in laboratory."""
    return load_catalogue()[0]


def edge_round(seed: int) -> Problem:
    """Return a round of two to seven patients; the same seed gives the same round."""
    rng = random.Random(f"edge {seed}")
    begin_s, end_s = rng.choice(SHIFTS)
    end_s -= rng.choice((0, 0, HOUR_S, 2 * HOUR_S))
    num_wards = rng.randint(1, 3)
    wards = rng.sample(WARDS, num_wards)
    places, pickups = _house(rng, wards, begin_s, end_s)
    beds = [place for place in places if place.kind is PlaceKind.BED]
    patients: dict[PatientId, Patient] = {}
    orders: list[Order] = []
    for number, bed in enumerate(rng.sample(beds, k=min(len(beds), rng.randint(2, 7)))):
        patient = _patient(rng, number, bed, begin_s, end_s)
        patients[patient.id] = patient
        orders += _orders(rng, patient, begin_s, end_s)
    return Problem(
        round_name=f"edge {seed}",
        clock=RoundClock(DAY),
        catalogue=laboratory(),
        patients=patients,
        orders=tuple(sorted(orders, key=lambda order: order.id)),
        places={place.id: place for place in places},
        corridors=(),
        walking=_walking(places),
        staff=_staff(rng, wards, begin_s, end_s),
        pickups=pickups,
        policy=_policy(rng, begin_s),
    )


def _house(
    rng: random.Random, wards: list[str], begin_s: int, end_s: int
) -> tuple[tuple[Place, ...], tuple[Pickup, ...]]:
    """Return wards with equal beds; each has a tube station, a courier, both or nothing; at least one outlet in all."""
    places = [Place(id=PlaceId("Base"), ward="", kind=PlaceKind.BASE, position=0)]
    pickups: list[Pickup] = []
    has_stations_only = rng.random() < 0.35
    for number, ward in enumerate(wards):
        at = 20 * number + 2
        places += [
            Place(id=PlaceId(f"{ward}/{bed}"), ward=ward, kind=PlaceKind.BED, position=at + n, label=f"{ward} {bed}")
            for n, bed in enumerate(BEDS)
        ]
        outlets = rng.choice(("tube", "courier", "both", "none") if number else ("tube", "courier", "both"))
        if has_stations_only or outlets in ("tube", "both"):
            station = PlaceId(f"{ward}/station [lobby]")
            places.append(Place(id=station, ward=ward, kind=PlaceKind.TUBE_STATION, position=at + 6))
            pickups.append(Pickup(place=station, kind=PickupKind.TUBE, transit_s=rng.choice((120, 240))))
        if not has_stations_only and outlets in ("courier", "both"):
            shelf = PlaceId(f"{ward}/shelf (left)")
            places.append(Place(id=shelf, ward=ward, kind=PlaceKind.PICKUP, position=at + 7))
            first_s = begin_s + rng.randrange(20, 90) * 60
            departures_s = tuple(range(first_s, end_s + rng.choice((-HOUR_S, 0, HOUR_S)), rng.choice((2400, HOUR_S))))
            departures_s = departures_s or (first_s,)
            pickups.append(
                Pickup(
                    place=shelf, kind=PickupKind.COURIER, departures_s=departures_s, transit_s=rng.choice((300, 900))
                )
            )
    if not has_stations_only and rng.random() < 0.3:
        laboratory_at = PlaceId("Laboratory")
        places.append(Place(id=laboratory_at, ward="", kind=PlaceKind.LABORATORY, position=20 * len(wards) + 30))
        pickups.append(Pickup(place=laboratory_at, kind=PickupKind.CARRIED, transit_s=0))
    return tuple(places), tuple(pickups)


def _walking(places: tuple[Place, ...]) -> WalkingTimes:
    at = {place.id: place.position or 0 for place in places}
    return WalkingTimes({(a, b): 8 * abs(at[a] - at[b]) for a in at for b in at if a != b})


def _staff(rng: random.Random, wards: list[str], begin_s: int, end_s: int) -> tuple[Phlebotomist, ...]:
    staff = []
    for number in range(rng.randint(1, 2)):
        from_s = begin_s + (rng.choice((0, 1800)) if number else 0)
        has_break = rng.random() < 0.3
        middle_s = (from_s + end_s) // 2
        staff.append(
            Phlebotomist(
                name="Ines Silva",
                initials=f"I{number}",
                from_s=from_s,
                until_s=end_s,
                starts_at=PlaceId("Base"),
                skills=frozenset({"child", "line"} if number == 0 or rng.random() < 0.5 else {"line"}),
                wards=frozenset(rng.sample(wards, k=rng.randint(1, len(wards))) if rng.random() < 0.2 else ()),
                break_s=600 if has_break else 0,
                break_window=TimeWindow(earliest_s=middle_s - 900, latest_s=middle_s + 900) if has_break else None,
            )
        )
    return tuple(staff)


def _policy(rng: random.Random, begin_s: int) -> Policy:
    plain = Policy()
    sizes = [size.draw_ul for size in laboratory().tubes["DIS"].sizes]
    return replace(
        plain,
        round=replace(plain.round, breakfast_at_s=begin_s % (24 * HOUR_S) + 3 * HOUR_S, day=DAY),
        blood=replace(plain.blood, neonate_method=rng.choice(list(NeonateMethod))),
        handover=replace(plain.handover, tray_limit=rng.choice((None, 4, 5, 6))),
        tubes=replace(
            plain.tubes,
            discard_adult_ul=rng.choice(sizes),
            discard_child_ul=min(sizes),
            routine_device=rng.choice((Device.STRAIGHT, Device.WINGED)),
        ),
    )


def _patient(rng: random.Random, number: int, bed: Place, begin_s: int, end_s: int) -> Patient:
    details: dict[str, Any] = {}
    if rng.random() < 0.35:
        details = _child(rng)
    if rng.random() < 0.2:
        known = rng.choice([p for p in Precaution if p is not Precaution.UNCLEAR])
        is_open = known is Precaution.AIRBORNE and number % 2
        details["precautions"] = frozenset({Precaution.UNCLEAR if is_open else known})
    if rng.random() < 0.35:
        away_s = rng.randrange(begin_s, end_s, 60)
        details["away"] = (TimeWindow(earliest_s=away_s, latest_s=away_s + rng.choice((600, 1800, 5400))),)
    if rng.random() < 0.2:
        details["last_ate_s"] = begin_s - rng.choice((6, 9, 12)) * HOUR_S
    if rng.random() < 0.1:
        details["needs"] = frozenset({rng.choice(("child", "line", "port"))})
    return Patient(
        id=PatientId(f"P{number}"),
        bed=bed.id,
        ward=bed.ward,
        family_name="Sandhu",
        given_name=f"Given{number}",
        sex=rng.choice(("female", "male")),
        has_difficult_veins=rng.random() < 0.1,
        **({"birth_date": date(1940 + number, 2, 3), "weight_g": 70_000} | details),
    )


def _child(rng: random.Random) -> dict[str, Any]:
    """Return an infant or a child who has been drawn from already: close to the limit, or past it."""
    age_days, weight_g = rng.choice(((20, 3_200), (200, 7_500), (900, 13_000), (3_000, 27_000)))
    limit_ul = 1_700 * weight_g // 1000  # daily limit by weight [L53, L55]
    return {
        "birth_date": DAY - timedelta(days=age_days),
        "weight_g": weight_g,
        "drawn_24h_ul": rng.choice((0, limit_ul // 2, limit_ul * 9 // 10, limit_ul + 500)),
        "haemoglobin_g_l": rng.choice((None, 85, 130)),
        "method": rng.choice((None, None, Method.VENOUS, Method.CAPILLARY)),
    }


def _orders(rng: random.Random, patient: Patient, begin_s: int, end_s: int) -> list[Order]:
    wanted: list[dict[str, Any]] = [{"test": test} for test in rng.sample(COMMON, k=rng.randint(1, 4))]
    for pool, share in ((BY_HAND, 0.25), (ON_ICE, 0.25), (WITH_DISCARD, 0.25)):
        if rng.random() < share:
            wanted.append({"test": rng.choice(pool)})
    if rng.random() < 0.2:
        wanted.append({"test": rng.choice(TROUGHS), "next_dose_s": rng.randrange(begin_s, end_s, 60)})
    if rng.random() < 0.15:
        wanted += [{"test": "BC", "series": "sets"} for _ in range(rng.randint(1, 3))]
    if rng.random() < 0.25:
        wanted += _series(rng, begin_s, end_s)
    for order in wanted:
        _hurried(rng, order, begin_s, end_s)
    return [Order(id=OrderId(f"{patient.id}-{n}"), patient_id=patient.id, **detail) for n, detail in enumerate(wanted)]


def _series(rng: random.Random, begin_s: int, end_s: int) -> list[dict[str, Any]]:
    """Return three draws of troponin: with stated times an hour apart, the first only, or none."""
    first_s = rng.randrange(begin_s, max(begin_s + 60, end_s - 2 * HOUR_S), 60)
    stated = rng.choice((3, 1, 0))
    return [
        {"test": "TNI", "series": "chest pain"} | ({"collect_at_s": first_s + n * HOUR_S} if n < stated else {})
        for n in range(3)
    ]


def _hurried(rng: random.Random, order: dict[str, Any], begin_s: int, end_s: int) -> None:
    draw = rng.random()
    if draw < 0.12:
        order["priority"] = rng.choice((Priority.STAT, Priority.ASAP, Priority.URGENT))
        order["ordered_s"] = rng.randrange(begin_s - HOUR_S, end_s, 60)  # late, too
    elif draw < 0.22 and "series" not in order and "next_dose_s" not in order:
        from_s = rng.randrange(begin_s - 1800, end_s, 60)
        order |= {"collect_from_s": from_s, "collect_to_s": from_s + rng.choice((300, 900, 3600))}
    elif draw < 0.26 and "series" not in order:
        order["collect_at_s"] = rng.randrange(begin_s, end_s + HOUR_S, 60)
