"""Says something of a round by mistake, and takes it back."""

from __future__ import annotations

from collections.abc import Sequence

from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Change
from planner.domain.revisions.reported import Reported
from planner.replanning.next_problem import NextProblem, next_problem
from planner.replanning.remake import Made, taken_back
from tests.three_wards import plan_quickly


def all_undone(
    of: tuple[Problem, Plan], said_s: int, now_s: int, reports: Sequence[Reported], changes: Sequence[Change] = ()
) -> NextProblem:
    """Return the round at ``now_s`` after what was said at ``said_s`` is taken back."""
    wrong = next_problem(*of, parent=1, now_s=said_s, reports=reports, changes=changes)
    assert not wrong.refused
    made = {1: Made(problem=of[0], plan=of[1])}
    made[2] = Made(problem=wrong.problem, plan=plan_quickly(wrong.problem).plan)
    return next_problem(*of, parent=2, now_s=now_s, taken_back=taken_back(made, 2, 1))
