"""A draw reported at a time at which its specimen may not count: it stays drawn, and a person asks the laboratory."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.orders import Priority
from planner.domain.plan import Outcome, Plan
from planner.domain.problem import Problem
from planner.domain.revisions.reported import Reported
from planner.findings import Severity
from planner.replanning.next_problem import NextProblem, next_problem
from tests.builders import clock, make_order
from tests.replan_builders import five_wards, make_plan, make_visit


def asked_for(**order: object) -> tuple[Problem, Plan]:
    """Return five wards in which the patient of Juniper 1A has an order of her own, drawn at 05:35."""
    problem, _plan = five_wards()
    problem = replace(problem, orders=(problem.orders[0], make_order("O2", "P2", **order)))
    visits = [make_visit(problem, ["O1"], "05:10"), make_visit(problem, ["O2"], "05:35")]
    return problem, make_plan(visits)


def told(of: tuple[Problem, Plan], at: str, outcome: Outcome = Outcome.COLLECTED) -> NextProblem:
    visit = of[1].routes[0].visits[1]
    report = Reported(order_ids=visit.order_ids, draw_id=visit.draw_id, outcome=outcome, at_s=clock(at))
    return next_problem(*of, parent=1, now_s=clock("07:30"), reports=[report])


SPAN = {"collect_from_s": clock("05:30"), "collect_to_s": clock("05:45")}
"""Kept from its begin on; past its end the draw is late, and given up after the policy's minutes."""


@pytest.mark.parametrize(
    ("order", "at", "said"),
    [
        (SPAN, "05:29", ["drawn at 05:29", "before 05:30 (the time the order asks for)", "Juniper 1A"]),
        (SPAN, "05:30", []),
        (SPAN, "07:20", ["drawn at 07:20", "after "]),
        ({}, "05:05", []),
    ],
    ids=["early", "first-second", "given-up", "no-window"],
)
def test_draw_outside_its_window_is_kept_and_asked_about(order: dict[str, object], at: str, said: list[str]) -> None:
    following = told(asked_for(**order), at)
    found = [f for f in following.findings if f.code == "drawn-outside"]
    assert [f.order_ids for f in found] == ([("O2",)] if said else [])
    assert all(words in found[0].message for words in said)
    assert all(f.severity is Severity.WARNING for f in found)
    past = following.problem.replan.past[0].stops if following.problem.replan else ()
    assert ("O2",) in [stop.order_ids for stop in past if hasattr(stop, "order_ids")]  # what happened is recorded


def test_fast_that_was_not_whole_is_asked_about() -> None:
    """A draw in fasting comes so many hours after the last meal (rule `fasting` of the rule book)."""
    problem, plan = asked_for(fasting=True)
    patient = replace(problem.patients["P2"], last_ate_s=clock("05:30") - problem.policy.windows.default_fast_s)
    of = replace(problem, patients={**problem.patients, "P2": patient}), plan
    (found,) = (f for f in told(of, "05:20").findings if f.code == "drawn-outside")
    assert "before 05:30 (fasting" in found.message


@pytest.mark.parametrize("outcome", [Outcome.REFUSED, Outcome.AWAY, Outcome.UNSUCCESSFUL])
def test_attempt_without_blood_is_never_outside(outcome: Outcome) -> None:
    assert "drawn-outside" not in [f.code for f in told(asked_for(**SPAN), "05:20", outcome).findings]


def test_stat_that_fasting_does_not_hold_is_never_outside_for_it() -> None:
    problem, plan = asked_for(fasting=True, priority=Priority.STAT)
    patient = replace(problem.patients["P2"], last_ate_s=clock("05:00"))
    of = replace(problem, patients={**problem.patients, "P2": patient}), plan
    assert "drawn-outside" not in [f.code for f in told(of, "05:20").findings]
