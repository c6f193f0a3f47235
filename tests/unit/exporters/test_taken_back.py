"""A command that took a stop away is taken back: the stop comes again, and whose it was hears of it.

Five wards with equal bed numbers; two phlebotomists and two patients of one name.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.checker import check_plan
from planner.domain.orders import Priority
from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Cancel, Change, Lost, NeverCame
from planner.domain.revisions.reported import Reported
from planner.exporters.view.build import build_view
from planner.exporters.view.notes.changes import NoteKind
from planner.findings import Severity
from planner.library.news import read_done
from planner.replanning.next_problem import NextProblem, next_problem
from planner.visits.windows import order_windows
from tests.three_wards import five_ward_tables, load_tables, plan_quickly
from tests.unit.exporters.undone import all_undone

pytestmark = pytest.mark.slow

Round = tuple[Problem, Plan]


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Round:
    problem = load_tables(five_ward_tables(), tmp_path_factory.mktemp("undo") / "round")
    return problem, plan_quickly(problem).plan


def later_stop(of: Round) -> tuple[int, Visit]:
    """Return a visit without a stat that is not the first of its phlebotomist, and whose it is."""
    stats = {order.id for order in of[0].orders if order.priority is Priority.STAT}
    return next((r.phlebotomist, v) for r in of[1].routes for v in r.visits[1:] if not stats & set(v.order_ids))


def undone(of: Round, said_s: int, now_s: int, report: Reported | None = None, *changes: Change) -> NextProblem:
    """Say something by mistake at one instant, and take it back at another."""
    return all_undone(of, said_s, now_s, () if report is None else (report,), changes)


def told(visit: Visit, outcome: Outcome) -> Reported:
    return Reported(order_ids=visit.order_ids, draw_id=visit.draw_id, outcome=outcome, is_by_itself=True)


def notes(problem: Problem, plan: Plan, person: int) -> list[str]:
    view = build_view(problem, plan, order_windows(problem)[0], revision=3)
    route = next(route for route in view.routes if route.initials == problem.staff[person].initials)
    return [line.text for line in route.note if line.kind < NoteKind.STANDING]


OUTCOMES = (Outcome.REFUSED, Outcome.AWAY, Outcome.UNSUCCESSFUL, Outcome.COLLECTED)


@pytest.mark.parametrize("outcome", OUTCOMES)
@pytest.mark.parametrize("is_over", [False, True])
def test_reported_stop_comes_again_and_its_phlebotomist_hears_it(
    planned: Round, outcome: Outcome, is_over: bool
) -> None:
    person, visit = later_stop(planned)
    now_s = visit.depart_s + 5 if is_over else visit.draw_s
    problem = undone(planned, visit.start_s - 20, now_s, told(visit, outcome)).problem
    assert problem.replan is not None
    assert visit.draw_id not in {made.draw_id for made in problem.replan.visits}
    plan = plan_quickly(problem).plan
    again, coming = next((r.phlebotomist, v) for r in plan.routes for v in r.visits if v.order_ids == visit.order_ids)
    assert coming.outcome is None
    patient = problem.patients[visit.patient_id]
    bed = f"{patient.ward} {problem.places[patient.bed].label}"
    if again == person:
        said = [text for text in notes(problem, plan, person) if f"ed {bed}, {patient.family_name}" in text]
        assert any("after all. If you passed the bed, go back" in text for text in said)
    else:  # somebody else goes: they hear it, unless the second sheet gave it to them and they have it still
        mine = [p for p in problem.replan.promised if set(p.order_ids) & set(visit.order_ids)]
        has_it_still = [p.phlebotomist for p in mine] == [again]
        assert has_it_still or any(f"ed {bed}, " in text for text in notes(problem, plan, again))


def test_cancelled_order_that_is_wanted_after_all_is_not_taken_to_be_drawn(planned: Round) -> None:
    _person, visit = later_stop(planned)
    cancelled = [Cancel(order_id=order_id) for order_id in visit.order_ids]
    problem = undone(planned, visit.start_s - 20, visit.draw_s, None, *cancelled).problem
    assert problem.replan is not None
    assert [one.draw_id for one in problem.replan.came_back] == [visit.draw_id]
    assert set(visit.order_ids) <= {order.id for order in problem.open_orders}


def test_stops_of_who_was_said_never_to_have_come_are_all_to_come(planned: Round) -> None:
    person, visit = later_stop(planned)
    never = NeverCame(name=planned[0].staff[person].initials)
    problem = undone(planned, visit.start_s - 20, visit.draw_s, None, never).problem
    assert problem.replan is not None
    assert not [stop for stop in problem.replan.past[person].stops if isinstance(stop, Visit)]


@pytest.mark.parametrize("person", [0, 1, 2])
@pytest.mark.parametrize("kind", [NeverCame, Lost])
def test_stops_return_to_who_was_said_never_to_have_come(
    planned: Round, person: int, kind: type[NeverCame] | type[Lost]
) -> None:
    """The others got them, and the lead takes it back: nobody stands idle because moving stops has its price."""
    mine = next(r.visits for r in planned[1].routes if r.phlebotomist == person)
    said_s = mine[1].depart_s
    wrong = kind(name=planned[0].staff[person].initials)
    problem = undone(planned, said_s, said_s + 120, None, wrong).problem
    assert problem.replan is not None
    assert problem.replan.returning == {person}
    plan = plan_quickly(problem).plan
    has = {order_id for r in plan.routes if r.phlebotomist == person for v in r.visits for order_id in v.order_ids}
    due = [visit for visit in mine if visit.draw_s > said_s + 120]
    back = [visit for visit in due if set(visit.order_ids) <= has]
    assert len(due) >= 2
    assert len(back) >= len(due) - 1, "at most one is better left with another"
    assert not [finding for finding in check_plan(problem, plan) if finding.severity is Severity.ERROR]
    # Whoever has the last sheet hears of each stop that they are to leave out, and who goes.
    for visit in back:
        last = next(p for p in problem.replan.promised if set(p.order_ids) & set(visit.order_ids))
        if last.phlebotomist != person:
            patient = problem.patients[visit.patient_id]
            bed = f"{patient.ward} {problem.places[patient.bed].label}"
            assert any(text.startswith(f"Leave out bed {bed}, ") for text in notes(problem, plan, last.phlebotomist))


def test_report_that_was_only_assumed_before_is_open_after_it_is_taken_back(planned: Round) -> None:
    """Assumed done by revision 2, refused by mistake in revision 3: nobody has said that it was drawn."""
    person, visit = later_stop(planned)
    first = next_problem(*planned, parent=1, now_s=visit.depart_s + 5).problem
    of = first, plan_quickly(first).plan
    assert first.replan is not None
    assert visit.draw_id in {made.draw_id for made in first.replan.visits}
    problem = undone(of, visit.depart_s + 60, visit.depart_s + 90, told(visit, Outcome.REFUSED)).problem
    assert problem.replan is not None
    assert visit.draw_id not in {made.draw_id for made in problem.replan.past[person].stops if isinstance(made, Visit)}
    plan = plan_quickly(problem).plan
    again = next(r.phlebotomist for r in plan.routes for v in r.visits if v.order_ids == visit.order_ids)
    patient = problem.patients[visit.patient_id]
    bed = f"ed {patient.ward} {problem.places[patient.bed].label}, {patient.family_name}"
    said = [text for text in notes(problem, plan, again) if bed in text]
    assert any("do not draw again" in text or "before anybody draws again" in text for text in said), said
    assert not any("draw there after all. If you passed the bed, go back" in text for text in said), said


@pytest.mark.parametrize("person", [0, 1, 2])
@pytest.mark.parametrize("assumed_before", [False, True])
def test_list_of_what_is_done_that_is_taken_back_was_never_given(
    planned: Round, person: int, assumed_before: bool
) -> None:
    """Somebody is said by mistake to have come as far as the third draw: what was assumed is assumed again."""
    of, mine = planned, next(r.visits for r in planned[1].routes if r.phlebotomist == person)
    if assumed_before:
        first = next_problem(*planned, parent=1, now_s=mine[3].depart_s + 5).problem
        of = first, plan_quickly(first).plan
        assert first.replan is not None and {visit.draw_id for visit in mine} & first.replan.assumed
    now_s = mine[3].depart_s + 65
    typed = f"{planned[0].staff[person].initials}={planned[0].clock.format_clock(mine[2].draw_s)}"
    reports, _found, refused = read_done([typed], *of, now_s)
    assert reports and not refused
    problem = all_undone(of, now_s, now_s + 60, reports).problem
    never_said = next_problem(*of, parent=2, now_s=now_s + 60).problem
    assert problem.replan is not None and never_said.replan is not None
    told = {report.draw_id for report in reports} & never_said.replan.assumed
    assert told and told <= problem.replan.assumed
    assert not told & {one.draw_id for one in problem.replan.came_back}
    plan = plan_quickly(problem).plan
    for one in problem.replan.came_back:
        to_come = [(r.phlebotomist, v) for r in plan.routes for v in r.visits if v.outcome is None]
        again = next(p for p, v in to_come if set(v.order_ids) & set(one.order_ids))
        said = " ".join(notes(problem, plan, again))
        assert one.draw_s > now_s or "draw again" in said or "draws again" in said, said


def test_stat_that_was_reported_by_mistake_is_asked_about_until_it_is_reported(planned: Round) -> None:
    problem, plan = planned
    _person, visit = later_stop(planned)
    own = set(visit.order_ids)
    stat = replace(
        problem, orders=tuple(replace(o, priority=Priority.STAT) if o.id in own else o for o in problem.orders)
    )
    said_s = visit.draw_s + 1
    following = undone((stat, plan), said_s, said_s + 30, told(visit, Outcome.REFUSED))
    for later_s in (60, 120, 300):
        asked = {o for f in following.findings if f.code == "stat-unreported" for o in f.order_ids}
        assert own <= asked
        assert own <= {order.id for order in following.problem.open_orders}
        of = following.problem, plan_quickly(following.problem).plan
        following = next_problem(*of, parent=3, now_s=said_s + later_s)
