"""Makes the nouns of a round with sensible defaults, so that a test says only what it is about.

Everything here is invented. The small laboratory (`make_catalogue`) has one test for each way in which tests differ:
shared and not, ice and 37 degrees, by hand, fasting, clock and dose rules, a series, cultures, two containers.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from itertools import pairwise
from typing import Any

from planner.domain.catalogue import (
    Catalogue,
    ClockRule,
    DoseRule,
    Handling,
    LabTest,
    SizeUse,
    TestCode,
    TubeCode,
    TubeSize,
    TubeType,
)
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
from planner.units import RoundClock, hours_to_s, minutes_to_s

DAY = date(2026, 3, 10)
"""The day of every built round: a Tuesday without a change of the clocks."""

STEP_S = 10
"""Walking time between neighbouring positions on the built corridor."""


def clock(text: str) -> int:
    """Return seconds after midnight for HH:MM or HH:MM:SS."""
    parts = [int(part) for part in text.split(":")]
    return parts[0] * 3600 + parts[1] * 60 + (parts[2] if len(parts) > 2 else 0)


def make_tube(code: str = "EDTA", **changes: Any) -> TubeType:
    """Return a tube type: an EDTA tube of 4 and 3 mL (adult), 2 mL (small) and 1 mL (child) unless changed.

    ``sizes`` may be given as (microlitres, ``"adult"``) pairs in ascending order.
    """
    fields: dict[str, Any] = {
        "name": f"{code} tube",
        "additive": code,
        "iso_code": "",
        "closure": "purple",
        "rank": 5,
        "rank_within": 1,
        "inversions": "8-10",
        "sizes": ((1000, "child"), (2000, "small"), (3000, "adult"), (4000, "adult")),
        "min_fill_pct": 50,
    } | changes
    fields["sizes"] = tuple(
        s if isinstance(s, TubeSize) else TubeSize(draw_ul=s[0], use=SizeUse(s[1])) for s in fields["sizes"]
    )
    return TubeType(code=TubeCode(code), **fields)


def make_test(code: str = "CBC", accepts: Iterable[str | tuple[str, ...]] = ("EDTA",), **changes: Any) -> LabTest:
    """Return a laboratory test: half a millilitre of EDTA blood, not shared, room temperature, four hours.

    ``accepts`` lists tube codes, or tuples of codes where an alternative has several containers; ``handling``
    may be given as the codes of the catalogue files.
    """
    fields: dict[str, Any] = {
        "name": f"test {code}",
        "loinc": "",
        "loinc_name": "",
        "section": "chemistry",
        "min_volume_ul": 500,
        "add_volume_ul": 200,
        "share_group": None,
        "min_fill_pct": 0,
        "containers": 1,
        "handling": (),
        "max_room_s": hours_to_s(4),
        "max_ice_s": None,
        "max_warm_s": None,
    } | changes
    fields["handling"] = frozenset(Handling(h) for h in fields["handling"])
    alternatives = tuple((TubeCode(a),) if isinstance(a, str) else tuple(TubeCode(code) for code in a) for a in accepts)
    return LabTest(code=TestCode(code), accepts=alternatives, **fields)


def make_tubes() -> tuple[TubeType, ...]:
    """Return the ten tube types of the built laboratory."""
    bottle = {"closure": "bottle", "rank": 1, "inversions": "4-5", "is_culture": True, "filled_to_need": True}
    bottle_sizes = ((1000, "child"), (4000, "child"), (10_000, "adult"))
    clot_sizes = ((1000, "child"), (2000, "child"), (3500, "adult"), (5000, "adult"))
    return (
        make_tube("BCA", name="aerobic bottle", rank_within=1, min_fill_pct=0, sizes=bottle_sizes, **bottle),
        make_tube("BCN", name="anaerobic bottle", rank_within=2, min_fill_pct=0, sizes=bottle_sizes, **bottle),
        make_tube(
            "CIT",
            name="sodium citrate",
            additive="sodium citrate 3.2 %",
            iso_code="9NC",
            closure="light blue",
            rank=2,
            inversions="3-4",
            min_fill_pct=90,
            sizes=((1000, "child"), (1800, "small"), (2700, "adult")),
        ),
        make_tube(
            "SER",
            name="serum",
            closure="red",
            rank=3,
            inversions="5-6",
            sizes=clot_sizes,
            clot_minutes=60,
        ),
        make_tube(
            "SERG",
            name="serum with gel",
            closure="gold",
            rank=3,
            rank_within=2,
            inversions="5-6",
            sizes=clot_sizes,
            has_gel=True,
            clot_minutes=30,
        ),
        make_tube(
            "HEPG",
            name="lithium heparin with gel",
            closure="light green",
            rank=4,
            sizes=((500, "child"), (1000, "child"), (3000, "adult"), (4500, "adult")),
            has_gel=True,
            has_lithium_heparin=True,
        ),
        make_tube("EDTA", name="EDTA"),
        make_tube(
            "EDTB",
            name="EDTA for transfusion",
            closure="pink",
            rank_within=2,
            sizes=((2000, "child"), (6000, "adult")),
        ),
        make_tube("FLU", name="fluoride", closure="grey", rank=6, sizes=((1000, "child"), (2000, "adult"))),
        make_tube(
            "DIS",
            name="discard tube",
            closure="plain",
            rank=2,
            rank_within=0,
            inversions="0",
            min_fill_pct=0,
            sizes=((500, "child"), (1000, "adult")),
        ),
    )


def make_tests() -> tuple[LabTest, ...]:
    """Return the sixteen tests of the built laboratory; volumes and limits as a hospital might have them."""
    chemistry = ("HEPG", "SERG", "SER")
    return (
        make_test("CBC", section="haematology", share_group="HAEM", max_room_s=hours_to_s(24)),
        make_test(
            "ESR",
            section="haematology",
            share_group="HAEM",
            min_volume_ul=1500,
            add_volume_ul=1000,
        ),
        make_test(
            "PT",
            ("CIT",),
            section="coagulation",
            share_group="COAG",
            min_volume_ul=1000,
            add_volume_ul=300,
            min_fill_pct=90,
            handling=("full_fill", "no_ice"),
        ),
        make_test(
            "AT",
            ("CIT",),
            section="coagulation",
            share_group="COAGS",
            min_volume_ul=1800,
            add_volume_ul=500,
            min_fill_pct=90,
            handling=("full_fill", "no_ice", "discard_first"),
        ),
        make_test(
            "PFN",
            ("CIT",),
            section="coagulation",
            min_volume_ul=5400,
            add_volume_ul=0,
            min_fill_pct=90,
            containers=2,
            handling=("full_fill", "no_ice", "hand_deliver", "discard_first"),
        ),
        make_test(
            "BMP",
            chemistry,
            share_group="CHEM",
            min_volume_ul=600,
            handling=("no_ice", "no_fist"),
            max_room_s=hours_to_s(2),
        ),
        make_test("LFT", chemistry, share_group="CHEM", min_volume_ul=600, max_room_s=hours_to_s(2)),
        make_test(
            "LIPID",
            chemistry,
            share_group="CHEM",
            add_volume_ul=100,
            max_room_s=hours_to_s(2),
            fasting_s=hours_to_s(12),
        ),
        make_test(
            "FGLU",
            ("FLU", "HEPG"),
            share_group="FLU",
            max_room_s=hours_to_s(2),
            fasting_s=hours_to_s(8),
            fasting_required=True,
        ),
        make_test(
            "LACT",
            ("FLU", "HEPG"),
            min_volume_ul=1000,
            add_volume_ul=500,
            handling=("ice", "no_tourniquet", "record_time"),
            max_room_s=minutes_to_s(15),
            max_ice_s=minutes_to_s(30),
        ),
        make_test(
            "TNT",
            ("HEPG", "SERG"),
            share_group="CHEM",
            min_volume_ul=900,
            handling=("record_time",),
            max_room_s=hours_to_s(2),
            serial_offsets=((0, hours_to_s(1)), (0, hours_to_s(2)), (0, hours_to_s(3))),
            serial_tolerance_s=minutes_to_s(10),
        ),
        make_test(
            "CORTAM",
            ("SERG", "SER", "HEPG"),
            section="endocrine",
            share_group="CHEM",
            add_volume_ul=150,
            clock_rule=ClockRule(from_s=clock("07:00"), to_s=clock("09:00"), is_required=True),
        ),
        make_test(
            "VANCT",
            ("SER", "HEPG", "SERG"),
            section="toxicology",
            share_group="CHEM",
            min_volume_ul=600,
            add_volume_ul=150,
            handling=("record_dose", "record_time"),
            dose_rule=DoseRule(kind="trough", from_s=0, to_s=minutes_to_s(30)),
        ),
        make_test(
            "CRYO",
            ("SER",),
            section="immunology",
            min_volume_ul=5000,
            add_volume_ul=0,
            handling=("prewarm", "warm37", "hand_deliver"),
            max_room_s=None,
            max_warm_s=hours_to_s(1),
        ),
        make_test(
            "XM",
            ("EDTB",),
            section="blood bank",
            share_group="BB",
            min_volume_ul=4000,
            add_volume_ul=0,
            handling=("strict_label", "record_time"),
            max_room_s=hours_to_s(24),
        ),
        make_test(
            "BC",
            (("BCA", "BCN"),),
            section="microbiology",
            min_volume_ul=20_000,
            add_volume_ul=0,
            containers=2,
            handling=("asepsis", "before_antibiotics", "no_ice", "record_time"),
            max_room_s=hours_to_s(2),
        ),
    )


def make_catalogue(
    tests: Iterable[LabTest] | None = None, tubes: Iterable[TubeType] | None = None, extra_tests: Iterable[LabTest] = ()
) -> Catalogue:
    """Return the built laboratory, or one of the given tests and tubes; ``extra_tests`` are added or replace."""
    all_tests = (*(make_tests() if tests is None else tests), *extra_tests)
    all_tubes = tuple(make_tubes() if tubes is None else tubes)
    return Catalogue(tests={t.code: t for t in all_tests}, tubes={t.code: t for t in all_tubes})


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
