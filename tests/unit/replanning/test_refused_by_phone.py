"""A refusal told by phone before anybody was due at the bed: news of the patient, and of nobody's whereabouts.

Five wards with equal bed numbers. AB has bed 1A of the first two wards at 05:40 and 06:30, CD that of the others.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.checker import check_plan
from planner.domain.orders import OrderId
from planner.domain.plan import Outcome, Plan, Reason, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.reported import Reported
from planner.domain.revisions.stop_changes import ChangeKind, stop_changes
from planner.exporters.view.notes.event_words import event_words
from planner.findings import Finding
from planner.library.news import read_done
from planner.replanning.next_problem import NextProblem, next_problem
from tests.builders import clock
from tests.replan_builders import TWO, five_wards, make_plan, make_visit

AB, CD = 0, 1
BED = "Juniper 1A"
NOW = "05:41"


def a_round() -> tuple[Problem, Plan]:
    problem, _ = five_wards(staff=TWO)
    mine = [make_visit(problem, [f"O{n}"], at) for n, at in ((1, "05:40"), (2, "06:30"))]
    others = [make_visit(problem, [f"O{n}"], at) for n, at in ((3, "05:10"), (4, "06:10"), (5, "06:40"))]
    return problem, make_plan(mine, others)


def told(text: str, of: tuple[Problem, Plan], now: str = NOW, option: str = "refused") -> tuple[Reported, ...]:
    reports, _found, refused = read_done((), *of, clock(now), {option: [text]})
    assert not refused
    return reports


def after(text: str, of: tuple[Problem, Plan], now: str = NOW, option: str = "refused") -> NextProblem:
    return next_problem(*of, parent=1, now_s=clock(now), reports=told(text, of, now, option))


def made(problem: Problem, person: int) -> list[tuple[str, bool]]:
    """Return the orders of the stops of somebody's past, and whether each is only assumed."""
    assert problem.replan is not None
    past = problem.replan.past[person]
    return [
        ("".join((*stop.order_ids, *stop.tried)), n in past.assumed)
        for n, stop in enumerate(past.stops)
        if isinstance(stop, Visit)
    ]


def settled(problem: Problem) -> dict[OrderId, tuple[Reason, str]]:
    return {item.order_id: (item.reason, item.detail) for item in problem.set_aside}


@pytest.mark.parametrize("text", [BED, "P2", "O2"])
def test_who_has_the_bed_stays_where_they_are(text: str) -> None:
    """AB draws O1 in Heron 1A until 05:42:45; that P2 refuses is told at 05:41."""
    problem = after(text, a_round()).problem
    assert problem.replan is not None
    assert made(problem, AB) == [("O1", True)]
    past = problem.replan.past[AB]
    assert (past.place, past.free_s) == ("Heron/1A", clock("05:42") + 45)
    assert settled(problem)[OrderId("O2")] == (Reason.REFUSED, "refused at 05:41")
    assert "O2" not in {order.id for order in problem.open_orders}


@pytest.mark.parametrize("text", [f"{BED}=05:39", f"{BED}=05:39 by AB", f"{BED} by CD"])
def test_time_or_name_says_who_was_there(text: str) -> None:
    problem = after(text, a_round()).problem
    person = CD if text.endswith("CD") else AB
    assert ("O2", False) in made(problem, person)


def test_bed_that_is_due_was_come_to() -> None:
    assert ("O2", False) in made(after(BED, a_round(), now="06:29").problem, AB)


def test_note_and_summary_speak_of_it() -> None:
    following = after(BED, a_round())
    assert following.problem.replan is not None
    assert "bed Juniper 1A: refused at 05:41" in event_words(following.problem, following.problem.replan.events)
    plan = make_plan(*(past.stops for past in following.problem.replan.past))
    dropped = [c for c in stop_changes(following.problem, plan) if c.place.startswith("Juniper")]
    assert [(c.kind, c.before and c.before.phlebotomist) for c in dropped] == [(ChangeKind.DROPPED, AB)]


def second(of: tuple[Problem, Plan]) -> tuple[Problem, Plan]:
    """Return revision 2, in which the refusal is known: the others are to come."""
    following = after(BED, of)
    assert following.problem.replan is not None
    coming = [v for route in of[1].routes for v in route.visits if v.order_ids in (("O4",), ("O5",))]
    pasts = following.problem.replan.past
    return following.problem, make_plan(pasts[AB].stops, [*pasts[CD].stops, *coming])


@pytest.mark.parametrize("text", [BED, "P2", "O2", f"{BED}=05:50 by AB"])
def test_same_again_is_known(text: str) -> None:
    reports, found, refused = read_done((), *second(a_round()), clock("05:55"), {"refused": [text]})
    assert ([f.code for f in found], reports, refused) == (["report-repeated"], (), ())


def test_row_of_a_progress_file_that_says_the_same_is_known(tmp_path: Path) -> None:
    path = tmp_path / "saved.csv"
    path.write_text("bed,patient_number,order_number,outcome,time,initials\nJuniper 1A,P2,O2,refused,05:50,AB\n")
    reports, found, refused = read_done([str(path)], *second(a_round()), clock("05:55"))
    assert ([f.code for f in found if f.code != "file-format"], reports, refused) == (["report-repeated"], (), ())


def test_draw_after_a_refusal_contradicts_it() -> None:
    _reports, found, refused = read_done((), *second(a_round()), clock("05:55"), {"drawn": [f"{BED}=05:50"]})
    assert [f.code for f in found] == ["report-contradicts"]
    assert refused


def test_it_is_remembered_at_every_revision() -> None:
    of = second(a_round())
    third = next_problem(*of, parent=2, now_s=clock("05:50")).problem
    assert third.replan is not None
    coming = [v for v in of[1].routes[CD].visits if v.outcome is None]
    pasts = third.replan.past
    later = third, make_plan(pasts[AB].stops, [*pasts[CD].stops, *coming])
    _reports, found, refused = read_done((), *later, clock("05:55"), {"refused": [BED]})
    assert ([f.code for f in found], refused) == (["report-repeated"], ())


def codes(findings: tuple[Finding, ...]) -> list[str]:
    return [finding.code for finding in findings]


def test_stat_that_is_refused_is_not_asked_about() -> None:
    problem, plan = a_round()
    visits = [replace(v, draw_s=v.draw_s) for v in plan.routes[AB].visits]
    following = after(BED, (problem, make_plan(visits, plan.routes[CD].stops)))
    assert "stat-unreported" not in codes(following.findings)
    assert "report-incomplete" not in codes(following.findings)


def overlaps(problem: Problem) -> list[int]:
    """Return of whose past two stops overlap."""
    assert problem.replan is not None
    return [
        past.phlebotomist
        for past in problem.replan.past
        if any(a.depart_s > b.start_s for a, b in zip(past.stops, past.stops[1:], strict=False))
    ]


@pytest.mark.parametrize(
    ("reports", "now"),
    [
        ((("O1", "05:30"), ("O2", "05:31")), "05:41"),  # two draws told a minute apart, each with a stay of five
        ((("O2", "05:41"),), "05:42"),  # out of turn, while O1 is under way by the sheet
        ((("O1", "05:41"), ("O2", "05:41")), "05:42"),
    ],
)
def test_nobody_was_at_two_beds_at_once(reports: tuple[tuple[str, str], ...], now: str) -> None:
    of = a_round()
    given = read_done((), *of, clock(now), {"drawn": [f"{order}={at}" for order, at in reports]})[0]
    problem = next_problem(*of, parent=1, now_s=clock(now), reports=given).problem
    assert overlaps(problem) == []
    assert problem.replan is not None
    draws = {v.order_ids[0]: v.draw_s for v in problem.replan.visits if v.outcome is Outcome.COLLECTED}
    assert {order: clock(at) for order, at in reports}.items() <= draws.items()
    plan = make_plan(*(past.stops for past in problem.replan.past))
    assert "past-in-turn" not in {finding.code for finding in check_plan(problem, plan)}
