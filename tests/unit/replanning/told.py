"""A ward in the middle of its round, and changes told to it as options are."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from planner.domain.plan import Outcome, Plan
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Change
from planner.domain.revisions.events import ListRead
from planner.domain.revisions.replan import Replan
from planner.exporters.view.notes.event_words import event_words
from planner.loaders.during.shorthand import PARSERS
from planner.replanning.changes.apply import Changed, apply_changes
from tests.builders import (
    clock,
    make_order,
    make_phlebotomist,
    make_problem,
)
from tests.replan_builders import make_plan, make_visit

NOW_S = clock("05:42")
STAFF = (make_phlebotomist("AB", name="Ann Bell"), make_phlebotomist("CD", name="Carl Dee-Dale", from_s=clock("06:00")))


def ward_round(**changes: Any) -> tuple[Problem, Plan]:
    """B1: P1 with O1 (drawn at 05:10); B2: P2 with O2 (due at 06:00); B3: P3 with O3, O4 (06:10); B4 is empty."""
    orders = [make_order("O1", "P1"), make_order("O2", "P2"), make_order("O3", "P3"), make_order("O4", "P3", "BMP")]
    problem = make_problem(orders, staff=STAFF, **changes)
    visits = [
        make_visit(problem, ["O1"], "05:10", outcome=Outcome.COLLECTED),
        make_visit(problem, ["O2"], "06:00"),
        make_visit(problem, ["O3", "O4"], "06:10"),
    ]
    return problem, make_plan(visits, [])


def tell(*texts: str | Change, of: tuple[Problem, Plan] | None = None, now: str = "05:42") -> Changed:
    """Apply changes, given as values or as 'option text'."""
    problem, plan = of or ward_round()
    changes = [PARSERS[t.split(" ", 1)[0]](t.split(" ", 1)[1]) if isinstance(t, str) else t for t in texts]
    return apply_changes(problem, plan, changes, clock(now))


def next_revision(changed: Changed, plan: Plan) -> tuple[Problem, Plan]:
    """The changed round as the parent of another revision."""
    before = changed.problem.replan.log if changed.problem.replan else ()
    replan = Replan(parent=1, now_s=NOW_S, events=changed.events, log=(*before, *changed.events), past=())
    return replace(changed.problem, replan=replan), plan


def given(changed: Changed) -> tuple[str, ...]:
    """What was applied, in words; that a list was read is left out."""
    return event_words(changed.problem, [event for event in changed.events if not isinstance(event.what, ListRead)])


def codes(changed: Changed) -> list[str]:
    return [f.code for f in changed.findings]
