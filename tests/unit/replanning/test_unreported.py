"""What nobody reported: too many visits that count as done, stat draws that are due, tubes drawn in part."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.orders import OrderId, Priority
from planner.domain.plan import Outcome, Plan, Reason, Unplanned
from planner.domain.policy import Policy
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past, Replan
from planner.domain.revisions.reported import Reported
from planner.replanning.addons.late import late_partials
from planner.replanning.next_problem import NextProblem, next_problem
from tests.builders import clock
from tests.replan_builders import five_wards, make_drawn_tube, make_handover, make_plan, make_visit

NOW_S = clock("05:42")


def replanned(of: tuple[Problem, Plan], *reports: Reported) -> NextProblem:
    return next_problem(*of, parent=1, now_s=NOW_S, reports=reports)


def codes(following: NextProblem) -> list[str]:
    return [finding.code for finding in following.findings]


@pytest.mark.parametrize(("limit", "found"), [(5, []), (4, ["assumed-done"]), (0, ["assumed-done"])])
def test_more_assumptions_than_the_policy_allows_are_asked_about(limit: int, found: list[str]) -> None:
    policy = Policy()
    policy = replace(policy, replan=replace(policy.replan, assumed_done_limit=limit))
    following = replanned(five_wards(policy=policy))
    assert codes(following) == found
    if found:
        assert "AB Heron 1A, Juniper 1A, Larch (north) 1A" in following.findings[0].message


def test_what_is_reported_is_no_assumption() -> None:
    policy = Policy()
    policy = replace(policy, replan=replace(policy.replan, assumed_done_limit=0))
    problem, plan = five_wards(policy=policy)
    reports = [
        Reported(order_ids=v.order_ids, draw_id=v.draw_id, outcome=Outcome.COLLECTED) for v in plan.routes[0].visits
    ]
    assert codes(replanned((problem, plan), *reports)) == []


def test_due_stat_that_nobody_reported_is_to_come_and_asked_about() -> None:
    problem, plan = five_wards()
    orders = tuple(replace(o, priority=Priority.STAT) if o.id == "O2" else o for o in problem.orders)
    following = replanned((replace(problem, orders=orders), plan))
    assert [(f.code, f.order_ids) for f in following.findings] == [("stat-unreported", ("O2",))]
    assert "Juniper 1A" in following.findings[0].message
    assert [order.id for order in following.problem.open_orders] == ["O2"]
    assert following.problem.replan is not None
    assert [visit.order_ids for visit in following.problem.replan.promised] == [("O2",)]


def test_orders_of_a_visit_of_which_only_others_are_reported_are_named() -> None:
    problem, _plan = five_wards()
    more = replace(problem.orders[0], id=OrderId("O9"), test=problem.orders[0].test)
    problem = replace(problem, orders=(*problem.orders, more))
    tubes = [(make_drawn_tube(["CBC"], ["O1"]), None), (make_drawn_tube(["CBC"], ["O9"], draw_position=2), None)]
    plan = make_plan([make_visit(problem, ["O1", "O9"], "05:10", tubes=tubes)])
    visit = plan.routes[0].visits[0]
    told = Reported(order_ids=(OrderId("O1"),), draw_id=visit.draw_id, outcome=Outcome.COLLECTED)
    following = replanned((problem, plan), told)
    assert [(f.code, f.order_ids) for f in following.findings] == [("report-incomplete", ("O9",))]
    assert OrderId("O9") in {order.id for order in following.problem.open_orders}


@pytest.mark.parametrize(("arrival", "found"), [("05:20", []), ("05:26", ["partial-too-old"])])
def test_tube_of_a_partial_draw_past_its_limit_says_what_to_do(arrival: str, found: list[str]) -> None:
    # drawn at 05:10 and good for 15 minutes: in the laboratory by 05:25 at the latest
    problem, _plan = five_wards()
    tube = make_drawn_tube(["CBC"], ["O1"], stability_s=900)
    visit = make_visit(problem, ["O1"], "05:10", tubes=[(tube, 1)])
    visit = replace(visit, outcome=Outcome.PARTIAL, order_ids=(), tried=(OrderId("O1"),))
    listed = Unplanned(order_id=OrderId("O1"), reason=Reason.PARTLY_DRAWN, detail="")
    past = Past(phlebotomist=0, stops=(visit,), place=visit.place, free_s=NOW_S)
    replan = Replan(parent=1, now_s=NOW_S, past=(past,))
    problem = replace(problem, orders=problem.orders[1:], set_aside=(listed,), replan=replan)
    plan = make_plan([visit, make_handover("SHELF", arrival=arrival)])
    findings = list(late_partials(problem, plan))
    assert [finding.code for finding in findings] == found
    assert all("Heron 1A" in f.message and "discard" in f.message for f in findings)


def test_tube_of_a_partial_draw_that_nobody_can_give_away_says_what_to_do() -> None:
    problem, _plan = five_wards()
    visit = make_visit(problem, ["O1"], "05:10", tubes=[(make_drawn_tube(["CBC"], ["O1"]), None)])
    visit = replace(visit, outcome=Outcome.PARTIAL, order_ids=(), tried=(OrderId("O1"),))
    listed = Unplanned(order_id=OrderId("O1"), reason=Reason.PARTLY_DRAWN, detail="")
    past = Past(phlebotomist=0, stops=(visit,), place=visit.place, free_s=NOW_S)
    replan = Replan(parent=1, now_s=NOW_S, past=(past,))
    problem = replace(problem, orders=problem.orders[1:], set_aside=(listed,), replan=replan)
    assert [f.code for f in late_partials(problem, make_plan([visit]))] == ["partial-too-old"]
