"""What a replanned round takes for granted is said at every revision, with the beds: who is asked can correct it."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.orders import Order
from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.reported import Reported
from planner.exporters.terminal.replan_summary import replan_data, replan_lines
from planner.exporters.view.build import build_view
from planner.exporters.workbook.changes import given_words
from planner.replanning.next_problem import next_problem
from tests.builders import clock, make_order, make_problem
from tests.replan_builders import make_plan, make_visit

ORDERS: list[Order] = [make_order(f"O{n}", f"P{n}") for n in range(1, 5)]


def planned() -> tuple[Problem, Plan]:
    """A round of four beds, drawn at 05:10, 05:20, 05:30 and 05:50; each stay ends 2 min 45 s after its draw."""
    problem = make_problem(ORDERS)
    times = {"O1": "05:10", "O2": "05:20", "O3": "05:30", "O4": "05:50"}
    return problem, make_plan([make_visit(problem, [o], at) for o, at in times.items()])


def gone_on(
    problem: Problem, plan: Plan, now: str, told: list[Visit], *, is_by_itself: bool = False
) -> tuple[Problem, Plan]:
    """Return the next revision, the visits to come as they were."""
    reports = [
        Reported(order_ids=v.order_ids, draw_id=v.draw_id, outcome=Outcome.COLLECTED, is_by_itself=is_by_itself)
        for v in told
    ]
    following = next_problem(problem, plan, parent=1, now_s=clock(now), reports=reports).problem
    assert following.replan is not None
    past = following.replan.past[0].stops
    begun = {s.draw_id for s in past if isinstance(s, Visit)}
    coming = tuple(v for v in plan.routes[0].visits if v.draw_id not in begun)
    return following, replace(plan, routes=(replace(plan.routes[0], stops=(*past, *coming)),))


def rows(problem: Problem, plan: Plan) -> str:
    return " ".join(" ".join(replan_lines(problem, plan, {})).split())


def test_what_is_only_assumed_is_said_again_at_the_next_revision() -> None:
    problem, plan = planned()
    second = gone_on(problem, plan, "05:29", [])
    assert "Only assumed AB: beds B1, B2 done, at bed B3 now" in rows(*second)
    # Bed 3 is told now, by itself; of beds 1 and 2 nobody has said anything yet.
    third = gone_on(*second, "05:40", [second[1].routes[0].visits[2]], is_by_itself=True)
    assert "Only assumed AB: beds B1, B2 done Stops" in rows(*third)
    # All three told: nothing is assumed any more.
    last = gone_on(*third, "05:41", list(third[1].routes[0].visits[:2]))
    assert "Only assumed" not in rows(*last)
    assert replan_data(*last, {})["only_assumed"] == []


def test_what_was_assumed_and_is_not_on_a_list_is_asked_about() -> None:
    second = gone_on(*planned(), "05:29", [])
    third = gone_on(*second, "05:40", [second[1].routes[0].visits[2]])
    assert "Only assumed" not in rows(*third)
    assert "Due, not told AB: bed B1 (05:10), bed B2 (05:20): planned as still to come" in rows(*third)


def test_visits_due_and_not_told_are_named_where_others_of_hers_were_told() -> None:
    # Only bed 3 is told; so beds 1 and 2, due before it, are to come: whoever forgot to tell them has them drawn twice.
    problem, plan = planned()
    second = gone_on(problem, plan, "05:40", [plan.routes[0].visits[2]])
    assert "Due, not told AB: bed B1 (05:10), bed B2 (05:20): planned as still to come" in rows(*second)
    assert replan_data(*second, {})["due_not_told"] == ["AB: bed B1 (05:10), bed B2 (05:20)"]


def test_the_sheet_says_it_too() -> None:
    problem, plan = planned()
    view = build_view(*gone_on(problem, plan, "05:40", [plan.routes[0].visits[2]]), {}, revision=2)
    assert view.replan is not None
    assert "Due, not told: AB: bed B1 (05:10), bed B2 (05:20); planned as still" in given_words(view.replan)
    view = build_view(*gone_on(problem, plan, "05:29", []), {}, revision=2)
    assert view.replan is not None
    assert "Only assumed: AB: beds B1, B2 done, at bed B3 now." in given_words(view.replan)
