"""Tube sets against brute force and against HiGHS: the same minimum, tubes, blood and preference alike."""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest

from planner.domain.catalogue import Catalogue, LabTest, SizeUse
from planner.domain.orders import Patient
from planner.tubes.choice import Chooser
from planner.tubes.demands import demands_of
from tests.property.tube_cases import random_catalogue
from tests.property.tube_milp import smallest
from tests.property.tube_oracle import Bed, Cost, every_cost
from tests.unit.tubes.bedside import (
    PARAMS,
    make_child,
    make_order,
    make_patient,
    make_problem,
    make_request,
    real_catalogue,
)


def cost_of(catalogue: Catalogue, patient: Patient, tests: Sequence[LabTest], winged: bool) -> Cost:
    """The cost that the tube room comes to, with limits left aside."""
    orders = [make_order(t.code, f"{n:03d}") for n, t in enumerate(tests)]
    device = "winged" if winged else "straight"
    problem = make_problem([patient], orders, catalogue=catalogue, tubes={"routine_device": device})
    choice = Chooser(problem, PARAMS).choose(patient, demands_of(problem, make_request(patient, orders)))
    assert choice.is_proven
    return choice.cost


def bed_of(is_child: bool, winged: bool) -> Bed:
    # A child's draw is planned with a winged set whatever the policy says.
    return Bed(is_child=is_child, is_winged=winged or is_child, discard_ul=500 if is_child else 1000)


@pytest.mark.parametrize("block", range(10))
def test_small_visits_agree_with_brute_force(block: int) -> None:
    # 10 x 250 visits of 1 to 5 tests, each in a laboratory of its own.
    rng = random.Random(1000 + block)
    for _ in range(250):
        catalogue = random_catalogue(rng, rng.randint(1, 5))
        is_child, winged = rng.random() < 0.3, rng.random() < 0.5
        patient = make_child(5, 20) if is_child else make_patient()
        tests = list(catalogue.tests.values())
        costs = every_cost(catalogue, tests, bed_of(is_child, winged))
        if costs:
            assert cost_of(catalogue, patient, tests, winged) == min(costs), tests


@pytest.mark.parametrize("block", range(5))
def test_larger_visits_agree_with_highs(block: int) -> None:
    # 5 x 30 visits of 5 to 9 tests, each in a laboratory of its own.
    rng = random.Random(2000 + block)
    for _ in range(30):
        catalogue = random_catalogue(rng, rng.randint(5, 9))
        is_child, winged = rng.random() < 0.3, rng.random() < 0.5
        patient = make_child(5, 20) if is_child else make_patient()
        agree_with_highs(catalogue, patient, list(catalogue.tests.values()), is_child, winged)


@pytest.mark.parametrize("block", range(5))
def test_visits_in_the_real_laboratory_agree_with_highs(block: int) -> None:
    # 5 x 30 visits of 3 to 25 tests; children without cultures, whose volumes go by weight; adults without tests that
    # have containers for children only, which are set aside before.
    rng = random.Random(3000 + block)
    catalogue = real_catalogue()
    for _ in range(30):
        is_child, winged = rng.random() < 0.4, rng.random() < 0.5
        patient = make_child(5, 20) if is_child else make_patient()
        may = [
            test
            for test in catalogue.tests.values()
            for kind in [catalogue.tubes[test.accepts[0][0]]]
            if not (is_child and kind.is_culture)
            if is_child or any(size.use is not SizeUse.CHILD for size in kind.sizes)
        ]
        agree_with_highs(catalogue, patient, rng.sample(may, rng.randint(3, 25)), is_child, winged)


def agree_with_highs(
    catalogue: Catalogue, patient: Patient, tests: Sequence[LabTest], is_child: bool, winged: bool
) -> None:
    found = cost_of(catalogue, patient, tests, winged)
    assert smallest(catalogue, tests, bed_of(is_child, winged), found[0]) == found, [t.code for t in tests]
