"""Who had a visit when it was due is asked at every revision until it is reported. Five wards, equal bed numbers."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.draws import DrawId
from planner.domain.orders import OrderId
from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Held
from planner.domain.revisions.reported import Reported
from planner.exporters.view.context import ViewContext
from planner.exporters.view.notes.assumed import untold_words
from planner.exporters.view.notes.due import dues
from planner.exporters.view.texts import TextCleaner
from planner.replanning.next_problem import NextProblem, next_problem
from planner.replanning.past.unreported import unreported
from tests.builders import clock
from tests.replan_builders import given_to_another, make_plan

AB, CD = 0, 1
BED = "Juniper 1A"


def following(of: tuple[Problem, Plan], now: str, *reports: Reported) -> NextProblem:
    return next_problem(*of, parent=2, now_s=clock(now), reports=reports)


def next_plan(problem: Problem, plan: Plan) -> Plan:
    """Return a plan in which everybody walks on."""
    assert problem.replan is not None
    made = {visit.draw_id for visit in problem.replan.visits}
    return make_plan(
        *(
            [*past.stops, *(v for v in route.visits if v.outcome is None and v.draw_id not in made)]
            for past, route in zip(problem.replan.past, plan.routes, strict=True)
        )
    )


def asked(problem: Problem, plan: Plan) -> list[tuple[int, int]]:
    """Return who is asked about which draw time of P2 in Juniper 1A."""
    context = ViewContext(problem, plan, {}, TextCleaner())
    return [(due.asked, due.due_s) for due in dues(context) if due.visit.patient_id == "P2"]


def test_who_had_it_is_asked_at_every_revision() -> None:
    problem, plan = given_to_another()
    assert asked(problem, plan) == [(AB, clock("05:20"))]
    for now in ("05:33", "05:36", "05:45"):
        problem = following((problem, plan), now).problem
        plan = next_plan(problem, plan)
        assert asked(problem, plan) == [(AB, clock("05:20"))]
        context = ViewContext(problem, plan, {}, TextCleaner())
        assert any(f"bed {BED} (05:20)" in words for words in untold_words(context))


def test_stat_that_was_given_to_another_is_asked_for_at_every_revision() -> None:
    problem, plan = given_to_another(is_stat=True)
    for now in ("05:33", "05:36"):
        made = following((problem, plan), now)
        (found,) = (finding for finding in made.findings if finding.code == "stat-unreported")
        assert f"bed {BED}: ask AB about the stat of 05:20 before anybody draws: it is not reported" in found.message
        problem, plan = made.problem, next_plan(made.problem, plan)


@pytest.mark.parametrize(("has_another", "typed"), [(False, BED), (True, "O2")])
def test_what_to_type_names_the_order_where_the_patient_has_two_visits(has_another: bool, typed: str) -> None:
    """With the bed alone the other visit was meant, and what the program itself had printed was refused."""
    problem, plan = given_to_another(is_stat=True)
    if has_another:
        visit = next(v for route in plan.routes for v in route.visits if v.patient_id == "P2")
        stops = [*plan.routes[0].stops, replace(visit, draw_id=DrawId("P2/9"), order_ids=(OrderId("O1"),))]
        plan = make_plan(stops, *(list(route.stops) for route in plan.routes[1:]))
    (found,) = unreported(problem, plan, (), (), clock("05:36"))
    assert f'--drawn "{typed}=05:20 by AB"' in found.message


def test_nobody_is_asked_once_it_is_reported() -> None:
    problem, plan = given_to_another()
    visit = next(v for route in plan.routes for v in route.visits if v.patient_id == "P2")
    assert isinstance(visit, Visit)
    report = Reported(
        order_ids=visit.order_ids,
        draw_id=visit.draw_id,
        outcome=Outcome.COLLECTED,
        at_s=clock("05:21"),
        drawn_by=AB,
        held_by=CD,
        is_by_itself=True,
    )
    made = following((problem, plan), "05:36", report)
    assert asked(made.problem, next_plan(made.problem, plan)) == []


@pytest.mark.parametrize(("person", "expected"), [(AB, [(AB, clock("05:20"))]), (CD, [])])
def test_who_has_it_still_is_asked_by_the_next_revision_only(person: int, expected: list[tuple[int, int]]) -> None:
    made = following(given_to_another(), "05:40").problem
    assert made.replan is not None
    held = Held(phlebotomist=person, draw_s=clock("05:20"), until_s=clock("05:30"))
    promised = tuple(replace(p, earlier=(held,)) if p.patient_id == "P2" else p for p in made.replan.promised)
    problem = replace(made, replan=replace(made.replan, promised=promised))
    assert asked(problem, next_plan(problem, given_to_another()[1])) == expected
