"""Builds whole rounds with plans for the exporters' tests: invented people, the real laboratory catalogue.

The plans are walked in bed order with one tube for each share group; they need not be good, only whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from itertools import count
from typing import Any

from planner.domain.catalogue import DISCARD_TUBE, Catalogue, Handling, LabTest
from planner.domain.draws import Device, DrawId, Needle, OrderWindow, Tube
from planner.domain.orders import Order, OrderId, Patient, Precaution, Priority, TimeWindow
from planner.domain.places import PickupKind, PlaceId, PlaceKind
from planner.domain.plan import (
    Goal,
    GoalPart,
    Handover,
    Plan,
    PlannedTube,
    Reason,
    Route,
    Stop,
    Unplanned,
    Visit,
)
from planner.domain.problem import Problem
from planner.loaders.catalogue.load import load_catalogue
from planner.units import hours_to_s, minutes_to_s
from planner.visits.windows import order_windows
from tests.builders import (
    clock,
    make_order,
    make_patient,
    make_phlebotomist,
    make_pickup,
    make_place,
    make_problem,
)

STATION = "Nurses' station"
TUBE_PLACE = "Tube station, clean utility"

LONG_NAME = "Wolfeschlegelsteinhausenbergerdorff-Montgomery de la Fuente y Castellanos-Arrizabalaga"

PEOPLE: tuple[tuple[str, str, str, dict[str, Any]], ...] = (
    ("101", "Okonkwo-Lindqvist", "Adaeze", {"last_ate_s": -hours_to_s(4)}),
    ("102", "Nguyễn", "Thị Minh Khai", {"precautions": frozenset({Precaution.CONTACT})}),
    ("103", "Ó Súilleabháin", "Séamus", {"alerts": ("No draw from the left arm (fistula)",)}),
    ("104", "محمد", "عبد الرحمن", {"away": (TimeWindow(earliest_s=clock("06:40"), latest_s=clock("07:15")),)}),
    ("105", "王", "秀英", {"has_difficult_veins": True}),
    ("106", LONG_NAME, "Maximiliana Alexandrina", {"alerts": ("Allergic to chlorhexidine", "Hard of hearing")}),
    ("107A", "=SUM(1,2)", "+Plus", {}),
    ("107B", "Null", "None", {"birth_date": None}),
    ("108", "Þórðarson", "Björn", {"precautions": frozenset({Precaution.AIRBORNE})}),
    ("109", "Καραγιάννης", "Ελένη", {}),
    ("110", "Σ\x07ilva\u202e", "João", {}),
    ("111", "Дмитриева", "Екатерина", {"precautions": frozenset({Precaution.PROTECTIVE})}),
    ("112", "O'Brien", "@lex", {"birth_date": date(2019, 2, 1), "weight_g": 21_000, "drawn_24h_ul": 0}),
    ("113", "Smith", "Jo", {}),
    ("114", "देशपांडे", "अनन्या", {"precautions": frozenset({Precaution.CONTACT, Precaution.DROPLET})}),
    ("115", "Zhang", "Wei", {}),
)

TESTS: tuple[tuple[str, ...], ...] = (
    ("CBC", "BMP", "LIPID", "FGLU"),
    ("CBC", "CMP", "PT", "APTT"),
    ("LACT", "NH3", "CBC"),
    ("TNT", "BMP"),
    ("PT", "CBCD", "ESR"),
    ("BC", "BC", "CBCD", "CRP", "LACT", "PCT", "BMP"),
    ("CBC",),
    ("VANCT", "BMP"),
    ("QFT", "CBCD", "CRP"),
    (
        *("CBCD", "RETIC", "ESR", "HBA1C", "PT", "APTT", "FIB", "DDIM", "CMP", "MG", "PHOS", "URIC", "LIPID", "CRP"),
        *("FERR", "TSH", "FT4", "B12", "FOL", "TNT", "BNP", "LACT", "NH3", "XM", "GLU", "PTH", "CORT", "AXAL"),
    ),
    ("CBC", "BMP"),
    ("CBCD", "BMP", "MG", "PHOS"),
    ("CBC", "CRP"),
    ("GS", "CBC", "PT"),
    ("CRYO", "CBC"),
    ("CBC", "LFT"),
)


TYPICAL: tuple[tuple[str, ...], ...] = (
    ("CBC", "BMP", "LIPID", "FGLU"),
    ("CBC", "CMP", "PT", "APTT"),
    ("CBCD", "BMP", "PHOS"),
    ("TNT", "BMP"),
    ("PT", "CBC", "BMP", "CRP"),
    ("CBCD", "CRP", "LFT", "BMP", "PHOS"),
    ("VANCT", "BMP", "CBC"),
    ("BC", "BC", "CBCD", "LACT", "CRP"),
)
"""About what wards order: 30 orders for 8 patients."""


def make_round(
    num_visits: int = 16, num_people: int = 2, tests: Sequence[Sequence[str]] = TESTS
) -> tuple[Problem, Plan, dict[OrderId, OrderWindow]]:
    """Return a round of so many visits over so many people, its plan, and the windows of its orders."""
    problem = _problem(num_visits, num_people, tests)
    windows, unplanned = order_windows(problem)
    counter = count(1)
    share = -(-num_visits // num_people)
    patients = list(problem.patients.values())
    routes = []
    for person in range(num_people):
        own = patients[person * share : (person + 1) * share]
        routes.append(_route(problem, windows, person, own, counter))
    plan = Plan(
        routes=tuple(routes),
        unplanned=(
            *unplanned,
            Unplanned(
                order_id=OrderId("000871"),
                reason=Reason.IDENTITY_CONFLICT,
                detail="patient number 0042 stands with two birth dates, rows 12 and 31",
                bed="116",
                test="CBC",
            ),
            Unplanned(
                order_id=OrderId("000872"),
                reason=Reason.UNKNOWN_TEST,
                detail="'FBP' is no test of the catalogue; did the ward mean CBC?",
                bed="103",
                test="FBP",
            ),
        ),
        goals=(
            Goal(
                name="left-out",
                unit="weight",
                value=0,
                bound=0,
                parts=(GoalPart(name="uncollected", unit="weight", value=0, price=1),),
            ),
            Goal(
                name="service",
                unit="weighted s",
                value=1500 + 2 * 900,
                bound=1500 + 2 * 900,
                parts=(
                    GoalPart(name="late", unit="weighted s", value=1500, price=1),
                    GoalPart(name="second-punctures", unit="draws", value=2, price=900),
                ),
            ),
            Goal(
                name="effort",
                unit="s/100",
                value=100 * 1830 + 10 * 3600 * num_visits + 100 * hours_to_s(2),
                bound=100 * 1200 + 10 * 3600 * num_visits + 100 * hours_to_s(2),
                parts=(
                    GoalPart(name="time", unit="s", value=1830, price=100),
                    GoalPart(name="arrival", unit="s", value=3600 * num_visits, price=10),
                    GoalPart(name="finish", unit="s", value=hours_to_s(2), price=100),
                ),
            ),
        ),
    )
    return problem, plan, windows


def _problem(num_visits: int, num_people: int, tests: Sequence[Sequence[str]]) -> Problem:
    catalogue, _ = load_catalogue()
    patients, orders = [], []
    number = count(1)
    for n in range(num_visits):
        bed, family, given, details = PEOPLE[n % len(PEOPLE)]
        bed = bed if n < len(PEOPLE) else f"2{n:02}"
        patient = make_patient(f"00{n + 1:04}", bed, ward="Maple Ward", family_name=family, given_name=given, **details)
        patients.append(patient)
        for test in tests[n % len(tests)]:
            if test in catalogue.tests:
                orders.append(_order(f"{next(number):06}", patient, catalogue.tests[test]))
    beds = [make_place(p.bed, ward="Maple Ward", position=i + 1) for i, p in enumerate(patients)]
    places = [
        make_place("BASE", PlaceKind.BASE, position=0),
        *beds,
        make_place(STATION, PlaceKind.PICKUP, position=8),
        make_place(TUBE_PLACE, PlaceKind.TUBE_STATION, position=12),
    ]
    names = (("AK", "Amina Kovač"), ("TB", "Tomás Breathnach"), ("RL", "Rosalind Lund"))
    return make_problem(
        orders,
        patients,
        places=places,
        catalogue=catalogue,
        staff=[make_phlebotomist(i, name=n, from_s=clock("05:00")) for i, n in names[:num_people]],
        pickups=[
            make_pickup(STATION, departures_s=tuple(clock(t) for t in ("06:15", "07:15", "08:15", "09:15"))),
            make_pickup(TUBE_PLACE, PickupKind.TUBE),
        ],
        round_name="Maple Ward early round",
        assumptions=("No corridor table: beds stand in natural order along one corridor.",),
        set_aside=(
            Unplanned(
                order_id=OrderId("000873"),
                reason=Reason.ALREADY_DRAWN,
                detail="collected at 03:10",
                bed="110",
                test="CBC",
            ),
        ),
    )


def walked(problem: Problem, shares: Sequence[Sequence[Patient]]) -> tuple[Problem, Plan, dict[OrderId, OrderWindow]]:
    """Return a round, a plan in which each person draws her share of the patients in their order, and the windows."""
    windows, unplanned = order_windows(problem)
    counter = count(1)
    routes = tuple(_route(problem, windows, person, own, counter) for person, own in enumerate(shares))
    return problem, Plan(routes=routes, unplanned=tuple(unplanned), goals=()), windows


def _order(number: str, patient: Patient, test: LabTest) -> Order:
    changes: dict[str, Any] = {}
    if test.code in ("LACT", "PCT"):
        changes = {"priority": Priority.STAT}
    if test.code == "TNT":
        changes = {"collect_at_s": clock("05:30")}
    if test.code == "VANCT":
        changes = {"next_dose_s": clock("06:00"), "last_dose_s": -hours_to_s(2)}
    if test.dose_rule is not None and test.dose_rule.kind != "trough":
        changes = {"last_dose_s": clock("02:30")}
    return make_order(number, patient.id, test.code, **changes)


def _route(
    problem: Problem,
    windows: dict[OrderId, OrderWindow],
    person: int,
    patients: Sequence[Patient],
    counter: count[int],
) -> Route:
    """Walk the beds in order; hand over at the station after every fifth visit and at the end."""
    now_s, place = problem.staff[person].from_s, problem.staff[person].starts_at
    stops: list[Stop] = []
    for n, patient in enumerate(patients, start=1):
        orders = [o for o in problem.orders if o.patient_id == patient.id and o.id in windows]
        visit = _visit(problem, patient, orders, now_s + problem.walking.between(place, patient.bed), counter)
        stops.append(visit)
        now_s, place = visit.depart_s, visit.place
        if n % 5 == 0 or n == len(patients):
            handover = _handover(problem, now_s, place, PickupKind.TUBE if n == 5 else PickupKind.COURIER)
            stops.append(handover)
            now_s, place = handover.depart_s, handover.place
    return Route(phlebotomist=person, stops=tuple(_with_handovers(stops)))


def _visit(problem: Problem, patient: Patient, orders: Sequence[Order], arrive_s: int, counter: count[int]) -> Visit:
    tubes = draw_tubes(problem.catalogue, orders)
    return Visit(
        draw_id=DrawId(f"{patient.id}-{next(counter)}"),
        patient_id=patient.id,
        place=patient.bed,
        order_ids=tuple(o.id for o in orders),
        arrive_s=arrive_s,
        start_s=arrive_s,
        draw_s=arrive_s + 135,
        depart_s=arrive_s + 300 + 60 * max(0, len(tubes) - 4),
        tubes=tuple(PlannedTube(tube=t, handover=None) for t in tubes),
        needle=Needle(gauge=21, device=Device.STRAIGHT, reasons=("routine draw",))
        if not patient.has_difficult_veins
        else Needle(
            gauge=23, device=Device.WINGED, reasons=("difficult veins noted", "coagulation tests: not finer than 23G")
        ),
    )


def _handover(problem: Problem, leave_s: int, place: PlaceId, kind: PickupKind) -> Handover:
    pickup = next(p for p in problem.pickups if p.kind is kind)
    arrive_s = leave_s + problem.walking.between(place, pickup.place)
    done_s = arrive_s + 60
    departs_s = next((d for d in pickup.departures_s if d >= done_s), None)
    return Handover(
        place=pickup.place,
        kind=kind,
        arrive_s=arrive_s,
        start_s=arrive_s,
        depart_s=done_s,
        departs_s=departs_s,
        lab_arrival_s=(done_s if departs_s is None else departs_s) + pickup.transit_s,
    )


def _with_handovers(stops: Sequence[Stop]) -> list[Stop]:
    """Give every tube to the next hand-over of the route, except discards."""
    result = list(stops)
    for i, stop in enumerate(result):
        if isinstance(stop, Visit):
            target = next(j for j in range(i, len(result)) if isinstance(result[j], Handover))
            tubes = tuple(PlannedTube(tube=p.tube, handover=None if p.tube.is_discard else target) for p in stop.tubes)
            result[i] = replace(stop, tubes=tubes)
    return result


def draw_tubes(catalogue: Catalogue, orders: Sequence[Order]) -> list[Tube]:
    """Return one adult tube for each kind and share group, sets and own tubes apart, in order of draw."""
    groups: dict[tuple[str, str], list[Order]] = {}
    sites = count(1)
    tubes: list[Tube] = []
    for order in orders:
        test = catalogue.tests[order.test]
        if test.share_group is None or len(test.accepts[0]) > 1:
            site = next(sites) if test.is_culture else 1
            kinds = test.accepts[0] * (test.containers if len(test.accepts[0]) == 1 else 1)
            tubes += [_tube(catalogue, kind, [order], site) for kind in kinds]
        else:
            groups.setdefault((test.accepts[0][0], test.share_group), []).append(order)
    tubes += [_tube(catalogue, kind, group, 1) for (kind, _), group in groups.items()]
    if any(Handling.DISCARD_FIRST in t.handling for t in tubes):
        tubes.append(Tube(tube=DISCARD_TUBE, size_ul=1000, volume_ul=1000, draw_position=1, tests=(), order_ids=()))
    kinds_of = catalogue.tubes
    tubes.sort(key=lambda t: (kinds_of[t.tube].rank, t.site, kinds_of[t.tube].rank_within, t.tube))
    return [replace(tube, draw_position=n) for n, tube in enumerate(tubes, start=1)]


def _tube(catalogue: Catalogue, kind: str, orders: Sequence[Order], site: int) -> Tube:
    tests = [catalogue.tests[o.test] for o in orders]
    tube_type = catalogue.tubes[kind]
    size_ul = next((s.draw_ul for s in tube_type.sizes if s.use.value == "adult"), tube_type.sizes[0].draw_ul)
    limits = [limit_s for t in tests if (limit_s := t.stability_in(tube_type.code)) is not None]
    return Tube(
        tube=tube_type.code,
        size_ul=size_ul,
        volume_ul=size_ul,
        draw_position=1,
        tests=tuple(dict.fromkeys(t.code for t in tests)),
        order_ids=tuple(o.id for o in orders),
        mode=tests[0].mode,
        handling=frozenset().union(*(t.handling for t in tests)),
        stability_s=min(limits, default=None) if limits else minutes_to_s(240),
        site=site,
    )


def visit_of(plan: Plan, bed: str) -> Visit:
    """Return the first visit of a plan at a bed."""
    return next(visit for route in plan.routes for visit in route.visits if visit.place == bed)
