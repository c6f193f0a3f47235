"""What is said of the visits of a plan."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from planner.checker import check_plan
from planner.domain.catalogue import DoseRule
from planner.domain.orders import Order, Priority
from planner.domain.policy import TransfusionPolicy
from planner.domain.problem import Problem
from planner.exporters.terminal.summary import summary_data, summary_lines
from planner.exporters.view.build import build_view
from planner.findings import to_decide
from planner.library.planning import asks_for_person
from planner.loaders.catalogue.load import load_catalogue
from planner.pipeline import PlannedRound, plan_round
from planner.solving.params import SolveParams
from planner.visits import order_windows
from tests.builders import (
    clock,
    make_catalogue,
    make_order,
    make_patient,
    make_problem,
    make_test,
    make_ward,
)
from tests.three_wards import five_ward_tables, load_tables, plan_quickly

pytestmark = pytest.mark.slow

HELD = DoseRule(kind="post_dose", from_s=4 * 3600, holds_stat=True)


def planned(**order: Any) -> PlannedRound:
    """Return the round of one order for the test X, which is held for four hours from a stated dose."""
    problem = make_problem(
        [make_order(test="X", **order)], catalogue=make_catalogue(extra_tests=[make_test("X", dose_rule=HELD)])
    )
    return plan_round(problem, SolveParams(effort="quick"))


def test_stat_that_its_rule_holds_needs_a_decision() -> None:
    outcome = planned(priority=Priority.STAT, last_dose_s=clock("02:00"))
    (finding,) = [f for f in outcome.findings if f.code == "stat-held"]
    assert "06:00" in finding.message
    assert finding.order_ids == ("O1",)
    assert asks_for_person(outcome.plan.unplanned, outcome.findings)


def test_nothing_is_said_of_a_stat_that_is_not_held() -> None:
    for order in (
        {"priority": Priority.STAT},  # no time is stated: drawn now
        {"priority": Priority.STAT, "last_dose_s": clock("00:30")},  # the four hours are over
        {"priority": Priority.ROUTINE, "last_dose_s": clock("02:00")},
    ):
        outcome = planned(**order)
        assert "stat-held" not in [f.code for f in outcome.findings]
        assert not asks_for_person(outcome.plan.unplanned, outcome.findings)


def two_wards(*orders: Order) -> Problem:
    """Two patients in beds of one number, on two wards."""
    places = [replace(place, label="3A") if place.id in ("B1", "B2") else place for place in make_ward()]
    places = [replace(place, ward="Heron") if place.id == "B2" else place for place in places]
    patients = [make_patient("P1", "B1"), make_patient("P2", "B2", ward="Heron")]
    return make_problem(orders, patients, places=places)


def test_every_merge_is_printed_with_ward_and_bed() -> None:
    problem = two_wards(
        make_order("O1", "P1"), make_order("O2", "P2"), make_order("O3", "P2"), make_order("O4", "P2", test="BMP")
    )
    outcome = plan_round(problem, SolveParams(effort="quick"))
    (finding,) = [f for f in outcome.findings if f.code == "orders-merged"]
    assert finding.order_ids == ("O2", "O3")
    assert "bed Heron 3A: one draw of CBC serves orders O2, O3" in finding.message
    printed = " ".join(" ".join(summary_lines(problem, outcome.plan)).split())
    assert "one draw of CBC serves orders O2, O3" in printed
    assert summary_data(problem, outcome.plan)["merged_orders"] == [
        {"test": "CBC", "patient_number": "P2", "order_numbers": ["O2", "O3"]}
    ]
    view = build_view(problem, outcome.plan, order_windows(problem)[0], revision=1, findings=outcome.findings)
    assert len([line for line in view.checks if "serves orders O2, O3" in line.text]) == 1


def test_two_samples_for_the_blood_bank_are_two_punctures_and_said() -> None:
    problem = make_problem([make_order("O1", test="XM"), make_order("O2", test="XM"), make_order("O3")])
    outcome = plan_round(problem, SolveParams(effort="quick"))
    visits = [visit for route in outcome.plan.routes for visit in route.visits]
    assert sorted(visit.order_ids for visit in visits) == [("O1", "O3"), ("O2",)]
    (finding,) = [f for f in outcome.findings if f.code == "second-sample-planned"]
    assert finding.order_ids == ("O1", "O2")
    view = build_view(problem, outcome.plan, order_windows(problem)[0], revision=1)
    cards = [visit for route in view.routes for visit in route.visits]
    cards = sorted(cards, key=lambda card: card.draw_at)
    last = "label before you leave, never share a tube or a label"
    one, two = (f"sample {n} {card.draw_at} by you" for n, card in enumerate(cards, start=1))
    assert f"XM: SAMPLE 1 of 2 ({two}): {last}" in cards[0].alerts
    assert f"XM: SAMPLE 2 of 2 ({one}): another identity check, better another person; {last}" in cards[1].alerts


@pytest.mark.parametrize("is_allowed", [False, True])
def test_second_sample_is_drawn_by_another_person_where_one_is_there(tmp_path: Path, is_allowed: bool) -> None:
    # One bed: who comes at 05:00 would have drawn both samples long before the other one comes at 06:30.
    tables = five_ward_tables()
    tables["staff"] = [tables["staff"][0], tables["staff"][1] | {"from": "06:30"}]
    tables["orders"] = []
    for n in (1, 2):
        more = {"order_number": f"X{n}", "patient_number": "N0401", "test": "TS", "priority": "routine"}
        tables["orders"].append(more)
    problem = load_tables(tables, tmp_path / "round")
    policy = TransfusionPolicy(one_person_may_draw_both=is_allowed)
    problem = replace(problem, policy=replace(problem.policy, transfusion=policy))
    planned = plan_quickly(problem)
    drawn_by = {o: r.phlebotomist for r in planned.plan.routes for v in r.visits for o in v.order_ids}
    assert (drawn_by["X1"] == drawn_by["X2"]) is is_allowed
    view = build_view(problem, planned.plan, order_windows(problem)[0], revision=1)
    cards = [(route.name, card) for route in view.routes for card in route.visits]
    (first, one), (second, two) = sorted(cards, key=lambda entry: entry[1].draw_at)
    by = ("you", "you") if is_allowed else (second, first)
    assert any(f"SAMPLE 1 of 2 (sample 2 {two.draw_at} by {by[0]})" in alert for alert in one.alerts)
    assert any(f"SAMPLE 2 of 2 (sample 1 {one.draw_at} by {by[1]})" in alert for alert in two.alerts)
    assert planned.plan.unplanned == ()


@pytest.mark.parametrize(("is_allowed", "codes"), [(False, ["second-sample-by-one-person"]), (True, [])])
def test_both_samples_by_one_person_need_a_decision_unless_the_policy_allows_it(
    tmp_path: Path, is_allowed: bool, codes: list[str]
) -> None:
    # Five wards with equal beds: only the patient of North [stair] 1A has two samples, those of the same name have one.
    tables = five_ward_tables()
    tables["staff"] = tables["staff"][:1]
    for number, test in (("N0401", "TS"), ("N0401", "TS"), ("H0101", "TS"), ("K0201", "TS")):
        n = len(tables["orders"])
        tables["orders"].append({"order_number": f"T{n}", "patient_number": number, "test": test, "priority": "urgent"})
    problem = load_tables(tables, tmp_path / "round")
    policy = TransfusionPolicy(one_person_may_draw_both=is_allowed)
    problem = replace(problem, policy=replace(problem.policy, transfusion=policy))
    planned = plan_quickly(problem)
    found = [f for f in planned.findings if f.code == "second-sample-by-one-person"]
    assert [f.code for f in found] == codes
    assert [f.code for f in to_decide(planned.findings)] == codes
    assert all("bed North [stair] 1A: IS draws both samples" in f.message for f in found)
    report = check_plan(problem, planned.plan)
    assert report.is_clean
    assert report.codes() == codes, "the checker finds it by itself"
    told = build_view(problem, planned.plan, order_windows(problem)[0], revision=1, findings=planned.findings)
    cards = [" ".join(v.alerts) for r in told.routes for v in r.visits if v.bed == "North [stair] 1A"]
    assert ["better another person" in words for words in cards] == [False, not is_allowed]


def test_second_sample_by_its_own_test_is_another_puncture() -> None:
    # The row of ABO2 says: another puncture, never from the first draw.
    orders = [make_order("O1", test="TS"), make_order("O2", test="ABO2"), make_order("O3")]
    problem = make_problem(orders, catalogue=load_catalogue()[0])
    outcome = plan_round(problem, SolveParams(effort="quick"))
    visits = sorted(v.order_ids for route in outcome.plan.routes for v in route.visits)
    assert len(visits) == 2 and not any({"O1", "O2"} <= set(ids) for ids in visits)


def test_two_culture_orders_are_two_sets_and_no_merge() -> None:
    problem = make_problem([make_order("O1", test="BC"), make_order("O2", test="BC")])
    outcome = plan_round(problem, SolveParams(effort="quick"))
    (visit,) = [visit for route in outcome.plan.routes for visit in route.visits]
    assert {planned.tube.site for planned in visit.tubes} == {1, 2}
    assert "orders-merged" not in [f.code for f in outcome.findings]
