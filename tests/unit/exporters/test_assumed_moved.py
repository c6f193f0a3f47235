"""A patient who is moved and only counts as drawn: whoever was to draw them is asked, once. Equal bed numbers."""

from __future__ import annotations

import pytest

from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Change, Moved
from planner.domain.revisions.reported import Reported
from planner.exporters.terminal.replan_short import short_lines
from planner.exporters.view.context import ViewContext
from planner.exporters.view.notes.changes import NoteKind
from planner.exporters.view.routes import route_view
from planner.exporters.view.texts import TextCleaner
from planner.replanning.next_problem import next_problem
from planner.visits.windows import order_windows
from tests.builders import clock
from tests.replan_builders import TWO, five_wards, make_plan, make_visit

AB, CD = 0, 1
OLD, NEW = "Juniper 1A", "Kestrel 2A"
"""Four more wards have such beds."""
MOVE = Moved(bed=OLD, to=NEW)


def begun() -> tuple[Problem, Plan]:
    """Return the first revision: P2 in Juniper 1A is AB's at 05:20, others are drawn before and after."""
    problem, _ = five_wards(staff=TWO)
    due = [make_visit(problem, [f"O{n}"], draw) for n, draw in ((1, "05:10"), (2, "05:20"), (3, "06:20"))]
    return problem, make_plan(due, [make_visit(problem, ["O4"], "05:12"), make_visit(problem, ["O5"], "06:25")])


def after(
    of: tuple[Problem, Plan], now: str, *changes: Change, reports: tuple[Reported, ...] = (), parent: int = 1
) -> tuple[Problem, Plan]:
    """Return the next revision, in which everybody walks on."""
    made = next_problem(*of, parent=parent, now_s=clock(now), changes=changes, reports=reports)
    assert not made.refused
    assert made.problem.replan is not None
    gone = {visit.draw_id for visit in made.problem.replan.visits}
    coming = [[v for v in r.visits if v.draw_id not in gone and v.outcome is None] for r in of[1].routes]
    pasts = made.problem.replan.past
    return made.problem, make_plan(*([*past.stops, *mine] for past, mine in zip(pasts, coming, strict=True)))


def said(problem: Problem, plan: Plan, person: int) -> list[str]:
    context = ViewContext(problem, plan, order_windows(problem)[0], TextCleaner())
    note = route_view(context, plan.routes[person]).note
    return [line.text for line in note if line.kind in (NoteKind.ASK, NoteKind.ASK_STAT)]


def test_who_counts_as_having_drawn_a_moved_patient_is_asked_and_told_where_they_lie() -> None:
    problem, plan = after(begun(), "05:40", MOVE)
    (text,) = said(problem, plan, AB)
    assert text.startswith(f"Bed {OLD}, ")
    assert "counts as drawn at 05:20, not reported" in text
    assert f"The patient lies in bed {NEW} now" in text
    assert "If you did not draw them, say so now" in text
    assert said(problem, plan, CD) == []


def test_it_is_among_the_visible_lines_of_the_answer() -> None:
    problem, plan = after(begun(), "05:40", MOVE)
    lines = short_lines(problem, plan, order_windows(problem)[0], ())
    told = " ".join(" ".join(lines).split()).partition(" Tell ")[2]
    assert f"Bed {OLD}, " in told.partition("Ann Bell")[2]


def test_who_is_taken_to_be_there_now_hears_that_the_patient_is_not() -> None:
    problem, plan = after(begun(), "05:21", MOVE)
    (text,) = said(problem, plan, AB)
    assert "you count as being there now, not reported" in text
    assert f"The patient lies in bed {NEW} now" in text


def test_nobody_is_asked_twice_nor_where_the_draw_was_reported_or_is_to_come() -> None:
    first = after(begun(), "05:40", MOVE)
    assert said(*after(first, "05:45", parent=2), AB) == []
    visit = next(v for v in begun()[1].routes[AB].visits if v.patient_id == "P2")
    assert isinstance(visit, Visit)
    report = Reported(
        order_ids=visit.order_ids,
        draw_id=visit.draw_id,
        outcome=Outcome.COLLECTED,
        at_s=visit.draw_s,
        is_by_itself=True,
    )
    assert said(*after(begun(), "05:40", MOVE, reports=(report,)), AB) == []
    assert said(*after(begun(), "05:15", MOVE), AB) == []


@pytest.mark.parametrize("other", ["Heron 1A", "Larch (north) 1A"])
def test_patient_of_the_same_bed_number_on_another_ward_is_not_asked_about(other: str) -> None:
    problem, plan = after(begun(), "05:40", Moved(bed=other, to=NEW))
    assert not any(OLD in text for person in (AB, CD) for text in said(problem, plan, person))
