"""Tests for which a patient must have lain, and tests for which they must have been up, are never one draw."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.checker import check_plan
from planner.domain.catalogue import Handling
from planner.domain.draws import Device
from planner.domain.places import PickupKind, PlaceId, PlaceKind
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import (
    clock,
    make_catalogue,
    make_order,
    make_patient,
    make_pickup,
    make_place,
    make_problem,
    make_test,
)

UP = make_test("UPX", share_group="U", handling=(Handling.UPRIGHT_2H.value,))
DOWN = make_test("DOWNX", share_group="U", handling=(Handling.SUPINE.value,))
CATALOGUE = make_catalogue(extra_tests=[UP, DOWN])


def planned(orders, **changes):
    problem = make_problem(orders, catalogue=CATALOGUE, **changes)
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    return problem, plan, {i: v.draw_s for r in plan.routes for v in r.visits for i in v.order_ids}


@pytest.mark.slow
def test_upright_is_drawn_first_and_lying_half_an_hour_after_it():
    # Both handbooks ask for 15 to 30 min of lying, and 2 h out of bed: up first, then 30 min, is the shorter wait.
    _, plan, drawn = planned(
        [make_order("O1", "P1", "DOWNX"), make_order("O2", "P1", "UPX"), make_order("O3", "P1", "CBC")]
    )
    assert not plan.unplanned
    assert drawn["O1"] - drawn["O2"] >= 1800
    assert drawn["O3"] in (drawn["O1"], drawn["O2"])


@pytest.mark.slow
def test_lying_first_where_the_orders_say_so_then_two_hours():
    orders = [
        make_order("O1", "P1", "DOWNX", collect_to_s=clock("05:20")),
        make_order("O2", "P1", "UPX", collect_from_s=clock("07:00")),
    ]
    drawn = planned(orders)[2]
    assert drawn["O2"] - drawn["O1"] >= 7200


@pytest.mark.slow
def test_without_time_for_both_one_is_left_for_a_decision():
    orders = [make_order(o, "P1", t, collect_at_s=clock("06:00")) for o, t in (("O1", "DOWNX"), ("O2", "UPX"))]
    from planner.domain.policy import Policy, WindowPolicy

    policy = Policy(windows=WindowPolicy(timed_tolerance_s=300, timed_give_up_s=0))
    _, plan, drawn = planned(orders, policy=policy)
    (left,) = plan.unplanned
    assert len(drawn) == 1 and left.reason.needs_decision


@pytest.mark.slow
def test_other_patients_in_beds_of_that_number_are_not_concerned():
    wards = ("Elm", "Oak (E), 2", "Yew")
    places = [
        make_place("BASE", PlaceKind.BASE, position=0),
        *(make_place(f"{ward}/1A", position=n, ward=ward) for n, ward in enumerate(wards, 1)),
        make_place("LAB", PlaceKind.LABORATORY, position=5),
    ]
    people = [make_patient(f"P{n}", bed=PlaceId(f"{ward}/1A"), ward=ward) for n, ward in enumerate(wards, 1)]
    orders = [make_order("O1", "P1", "DOWNX"), make_order("O2", "P2", "UPX"), make_order("O3", "P3", "UPX")]
    pickups = [make_pickup("LAB", PickupKind.CARRIED, transit_s=0)]
    drawn = planned(orders, places=places, patients=people, pickups=pickups)[2]
    assert max(drawn.values()) - min(drawn.values()) < 1800


@pytest.mark.parametrize(("earlier", "order", "least_s"), [("UPX", "DOWNX", 1800), ("DOWNX", "UPX", 7200)])
def test_draw_made_in_this_round_binds_the_other_posture(earlier, order, least_s):
    from planner.domain.draws import DrawId, Needle
    from planner.domain.plan import Outcome, Visit
    from planner.domain.revisions.replan import Past, Replan
    from planner.visits import order_windows

    at = clock("05:10")
    made = Visit(
        draw_id=DrawId("P1#1"), patient_id="P1", place="B1", order_ids=("O1",), arrive_s=at, start_s=at, draw_s=at,
        depart_s=at + 100, tubes=(), needle=Needle(gauge=21, device=Device.STRAIGHT), outcome=Outcome.COLLECTED,
    )  # fmt: skip
    past = Past(phlebotomist=0, stops=(made,), place=PlaceId("B1"), free_s=clock("05:20"))
    replan = Replan(parent=1, now_s=clock("05:20"), past=(past,))
    orders = [make_order("O1", "P1", earlier), make_order("O2", "P1", order)]
    problem = make_problem(orders, catalogue=CATALOGUE, replan=replan)
    assert order_windows(problem)[0]["O2"].earliest.at_s == at + least_s


@pytest.mark.slow
def test_checker_finds_postures_that_contradict_each_other():
    # Planned as tests that ask for nothing, then held against the postures.
    plain = make_catalogue(extra_tests=[replace(t, handling=frozenset()) for t in (UP, DOWN)])
    orders = [make_order("O1", "P1", "DOWNX"), make_order("O2", "P1", "UPX")]
    problem = make_problem(orders, catalogue=plain)
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    assert "posture" in check_plan(replace(problem, catalogue=CATALOGUE), plan).codes()
    far = [
        make_order("O1", "P1", "DOWNX", collect_to_s=clock("05:20")),
        make_order("O2", "P1", "UPX", collect_from_s=clock("06:30")),
    ]
    problem = make_problem(far, catalogue=plain)
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    assert "posture" in check_plan(replace(problem, catalogue=CATALOGUE), plan).codes()
