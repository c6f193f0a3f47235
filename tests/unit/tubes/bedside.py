"""Builders for the tests of the tube room: one ward, a few patients, orders as 'CBC, PT' on the real catalogue."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from functools import cache
from typing import Any

from planner.domain.catalogue import Catalogue, LabTest, SizeUse, TestCode, TubeCode, TubeSize, TubeType
from planner.domain.draws import DrawId, TubeSet, VisitRequest
from planner.domain.orders import Order, OrderId, Patient, PatientId, TimeWindow
from planner.domain.places import Place, PlaceId, PlaceKind, WalkingTimes
from planner.domain.policy import BloodPolicy, Policy, TubePolicy
from planner.domain.problem import Problem
from planner.domain.staff import Phlebotomist
from planner.loaders.catalogue.load import load_catalogue
from planner.solving.params import SolveParams
from planner.tubes import TubeChoice, choose_tubes
from planner.units import RoundClock

DAY = date(2024, 5, 14)
PARAMS = SolveParams()
BASE = PlaceId("BASE")


@cache
def real_catalogue() -> Catalogue:
    """The built-in catalogue."""
    catalogue, findings = load_catalogue()
    assert not findings
    return catalogue


def make_patient(number: str = "P1", **given: Any) -> Patient:
    """An adult unless told otherwise."""
    facts: dict[str, Any] = {
        "id": PatientId(number),
        "bed": PlaceId(f"B-{number}"),
        "ward": "W",
        "birth_date": date(1960, 5, 14),
    } | given
    return Patient(**facts)


def make_child(years: int, weight_kg: float | None, number: str = "P1", **given: Any) -> Patient:
    """A child who has just had a birthday, of ten weeks in the first year; the weight may be unknown."""
    weight_g = None if weight_kg is None else round(weight_kg * 1000)
    born = date(DAY.year - years, DAY.month, 1) if years else date(DAY.year, 3, 1)
    return make_patient(number, **({"birth_date": born, "weight_g": weight_g} | given))


def make_order(test: str, number: str, patient: str = "P1", **given: Any) -> Order:
    """A routine order."""
    facts: dict[str, Any] = {"id": OrderId(number), "patient_id": PatientId(patient), "test": TestCode(test)} | given
    return Order(**facts)


def make_orders(tests: str | Sequence[str], patient: str = "P1") -> list[Order]:
    """Orders from 'CBC, PT': numbered in the order in which they stand."""
    codes = [t.strip() for t in tests.split(",")] if isinstance(tests, str) else tests
    return [make_order(code, f"{patient}-{n:03d}", patient) for n, code in enumerate(codes, start=1)]


def make_problem(
    patients: Iterable[Patient],
    orders: Iterable[Order],
    *,
    catalogue: Catalogue | None = None,
    tubes: Mapping[str, Any] | None = None,
    blood: Mapping[str, Any] | None = None,
) -> Problem:
    """A round with everything that the tube room does not look at left plain."""
    people = {p.id: p for p in patients}
    base = Place(id=BASE, ward="", kind=PlaceKind.BASE)
    beds = [Place(id=p.bed, ward=p.ward, kind=PlaceKind.BED) for p in people.values()]
    return Problem(
        round_name="test",
        clock=RoundClock(DAY),
        catalogue=real_catalogue() if catalogue is None else catalogue,
        patients=people,
        orders=tuple(sorted(orders, key=lambda o: o.id)),
        places={p.id: p for p in [base, *beds]},
        corridors=(),
        walking=WalkingTimes({}),
        staff=(Phlebotomist(name="", initials="AA", from_s=0, until_s=36_000, starts_at=BASE),),
        pickups=(),
        policy=Policy(tubes=TubePolicy(**(tubes or {})), blood=BloodPolicy(**(blood or {}))),
    )


def make_request(patient: Patient, orders: Sequence[Order], counter: int = 1) -> VisitRequest:
    """One visit, with a window that does not matter here."""
    return VisitRequest(
        id=DrawId(f"{patient.id}#{counter}"),
        patient_id=patient.id,
        bed=patient.bed,
        orders=tuple(orders),
        windows=(TimeWindow(earliest_s=0, latest_s=1),),
        order_windows=(),
    )


def choose(patient: Patient, orders: str | Sequence[Order], **given: Any) -> TubeChoice:
    """Choose the tubes of one patient's only visit."""
    listed = make_orders(orders, patient.id) if isinstance(orders, str) else list(orders)
    problem = make_problem([patient], listed, **given)
    return choose_tubes(problem, [make_request(patient, listed)], PARAMS)


def tube_set(patient: Patient, orders: str | Sequence[Order], **given: Any) -> TubeSet:
    """Return the tube set of one patient's only visit, none of whose orders waits."""
    choice = choose(patient, orders, **given)
    assert not choice.postponed
    (found,) = choice.tube_sets.values()
    return found


def written(found: TubeSet) -> list[str]:
    """Return tubes as 'CIT 2.7 PT+APTT', in order of draw."""
    return [f"{t.tube} {t.volume_ul / 1000:g} {'+'.join(t.tests)}".strip() for t in found.tubes]


def make_kind(code: str, *sizes_ul: int, **given: Any) -> TubeType:
    """A tube kind with adult sizes."""
    facts: dict[str, Any] = {
        "code": TubeCode(code),
        "name": code,
        "additive": "",
        "iso_code": "",
        "closure": "",
        "rank": 3,
        "rank_within": 1,
        "inversions": "5",
        "sizes": tuple(TubeSize(draw_ul=ul, use=SizeUse.ADULT) for ul in sorted(sizes_ul)),
        "min_fill_pct": 50,
    }
    return TubeType(**(facts | given))


def make_test(code: str, accepts: str, min_ul: int, add_ul: int, group: str | None = "G", **given: Any) -> LabTest:
    """A test; ``accepts`` as in the catalogue file, 'A;B' or 'A+B'."""
    facts: dict[str, Any] = {
        "code": TestCode(code),
        "name": code,
        "loinc": "",
        "loinc_name": "",
        "section": "",
        "accepts": tuple(tuple(TubeCode(c) for c in part.split("+")) for part in accepts.split(";")),
        "min_volume_ul": min_ul,
        "add_volume_ul": add_ul,
        "share_group": group,
        "min_fill_pct": 0,
        "containers": 1,
        "handling": frozenset(),
        "max_room_s": 7200,
        "max_ice_s": None,
        "max_warm_s": None,
    }
    return LabTest(**(facts | given))


def make_catalogue(tests: Iterable[LabTest], kinds: Iterable[TubeType]) -> Catalogue:
    """A catalogue of our own for one test."""
    return Catalogue(tests={t.code: t for t in tests}, tubes={k.code: k for k in kinds})


def with_only(catalogue: Catalogue, test: str, **changed: Any) -> Catalogue:
    """The catalogue with one test changed."""
    code = TestCode(test)
    return replace(catalogue, tests={**catalogue.tests, code: replace(catalogue.tests[code], **changed)})
