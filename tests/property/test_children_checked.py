"""Children of all ages near their limits, alone and on wards: every order is accounted for, and the checker agrees.

Also held against an account of its own: no plan takes more than 1.7 mL/kg in 24 h [L53, L55], 5 % of 80 mL/kg in 30
days or the handbook's cap at one time [L54], counted here in millilitres from the tubes alone.
"""

from __future__ import annotations

import random
from datetime import date, timedelta

import pytest

from planner.checker import check_plan
from planner.domain.orders import Method, Order, Patient, Priority, TimeWindow
from planner.domain.patients.births import PartialDate
from planner.domain.plan import Reason
from planner.domain.policy import BloodPolicy, NeonateMethod, Policy
from planner.domain.problem import Problem
from planner.loaders.catalogue.load import load_catalogue
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import DAY, make_order, make_patient, make_phlebotomist, make_pickup, make_problem

CATALOGUE = load_catalogue()[0]
CODES = sorted(CATALOGUE.tests)
CAPS_ML = [(30.0, 30), (27.7, 25), (18.6, 20), (7.3, 10), (4.5, 5), (3.6, 3.5), (0.0, 2.5)]
"""L54 Beaumont, after the Phlebotomy Handbook, printed rows; 4.5 kg from memory."""


def a_child(rng: random.Random, number: int) -> Patient:
    """Somebody of any age, often without a day, month or year of birth, near a limit, perhaps away."""
    days = rng.choice([rng.randrange(0, 28), rng.randrange(28, 400), rng.randrange(400, 365 * 18), 365 * 30])
    born = DAY - timedelta(days=days)
    weight = 3.2 + days / 120 if days < 400 else min(60.0, 7 + 3 * days / 365)
    kilograms = weight * rng.choice([0.8, 1.0, 1.0, 1.3, 10.0])
    known: date | PartialDate | None = rng.choice(
        [born, born, born, PartialDate(born.year, born.month), PartialDate(born.year), None]
    )
    away_s = rng.randrange(5 * 3600, 8 * 3600)
    return make_patient(
        f"P{number}",
        f"B{number}",
        ward=rng.choice(["Wren", "Heron", "Robin"]),
        birth_date=known,
        weight_g=rng.choice([round(kilograms * 1000), round(kilograms * 1000), round(kilograms * 1000), None]),
        drawn_24h_ul=rng.choice([None, 0, round(1700 * kilograms * rng.random())]),
        drawn_30d_ul=rng.choice([None, round(4000 * kilograms * rng.random())]),
        haemoglobin_g_l=rng.choice([None, None, rng.randrange(60, 140)]),
        method=rng.choice([None, None, None, Method.CAPILLARY, Method.VENOUS]),
        away=rng.choice([(), (TimeWindow(earliest_s=away_s, latest_s=away_s + 1800),)]),
    )


def some_orders(rng: random.Random, patient: Patient) -> list[Order]:
    """One to eight orders, a late asap one and the lactate that splits visits among them."""
    codes = [rng.choice(CODES) for _ in range(rng.randint(1, 6))] + rng.choice([[], ["BC", "LACT"]])
    return [
        make_order(
            f"{patient.id}-{n}",
            patient.id,
            code,
            priority=rng.choice([Priority.ASAP, Priority.STAT, Priority.ROUTINE, Priority.ROUTINE]),
            ordered_s=rng.choice([None, 6 * 3600]),
        )
        for n, code in enumerate(codes)
    ]


def a_round(rng: random.Random) -> Problem:
    """Four beds on three wards, one courier or two, a policy of any kind."""
    patients = [a_child(rng, number) for number in range(1, 5)]
    blood = BloodPolicy(
        neonate_method=rng.choice(list(NeonateMethod)),
        adult_wards=rng.choice([(), ("Heron",), ("*",)]),
        child_wards=rng.choice([(), ("Wren",)]),
        unknown_drawn_pct=rng.choice([50.0, 100.0, 33.3]),
    )
    couriers = sorted(rng.sample(range(5 * 3600 + 1800, 9 * 3600, 900), rng.choice([1, 3])))
    return make_problem(
        [order for patient in patients for order in some_orders(rng, patient)],
        patients,
        catalogue=CATALOGUE,
        policy=Policy(blood=blood),
        pickups=[make_pickup(departures_s=tuple(couriers))],
        staff=[make_phlebotomist("AB"), make_phlebotomist("CD")],
    )


def latest(born: date | PartialDate) -> date:
    if isinstance(born, date):
        return born
    first_of_next = date(born.year + 1, 1, 1) if born.month in (None, 12) else date(born.year, (born.month or 0) + 1, 1)
    return first_of_next - timedelta(days=1)


def under(patient: Patient, years: int) -> bool:
    """Younger than so many years, at the youngest; of no birth date, by a weight under 40 kg."""
    if patient.birth_date is None:
        return patient.weight_g is not None and patient.weight_g < 40_000
    born = latest(patient.birth_date)
    return (born.year + years, born.month, born.day) > (DAY.year, DAY.month, DAY.day)


@pytest.mark.parametrize("block", range(4))
def test_children_of_all_ages_near_their_limits(block: int) -> None:
    # 4 x 15 rounds of four patients.
    rng = random.Random(7000 + block)
    drawn = waiting = 0
    for _ in range(15):
        problem = a_round(rng)
        planned = plan_round(problem, SolveParams(effort="quick"))
        assert planned.refused == ()
        plan = planned.plan
        assert check_plan(problem, plan).is_clean
        visits = [visit for route in plan.routes for visit in route.visits]
        served = [order_id for visit in visits for order_id in visit.order_ids]
        listed = [left.order_id for left in plan.unplanned]
        assert sorted([*served, *listed]) == [order.id for order in problem.orders]
        waiting += sum(left.reason is Reason.BLOOD_LIMIT for left in plan.unplanned)
        for patient in problem.patients.values():
            own = [
                sum(p.tube.volume_ul for p in visit.tubes) / 1000 for visit in visits if visit.patient_id == patient.id
            ]
            if not own:
                continue
            drawn += 1
            policy = problem.policy.blood
            is_open = patient.birth_date is None and not under(patient, 18)
            assert (
                not is_open or patient.ward in (*policy.child_wards, *policy.adult_wards) or "*" in policy.adult_wards
            )
            if not under(patient, 18):
                continue
            assert patient.weight_g is not None
            kilograms = patient.weight_g / 1000
            anaemia = min(1.0, (patient.haemoglobin_g_l or 999) / 110)
            day_ml = 1.7 * kilograms * anaemia
            before_ml = (patient.drawn_24h_ul or 0) / 1000
            share = 1.0 if patient.drawn_24h_ul is not None else policy.unknown_drawn_pct / 100
            assert sum(own) + before_ml <= day_ml * share + 0.001
            month_ml = max(before_ml, (patient.drawn_30d_ul or 0) / 1000)
            assert sum(own) + month_ml <= 4 * kilograms * anaemia + 0.001
            if under(patient, 14):
                cap_ml = next(ml for from_kg, ml in CAPS_ML if kilograms >= from_kg)
                assert max(own) <= cap_ml * anaemia + 0.001
    assert drawn > 10 and waiting > 0
