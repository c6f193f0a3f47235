"""Ice and culture bottles go by pneumatic tube only where the site allows it, on wards with equal bed numbers."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.checker import check_plan
from planner.domain.places import PickupKind, PlaceId, PlaceKind
from planner.domain.plan import Handover, Reason
from planner.domain.policy import HandoverPolicy, Policy
from planner.exporters.view.build import build_view
from planner.exporters.view.stop_view import HandoverView
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from planner.visits import order_windows
from tests.builders import clock, make_order, make_patient, make_pickup, make_place, make_problem

pytestmark = pytest.mark.slow

WARDS = ("Elm", "Oak (E), 2", "Yew")
STATION = "Station [lobby, level 2]"


def round_of(tests=("CBC", "LACT", "BC"), *, ice=False, glass=False, courier=True):
    """Return a round of three wards that all have bed 1A: a tube station at hand, a courier at 06:00 farther off."""
    places = [
        make_place("BASE", PlaceKind.BASE, position=0),
        *(make_place(f"{ward}/1A", position=n, ward=ward) for n, ward in enumerate(WARDS, 1)),
        make_place(STATION, PlaceKind.TUBE_STATION, position=4),
        make_place("Shelf", PlaceKind.PICKUP, position=9),
    ]
    people = [make_patient(f"P{n}", bed=PlaceId(f"{ward}/1A"), ward=ward) for n, ward in enumerate(WARDS, 1)]
    orders = [make_order(f"O{n}", f"P{n}", test) for n, test in enumerate(tests, 1)]
    pickups = [make_pickup(STATION, PickupKind.TUBE, transit_s=180)]
    if courier:
        departures = tuple(clock(f"{h:02}:{m:02}") for h in (5, 6, 7, 8) for m in (20, 40))
        pickups.append(make_pickup("Shelf", departures_s=departures, transit_s=300))
    policy = Policy(handover=HandoverPolicy(tube_takes_ice=ice, tube_takes_glass=glass))
    return make_problem(orders, people, places=places, pickups=pickups, policy=policy)


def sent(problem):
    """Return plan and how each patient's specimens leave."""
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    found = {}
    for route in plan.routes:
        for visit in route.visits:
            stops = {route.stops[p.handover] for p in visit.tubes if p.handover is not None}
            found[visit.patient_id] = {s.kind for s in stops if isinstance(s, Handover)}
    return plan, found


TUBE, COURIER = {PickupKind.TUBE}, {PickupKind.COURIER}


@pytest.mark.parametrize(("ice", "glass"), [(False, False), (True, False), (False, True), (True, True)])
def test_ice_and_bottles_go_by_tube_only_where_the_site_allows_it(ice, glass):
    problem = round_of(ice=ice, glass=glass)
    _, found = sent(problem)
    assert ice or PickupKind.TUBE not in found["P2"]
    assert glass or PickupKind.TUBE not in found["P3"]
    # With nothing but the station both are left for a decision where it may not take them, and planned where it may.
    alone = plan_round(round_of(ice=ice, glass=glass, courier=False), SolveParams(effort="quick")).plan
    left = {u.order_id for u in alone.unplanned if u.reason.needs_decision}
    assert left == {o for o, allowed in (("O2", ice), ("O3", glass)) if not allowed}


def test_reason_names_no_hand_over():
    plan = plan_round(round_of(courier=False), SolveParams(effort="quick")).plan
    assert {u.reason for u in plan.unplanned} <= {Reason.NO_HANDOVER, Reason.NO_TIME}


def test_checker_holds_the_policy_by_itself():
    allowed = round_of(ice=True, glass=True, courier=False)
    plan, _ = sent(allowed)
    for changed, order in (({"tube_takes_ice": False}, "O2"), ({"tube_takes_glass": False}, "O3")):
        policy = replace(allowed.policy, handover=replace(allowed.policy.handover, **changed))
        report = check_plan(replace(allowed, policy=policy), plan)
        assert set(report.codes()) == {"handling"}
        assert {i for f in report for i in f.order_ids} == {order}


def handovers(problem, plan):
    view = build_view(problem, plan, order_windows(problem)[0], revision=1)
    return [stop for route in view.routes for stop in route.stops if isinstance(stop, HandoverView)]


def test_ice_by_tube_is_bagged_with_a_cold_pack_never_in_loose_slurry():
    problem = round_of(ice=True, glass=True, courier=False)
    said = " ".join(stop.special for stop in handovers(problem, sent(problem)[0]))
    assert "sealed bag with a cold pack, no loose slurry" in said


def test_station_says_where_else():
    problem = round_of()
    stations = [stop for stop in handovers(problem, sent(problem)[0]) if stop.place == STATION]
    assert all(stop.fallback.startswith("If down: Shelf, courier 0") for stop in stations)
    alone = round_of(tests=("CBC", "CBC", "CBC"), courier=False)
    assert {stop.fallback for stop in handovers(alone, sent(alone)[0])} == {"If down: phone lead"}
