"""What was reported of a visit is said back: to whose stop it was, and to whoever typed it, with bed and patient.

Five wards with equal bed numbers; two phlebotomists and two patients of one name.
"""

from __future__ import annotations

import json

import pytest

from planner.domain.catalogue import TestCode
from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Moved, StatOrders
from planner.domain.revisions.reported import Reported
from planner.exporters.terminal.replan_short import short_lines
from planner.exporters.terminal.replan_summary import replan_data
from planner.exporters.view.build import build_view
from planner.exporters.view.notes.changes import NoteKind, NoteLine
from planner.replanning.next_problem import next_problem
from planner.visits.windows import order_windows
from tests.builders import clock
from tests.three_wards import HERON, KITE, TWO_MORE, five_ward_tables, load_tables, patient_in, plan_quickly

pytestmark = pytest.mark.slow

NOW = clock("05:06")
WARD = TWO_MORE[0]
"""Four more wards have a bed 3A."""


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Problem, Plan]:
    problem = load_tables(five_ward_tables(), tmp_path_factory.mktemp("reported") / "round")
    return problem, plan_quickly(problem).plan


def stop_of(problem: Problem, plan: Plan, ward: str = WARD, bed: str = "3A") -> tuple[int, Visit]:
    """Return who visits a bed, and the visit."""
    patient = patient_in(problem, ward, bed)
    return next((r.phlebotomist, v) for r in plan.routes for v in r.visits if v.patient_id == patient.id)


def told(visit: Visit, outcome: Outcome, *, by_itself: bool = True, at_s: int | None = None) -> Reported:
    return Reported(
        order_ids=visit.order_ids, draw_id=visit.draw_id, outcome=outcome, is_by_itself=by_itself, at_s=at_s
    )


def after(planned: tuple[Problem, Plan], *reports: Reported, now_s: int = NOW) -> tuple[Problem, Plan]:
    """Return the next revision and its plan."""
    following = next_problem(*planned, parent=1, now_s=now_s, reports=reports)
    assert not following.refused
    return following.problem, plan_quickly(following.problem).plan


def left_out(problem: Problem, plan: Plan, person: int) -> list[NoteLine]:
    """Return what the note of somebody says of beds to leave out."""
    view = build_view(problem, plan, order_windows(problem)[0], revision=2)
    route = next(route for route in view.routes if route.initials == problem.staff[person].initials)
    return [line for line in route.note if line.kind is NoteKind.LEAVE_OUT]


@pytest.mark.parametrize(
    ("outcome", "words"),
    [
        (Outcome.REFUSED, "refused"),
        (Outcome.AWAY, "away"),
        (Outcome.UNIDENTIFIED, "not drawn, identity not certain"),
        (Outcome.UNSUCCESSFUL, "two attempts failed"),
        (Outcome.COLLECTED, "drawn"),
    ],
)
def test_who_had_a_stop_to_come_is_told_that_it_was_reported(
    planned: tuple[Problem, Plan], outcome: Outcome, words: str
) -> None:
    person, visit = stop_of(*planned)
    assert visit.start_s > NOW
    problem, plan = after(planned, told(visit, outcome))
    (line,) = left_out(problem, plan, person)
    patient = patient_in(problem, WARD, "3A")
    assert line.text.startswith(f"Leave out bed {WARD} 3A, {patient.family_name}, {patient.given_name}, born ")
    assert f": reported as {words}" in line.text
    assert "Nothing changes for you." not in line.text
    for other in range(len(problem.staff)):
        assert other == person or not left_out(problem, plan, other)


@pytest.mark.parametrize("outcome", [Outcome.AWAY, Outcome.UNSUCCESSFUL])
def test_who_had_the_stop_hears_who_tries_again_and_when(planned: tuple[Problem, Plan], outcome: Outcome) -> None:
    person, visit = stop_of(*planned)
    problem, plan = after(planned, told(visit, outcome))
    again, coming = next(
        (r.phlebotomist, v) for r in plan.routes for v in r.visits if set(v.order_ids) & set(visit.order_ids)
    )
    (line,) = left_out(problem, plan, person)
    who = "You go" if again == person else f"{problem.staff[again].name}"
    assert who in line.text
    assert f"at {problem.clock.format_clock(coming.draw_s)}" in line.text
    if outcome is Outcome.UNSUCCESSFUL:
        assert again != person


def test_what_somebody_reports_as_done_in_a_list_is_not_said_back_to_them(planned: tuple[Problem, Plan]) -> None:
    route = next(route for route in planned[1].routes if len(route.visits) > 1)
    first = route.visits[0]
    problem, plan = after(planned, told(first, Outcome.COLLECTED, by_itself=False), now_s=first.depart_s + 30)
    assert not left_out(problem, plan, route.phlebotomist)


def test_bed_to_come_that_a_list_reports_as_drawn_is_left_out(planned: tuple[Problem, Plan]) -> None:
    person, visit = stop_of(*planned)
    problem, plan = after(planned, told(visit, Outcome.COLLECTED, by_itself=False))
    (line,) = left_out(problem, plan, person)
    assert f"{WARD} 3A" in line.text


def test_answer_reads_back_bed_and_patient_of_what_was_typed(planned: tuple[Problem, Plan]) -> None:
    _person, visit = stop_of(*planned)
    moved = Moved(bed=f"{WARD} 1A", to=f"{HERON} 2B")
    stat = StatOrders(bed=f"{KITE} 3A", tests=(TestCode("POT"),))
    following = next_problem(
        *planned, parent=1, now_s=NOW, reports=[told(visit, Outcome.COLLECTED)], changes=[moved, stat]
    )
    assert not following.refused
    problem = following.problem
    plan = plan_quickly(problem).plan
    lines = short_lines(problem, plan, order_windows(problem)[0], [])
    text = " ".join(" ".join(lines).split())
    for ward, bed in ((WARD, "3A"), (WARD, "1A"), (KITE, "3A")):
        patient = patient_in(planned[0], ward, bed)
        assert f"bed {ward} {bed}" in text
        assert f"({patient.family_name}, {patient.given_name}, born " in text
    data = json.dumps(replan_data(problem, plan, order_windows(problem)[0])["told"])
    assert not [patient for patient in problem.patients.values() if patient.family_name in data]


def test_what_is_ordered_for_somebody_who_refused_says_so_first(planned: tuple[Problem, Plan]) -> None:
    """A stat may be worth another question; who goes there knows that the answer was no."""
    _person, visit = stop_of(*planned)
    at_s = NOW - 60
    first = after(planned, told(visit, Outcome.REFUSED, at_s=at_s))
    stat = StatOrders(bed=f"{WARD} 3A", tests=(TestCode("POT"),))
    following = next_problem(*first, parent=2, now_s=NOW + 60, changes=[stat])
    assert not following.refused
    problem, plan = following.problem, plan_quickly(following.problem).plan
    view = build_view(problem, plan, order_windows(problem)[0], revision=3)
    patient, when = patient_in(problem, WARD, "3A"), problem.clock.format_clock(at_s)
    lines = [line.text for route in view.routes for line in route.note if "go to bed" in line.text]
    (line,) = [text for text in lines if f"go to bed {WARD} 3A, {patient.family_name}" in text]
    assert f", who refused at {when} (ask again first): " in line
    cards = [visit for route in view.routes for visit in route.visits]
    (asked,) = [card for card in cards if any("Refused" in ask for ask in card.ask)]
    assert asked.bed == f"{WARD} 3A"
    assert asked.ask[0] == f"Refused at {when}: agrees now? If not, do not draw; tell the nurse and phone the lead."
