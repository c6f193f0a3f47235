"""The whole path in the library: a late visit is split where that makes it less late, and only there."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from planner import pipeline, regrouping
from planner.domain.catalogue import TestCode
from planner.domain.orders import Priority, TimeWindow
from planner.domain.plan import Reason
from planner.domain.problem import Problem
from planner.domain.wishes import Wish
from planner.loaders.catalogue.load import load_catalogue
from planner.pipeline import PlannedRound, plan_round
from planner.scheduling import ScheduleOutcome, schedule
from planner.solving.params import SolveParams
from tests.builders import make_order, make_patient, make_pickup, make_problem

CATALOGUE = load_catalogue()[0]


def stat_round(*tests: str) -> Problem:
    """One patient's stat orders; the only way out is the courier at 06:00, who needs ten minutes."""
    orders = [make_order(f"O{n}", "P1", test, priority=Priority.STAT) for n, test in enumerate(tests)]
    return make_problem(orders, catalogue=CATALOGUE, pickups=[make_pickup(departures_s=(6 * 3600,))])


def draws_by_test(planned: PlannedRound, problem: Problem) -> dict[str, int]:
    return {
        problem.order(order_id).test: visit.draw_s
        for route in planned.plan.routes
        for visit in route.visits
        for order_id in visit.order_ids
    }


@pytest.mark.slow
def test_culture_does_not_wait_with_a_lactate_for_its_courier() -> None:
    # A lactate keeps 30 min on ice: for the arrival at 06:10 it is drawn at 05:40 (20 400 s), 25 min past the stat
    # target of 05:15. The culture keeps 120 min and can be drawn at once, before 05:15 (18 900 s).
    problem = stat_round("BC", "LACT")
    planned = plan_round(problem, SolveParams(effort="quick"))
    drawn_s = draws_by_test(planned, problem)
    assert drawn_s["LACT"] >= 20_400
    assert drawn_s["BC"] <= 18_900
    assert sum(len(route.visits) for route in planned.plan.routes) == 2


def test_visit_that_is_on_time_stays_one() -> None:
    problem = stat_round("BC", "CBC")
    planned = plan_round(problem, SolveParams(effort="quick"))
    assert sum(len(route.visits) for route in planned.plan.routes) == 1


def test_visit_that_would_be_as_late_in_two_stays_one() -> None:
    # Both keep 30 min on ice: apart they would be as late as together.
    problem = stat_round("LACT", "NH3")
    planned = plan_round(problem, SolveParams(effort="quick"))
    assert sum(len(route.visits) for route in planned.plan.routes) == 1


@pytest.mark.slow
def test_order_that_waits_for_a_childs_limit_is_not_lost_when_her_late_visit_is_split() -> None:
    # Issue 19, fault 1. A child of 5 kg, 5 mL at one time [L54]: a cross-match of 20 mL waits. The lactate keeps the
    # culture (3 mL) waiting for the courier of 06:40, so the visit is split; the cross-match stays on the list.
    child = make_patient("P1", "B1", birth_date=date(2026, 1, 3), weight_g=5000, drawn_24h_ul=0)
    large = replace(CATALOGUE.tests[TestCode("XM")], min_volume_ul=20_000, child_min_volume_ul=None)
    orders = [make_order(f"O{n}", "P1", test, priority=Priority.ASAP) for n, test in enumerate(("BC", "LACT", "XM"))]
    away = TimeWindow(earliest_s=5 * 3600 + 1800, latest_s=6 * 3600)
    problem = make_problem(
        orders,
        [replace(child, away=(away,))],
        catalogue=replace(CATALOGUE, tests={**CATALOGUE.tests, large.code: large}),
        pickups=[make_pickup(departures_s=(6 * 3600 + 2400,))],
    )
    planned = plan_round(problem, SolveParams(effort="quick"))
    assert sum(len(route.visits) for route in planned.plan.routes) == 2
    visited = {order_id for route in planned.plan.routes for visit in route.visits for order_id in visit.order_ids}
    listed = [left.order_id for left in planned.plan.unplanned]
    assert sorted([*visited, *listed]) == ["O0", "O1", "O2"]
    assert {left.reason for left in planned.plan.unplanned} == {Reason.BLOOD_LIMIT}


def ends_badly(monkeypatch: pytest.MonkeyPatch, module: Any, **how: Any) -> list[ScheduleOutcome]:
    """Let the first search that a module asks for end as told, whatever came of it; return the outcomes of all."""
    outcomes: list[ScheduleOutcome] = []

    def search(*given: Any, **options: Any) -> ScheduleOutcome:
        outcome = schedule(*given, **options)
        outcomes.append(outcome if outcomes else replace(outcome, **how))
        return outcomes[-1]

    monkeypatch.setattr(module, "schedule", search)
    return outcomes


@pytest.mark.parametrize("wish", [None, *Wish])
def test_search_for_a_wish_says_how_it_ended(monkeypatch: pytest.MonkeyPatch, wish: Wish | None) -> None:
    # Counted anew with the site's prices, the plan is still that of a search that was stopped: `check` must not expect
    # to find it again.
    how = {"hit_wall_guard": True, "was_interrupted": True, "trouble": ("tier service: no model",)}
    searches = ends_badly(monkeypatch, pipeline, **how)
    planned = plan_round(stat_round("BC", "CBC"), SolveParams(effort="quick", wish=wish))
    assert len(searches) == (1 if wish is None else 2)
    assert (planned.hit_wall_guard, planned.was_interrupted) == (True, True)
    codes = [finding.code for finding in planned.findings]
    assert [codes.count(code) for code in ("solver-trouble", "stopped-early", "wall-clock-guard")] == [1, 1, 1]


@pytest.mark.slow
@pytest.mark.parametrize("module", [pipeline, regrouping])
def test_search_before_visits_were_changed_was_ended_by_the_clock(monkeypatch: pytest.MonkeyPatch, module: Any) -> None:
    searches = ends_badly(monkeypatch, module, hit_wall_guard=True)
    planned = plan_round(stat_round("BC", "LACT"), SolveParams(effort="quick"))
    assert searches
    assert sum(len(route.visits) for route in planned.plan.routes) == 2
    assert planned.hit_wall_guard


def test_trial_of_other_visits_that_was_stopped_by_hand_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    searches = ends_badly(monkeypatch, regrouping, was_interrupted=True)
    planned = plan_round(stat_round("BC", "LACT"), SolveParams(effort="quick"))
    assert searches
    assert planned.was_interrupted
