"""Where a patient lies now is said to whoever had them and to whoever goes; five wards with equal bed numbers."""

from __future__ import annotations

import csv
import io

import pytest

from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Moved
from planner.domain.revisions.reported import Reported
from planner.exporters.specimens import specimens_csv
from planner.exporters.view.context import ViewContext
from planner.exporters.view.notes.changes import NoteKind
from planner.exporters.view.routes import route_view
from planner.exporters.view.texts import TextCleaner
from planner.replanning.next_problem import next_problem
from planner.visits.windows import order_windows
from tests.builders import clock
from tests.replan_builders import TWO, five_wards, make_drawn_tube, make_handover, make_plan, make_visit

AB, CD = 0, 1
OLD, NEW = "Juniper 1A", "Kestrel 2A"
"""Four more wards have such beds."""
MOVE = Moved(bed=OLD, to=NEW)


def moved(by: int, *reports: Reported) -> tuple[Problem, Plan]:
    """Return the revision of 05:30: P2, whom AB was to draw at 05:50 in Juniper 1A, lies in Kestrel 2A."""
    problem, _ = five_wards(staff=TWO)
    plan = make_plan([make_visit(problem, ["O2"], "05:50")], [make_visit(problem, ["O4"], "05:40")])
    made = next_problem(problem, plan, parent=1, now_s=clock("05:30"), reports=reports, changes=[MOVE])
    assert not made.refused
    visits = [[], [make_visit(made.problem, ["O4"], "05:40")]]
    visits[by].append(make_visit(made.problem, ["O2"], "06:10"))
    assert made.problem.replan is not None
    pasts = made.problem.replan.past
    return made.problem, make_plan(*([*past.stops, *mine] for past, mine in zip(pasts, visits, strict=True)))


def said(problem: Problem, plan: Plan, person: int, kind: NoteKind) -> list[str]:
    context = ViewContext(problem, plan, order_windows(problem)[0], TextCleaner())
    route = next(route for route in plan.routes if route.phlebotomist == person)
    return [line.text for line in route_view(context, route).note if line.kind is kind]


def test_who_had_the_patient_hears_where_they_are_and_who_goes_to_that_bed() -> None:
    (text,) = said(*moved(CD), AB, NoteKind.LEAVE_OUT)
    assert text.startswith(f"Leave out bed {OLD}, ")
    assert f"The patient lies in bed {NEW} now; Carl Dee-Dale goes to that bed." in text
    assert "goes there" not in text


def test_who_goes_hears_where_the_patient_was() -> None:
    (text,) = said(*moved(CD), CD, NoteKind.GO)
    assert f"go to bed {NEW}" in text
    assert f"until now in bed {OLD}" in text


@pytest.mark.parametrize("outcome", [Outcome.AWAY, Outcome.UNSUCCESSFUL])
def test_who_was_refused_or_failed_hears_in_which_bed_it_is_tried_again(outcome: Outcome) -> None:
    report = Reported(
        order_ids=make_visit(five_wards(staff=TWO)[0], ["O2"]).order_ids,
        draw_id=make_visit(five_wards(staff=TWO)[0], ["O2"]).draw_id,
        outcome=outcome,
        is_by_itself=True,
        at_s=clock("05:29"),
    )
    (text,) = said(*moved(CD, report), AB, NoteKind.LEAVE_OUT)
    assert f"Leave out bed {OLD}, " in text
    assert f"The patient lies in bed {NEW} now" in text
    assert "Carl Dee-Dale goes to that bed, to draw at 06:10" in text


def test_specimens_carry_ward_and_bed_of_now() -> None:
    problem, _ = five_wards(staff=TWO)
    tube = make_drawn_tube(["CBC"], ["O2"], "EDTA")
    plan = make_plan([make_visit(problem, ["O2"], "05:10", tubes=[(tube, 1)]), make_handover("SHELF")], [])
    report = Reported(
        order_ids=plan.routes[0].visits[0].order_ids,
        draw_id=plan.routes[0].visits[0].draw_id,
        outcome=Outcome.COLLECTED,
        at_s=clock("05:10"),
    )
    made = next_problem(problem, plan, parent=1, now_s=clock("05:56"), reports=[report], changes=[MOVE]).problem
    assert made.replan is not None
    done = make_plan(*(past.stops for past in made.replan.past))
    assert [stop.place for stop in done.routes[0].stops if isinstance(stop, Visit)] == ["Juniper/1A"]
    (row,) = csv.DictReader(io.StringIO(specimens_csv(made, done).decode("utf-8-sig")))
    assert (row["ward"], row["bed"]) == ("Kestrel", NEW)
