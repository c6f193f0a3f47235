"""Tube sets before the independent checker: its rules of tubes find nothing, for adults, adolescents and children."""

from __future__ import annotations

import random

import pytest

from planner.checker import container_rules, draw_order_rules
from planner.checker.facts import Facts
from planner.domain.orders import Order, Patient
from planner.domain.plan import Plan, PlannedTube, Route, Visit
from planner.tubes import choose_tubes
from tests.unit.tubes.bedside import (
    PARAMS,
    make_child,
    make_order,
    make_patient,
    make_problem,
    make_request,
    real_catalogue,
)


def a_patient(rng: random.Random, name: str) -> tuple[Patient, list[Order]]:
    """A patient of any age with 1 to 15 orders, culture sets in a series among them."""
    years = rng.choice([None, None, 0, 1, 3, 8, 13, 15, 17])
    weight = 4 if years == 0 else 7 + 3 * (years or 0)
    veins = rng.random() < 0.3
    patient = (
        make_patient(name, has_difficult_veins=veins)
        if years is None
        else make_child(years, weight, name, has_difficult_veins=veins)
    )
    codes = [rng.choice(list(real_catalogue().tests)) for _ in range(rng.randint(1, 15))]
    orders = [make_order(code, f"{name}-{n:02d}", name) for n, code in enumerate(codes)]
    sets = [make_order("BC", f"{name}-S{n}", name, series="S") for n in range(rng.choice([0, 0, 2, 3]))]
    return patient, orders + sets


@pytest.mark.parametrize("block", range(4))
def test_checker_finds_nothing(block: int) -> None:
    # 4 x 50 patients.
    rng = random.Random(5000 + block)
    bedside = [a_patient(rng, f"P{n:02d}") for n in range(50)]
    device, table = rng.choice(["straight", "winged"]), rng.choice("ab")
    problem = make_problem(
        [p for p, _ in bedside],
        [o for _, orders in bedside for o in orders],
        tubes={"routine_device": device, "weight_table_cultures": table},
    )
    requests = [make_request(patient, orders) for patient, orders in bedside]
    choice = choose_tubes(problem, requests, PARAMS)
    waiting = {u.order_id for u in choice.postponed}
    visits = tuple(
        Visit(
            draw_id=request.id,
            patient_id=request.patient_id,
            place=request.bed,
            order_ids=tuple(o.id for o in request.orders if o.id not in waiting),
            arrive_s=0,
            start_s=0,
            draw_s=0,
            depart_s=0,
            tubes=tuple(PlannedTube(tube=t, handover=None) for t in choice.tube_sets[request.id].tubes),
            needle=choice.tube_sets[request.id].needle,
        )
        for request in requests
        if request.id in choice.tube_sets
    )
    plan = Plan(routes=(Route(phlebotomist=0, stops=visits),), unplanned=choice.postponed, goals=())
    facts = Facts(problem, plan)
    broken = [b for rule in container_rules.RULES + draw_order_rules.RULES for b in rule(facts)]
    assert broken == []
    assert len(visits) > 40
