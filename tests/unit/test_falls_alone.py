"""An order that cannot be carried, or not at that time, is lost alone: the patient's other orders are drawn."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from planner.domain.draws import Draw
from planner.domain.orders import Order, OrderId, Priority, TimeWindow
from planner.domain.places import PickupKind, PlaceId
from planner.domain.plan import Plan, Reason
from planner.domain.policy import Policy
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past, Replan, Retry
from planner.explaining.reasons import explain
from planner.pipeline import plan_round
from planner.prepared import prepare_round
from planner.solving.params import SolveParams
from tests.builders import clock, make_order, make_patient, make_phlebotomist, make_pickup, make_problem

PARAMS = SolveParams(effort="quick")
STATION = make_pickup("STATION", PickupKind.TUBE)


def with_tray(limit: int) -> Policy:
    return replace(Policy(), handover=replace(Policy().handover, tray_limit=limit))


def planned(problem: Problem) -> Plan:
    return plan_round(problem, PARAMS).plan


def lost(plan: Plan) -> dict[str, Reason]:
    return {u.order_id: u.reason for u in plan.unplanned}


def drawn(plan: Plan) -> set[str]:
    return {o for route in plan.routes for visit in route.visits for o in visit.order_ids}


def orders_of(*tests: str, patient: str = "P1", **details: Any) -> list[Order]:
    return [make_order(f"{patient}-{test}", patient, test, **details) for test in tests]


def test_specimen_by_hand_on_a_ward_with_a_tube_station_alone() -> None:
    # CRYO goes by hand only; the round has one outlet, a tube station.
    orders = [*orders_of("CBC", "BMP", priority=Priority.STAT), *orders_of("CRYO")]
    plan = planned(make_problem(orders, pickups=[STATION]))
    assert lost(plan) == {"P1-CRYO": Reason.NO_HANDOVER}
    assert drawn(plan) == {"P1-CBC", "P1-BMP"}
    assert plan.goals[0].value == 1  # the routine order alone


def test_the_order_that_fell_is_named_with_what_kept_it() -> None:
    problem = make_problem([*orders_of("CBC"), *orders_of("CRYO")], pickups=[STATION])
    explained = explain(problem, planned(problem), OrderId("P1-CRYO"))
    assert explained is not None
    assert explained.unplanned is not None
    assert "by hand" in explained.unplanned.detail
    assert "tube station" in explained.unplanned.detail


@pytest.mark.slow
def test_more_tubes_than_the_tray_holds_are_drawn_in_two_visits() -> None:
    # CBC, BMP, PT and XM are four tubes of four kinds, and the tray holds two.
    plan = planned(make_problem(orders_of("CBC", "BMP", "PT", "XM"), policy=with_tray(2)))
    assert lost(plan) == {}
    assert [len(visit.tubes) for route in plan.routes for visit in route.visits] == [2, 2]


@pytest.mark.slow
def test_test_that_alone_fills_more_than_the_tray_is_lost_alone() -> None:
    # A culture set is two bottles, and the tray holds one tube.
    orders = [*orders_of("CBC", priority=Priority.STAT), *orders_of("BC")]
    problem = make_problem(orders, policy=with_tray(1))
    plan = planned(problem)
    assert lost(plan) == {"P1-BC": Reason.TRAY_TOO_SMALL}
    assert drawn(plan) == {"P1-CBC"}
    explained = explain(problem, plan, OrderId("P1-BC"))
    assert explained is not None
    assert explained.unplanned is not None
    assert "2 tubes" in explained.unplanned.detail


def away_from(at: str) -> Problem:
    """A patient with seven tubes, one of which is wanted from 05:25 on, just before an absence.

    165 s lie between the first tube and the end of a plain stay, so that a draw at 05:25 leaves by 05:27:45. Seven
    tubes take three minutes more.
    """
    timed = orders_of("CBC", collect_from_s=clock("05:25"), collect_to_s=clock("05:30"))
    others = orders_of("BMP", "PT", "XM", "BC", "FGLU")
    away = (TimeWindow(earliest_s=clock(at), latest_s=clock("07:00")),)
    policy = replace(Policy(), windows=replace(Policy().windows, timed_give_up_s=0))
    return make_problem([*timed, *others], [make_patient(away=away)], policy=policy)


@pytest.mark.slow
def test_stay_that_an_absence_cuts_short_takes_no_other_order_along() -> None:
    plan = planned(away_from("05:28:00"))
    assert lost(plan) == {}
    at_s = {o: v.draw_s for route in plan.routes for v in route.visits for o in v.order_ids}
    assert clock("05:25") <= at_s["P1-CBC"] <= clock("05:30")


def test_failed_attempt_of_one_order_keeps_nobody_from_the_others() -> None:
    problem = make_problem(orders_of("CBC", "BMP"))
    past = (Past(phlebotomist=0, stops=(), place=PlaceId("B1"), free_s=clock("05:42")),)
    retries = (Retry(order_id=OrderId("P1-BMP"), not_by=frozenset({0})),)
    replan = Replan(parent=1, now_s=clock("05:42"), past=past, retries=retries)
    plan = planned(replace(problem, replan=replan))
    assert lost(plan) == {"P1-BMP": Reason.SECOND_PERSON}
    assert drawn(plan) == {"P1-CBC"}


@pytest.mark.parametrize("tests", [("CBC", "BMP", "CRYO"), ("CBC", "LACT", "CRYO", "PFN")])
def test_every_order_is_in_one_visit_or_listed_once(tests: tuple[str, ...]) -> None:
    orders = orders_of(*tests)
    prepared = prepare_round(make_problem(orders, pickups=[STATION]), PARAMS)
    in_draws = [o.id for d in prepared.draws for o in _served(d)]
    assert sorted([*in_draws, *(u.order_id for u in prepared.unplanned)]) == sorted(o.id for o in orders)


def _served(draw: Draw) -> tuple[Order, ...]:
    return draw.request.orders


def test_reason_says_the_shift_only_where_the_shift_is_the_reason() -> None:
    # Everybody's shift holds the window; what is missing is a hand-over: the last courier has left.
    gone = make_pickup(departures_s=(clock("05:01"),))
    plan = planned(make_problem(orders_of("CBC"), pickups=[gone]))
    (entry,) = plan.unplanned
    assert entry.reason is Reason.NO_HANDOVER
    assert "shift" not in entry.detail


def test_reason_says_the_shift_where_nobody_can_be_at_the_bed() -> None:
    staff = [make_phlebotomist("AB", until_s=clock("05:20")), make_phlebotomist("CD", from_s=clock("08:58"))]
    orders = orders_of("CBC", collect_from_s=clock("06:00"), collect_to_s=clock("06:30"))
    (entry,) = planned(make_problem(orders, staff=staff)).unplanned
    assert entry.reason is Reason.NO_TIME
    assert "06:00" in entry.detail
    assert "shift" in entry.detail
