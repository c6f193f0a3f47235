"""A stat that was due, and that nobody reported, is drawn with nothing that was not to be drawn with it (rule
``unanswered-stat``): whoever has drawn it leaves that visit out, and the other would be left out with it.

Five wards with equal bed numbers; Juniper 1A (P2) has the stat.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.checker import check_plan
from planner.domain.orders import OrderId, Priority
from planner.domain.plan import Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Change, NeverCame, NewOrders
from planner.replanning.next_problem import next_problem
from planner.visits import group_into_visits, order_windows
from tests.builders import clock, make_order
from tests.replan_builders import TWO, five_wards, make_plan, make_visit

STAT, SHARED, OTHER = OrderId("O2"), OrderId("O9"), OrderId("O8")


def a_round(*, is_stat: bool = True) -> tuple[Problem, Plan]:
    """AB is to draw O2 and the routine O9 at P2 in one visit at 05:11."""
    problem, plan = five_wards(staff=TWO)
    priority = Priority.STAT if is_stat else Priority.ROUTINE
    orders = tuple(replace(o, priority=priority) if o.id == STAT else o for o in problem.orders)
    problem = replace(problem, orders=(*orders, make_order(SHARED, "P2", "BMP")))
    shared = make_visit(problem, [STAT, SHARED], "05:11")
    return problem, make_plan([shared if v.patient_id == "P2" else v for v in plan.routes[0].visits], [])


def replanned(of: tuple[Problem, Plan], now: str, *changes: Change) -> Problem:
    new = NewOrders(orders=(make_order(OTHER, "P2", "PT"),))
    return next_problem(*of, parent=1, now_s=clock(now), changes=(new, *changes)).problem


def groups(problem: Problem) -> list[set[str]]:
    windows, _unplanned = order_windows(problem)
    return sorted(
        ({o.id for o in r.orders} for r in group_into_visits(problem, windows) if r.patient_id == "P2"), key=min
    )


def test_what_was_ordered_later_is_a_visit_of_its_own() -> None:
    assert groups(replanned(a_round(), "05:20")) == [{STAT, SHARED}, {OTHER}]


def test_it_stays_so_at_later_revisions() -> None:
    problem = replanned(a_round(), "05:20")
    coming = [make_visit(problem, [STAT, SHARED], "05:30"), make_visit(problem, [OTHER], "05:40", draw_id="P2#7")]
    assert problem.replan is not None
    plan = make_plan([*problem.replan.past[0].stops, *coming], [])
    later = next_problem(problem, plan, parent=2, now_s=clock("05:35")).problem
    assert groups(later) == [{STAT, SHARED}, {OTHER}]


@pytest.mark.parametrize(
    ("is_stat", "now", "changes"),
    [
        (True, "05:05", ()),  # not due yet
        (True, "05:20", (NeverCame(name="AB"),)),  # nobody can have drawn it
    ],
)
def test_else_they_share(is_stat: bool, now: str, changes: tuple[Change, ...]) -> None:
    assert groups(replanned(a_round(is_stat=is_stat), now, *changes)) == [{STAT, SHARED, OTHER}]


def broken(problem: Problem, *visits: Visit) -> list[tuple[str, ...]]:
    assert problem.replan is not None
    plan = make_plan([*problem.replan.past[0].stops, *visits], [])
    return [f.order_ids for f in check_plan(problem, plan) if f.code == "unanswered-stat"]


def test_checker_holds_it() -> None:
    problem = replanned(a_round(), "05:20")
    apart = [make_visit(problem, [STAT, SHARED], "05:30"), make_visit(problem, [OTHER], "05:40", draw_id="P2#7")]
    assert broken(problem, *apart) == []
    assert broken(problem, make_visit(problem, [STAT, SHARED, OTHER], "05:30")) == [(STAT, SHARED, OTHER)]
    absent = replanned(a_round(), "05:20", NeverCame(name="AB"))
    assert broken(absent, make_visit(absent, [STAT, SHARED, OTHER], "05:30")) == []
