"""A stat that was due and that nobody reported stays open, and is asked about, until somebody reports it.

Five wards with equal bed numbers: AB has bed 1A of each at 05:10 to 05:14; Juniper 1A (P2) is the stat.
"""

from __future__ import annotations

from dataclasses import replace

from planner.domain.draws import DrawId
from planner.domain.orders import OrderId, Priority
from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.reported import Reported
from planner.exporters.view.context import ViewContext
from planner.exporters.view.notes.due import dues
from planner.exporters.view.texts import TextCleaner
from planner.library.news import read_done
from planner.replanning.next_problem import NextProblem, next_problem
from tests.builders import clock, make_order
from tests.replan_builders import TWO, five_wards, make_drawn_tube, make_plan, make_visit

STAT, SHARED = OrderId("O2"), OrderId("O9")


def a_round() -> tuple[Problem, Plan]:
    """The round of five wards; at P2 one visit is to draw the stat O2 and the routine O9."""
    problem, plan = five_wards(staff=TWO)
    stat = tuple(replace(o, priority=Priority.STAT) if o.id == STAT else o for o in problem.orders)
    problem = replace(problem, orders=(*stat, make_order(SHARED, "P2", "BMP")))
    shared = make_visit(problem, [STAT, SHARED], "05:11")
    visits = [shared if v.patient_id == "P2" else v for v in plan.routes[0].visits]
    return problem, make_plan(visits, [])


def replanned(of: tuple[Problem, Plan], now: str, *reports: Reported) -> NextProblem:
    return next_problem(*of, parent=1, now_s=clock(now), reports=reports)


def planned(problem: Problem, person: int, *coming: Visit) -> tuple[Problem, Plan]:
    """Return the round with a plan: what was made, and then some visits by one person."""
    assert problem.replan is not None
    return problem, make_plan(
        *([*past.stops, *(coming if past.phlebotomist == person else ())] for past in problem.replan.past)
    )


def together(problem: Problem, draw: str) -> Visit:
    return make_visit(problem, [STAT, SHARED], draw, tubes=[(make_drawn_tube(["CBC"], [STAT, SHARED]), None)])


def is_asked(following: NextProblem) -> bool:
    return [f.order_ids for f in following.findings if f.code == "stat-unreported"] != []


def begun(problem: Problem) -> set[str]:
    assert problem.replan is not None
    return {order for visit in problem.replan.visits for order in (*visit.order_ids, *visit.tried)}


def test_stat_past_its_first_due_time_is_open_whatever_slot_it_has_now() -> None:
    """Each replan gives it a slot, and the next one comes while that slot is under way or just over."""
    following = replanned(a_round(), "05:42")
    for slot, now in (("05:45", "05:46"), ("05:48", "05:50"), ("05:50", "05:53"), ("06:30", "06:31")):
        assert is_asked(following)
        of = planned(following.problem, 0, together(following.problem, slot))
        following = replanned(of, now)
        assert not begun(following.problem) & {STAT, SHARED}
        assert is_asked(following)
        coming = planned(following.problem, 0, together(following.problem, "06:50"))
        context = ViewContext(*coming, {}, TextCleaner())
        asked = [(due.asked, due.is_stat) for due in dues(context) if due.visit.patient_id == "P2"]
        assert asked == [(0, True)]
    assert {STAT, SHARED} <= {order.id for order in following.problem.open_orders}


def test_who_is_at_the_bed_in_the_new_slot_is_not_taken_to_be_past_it() -> None:
    first = replanned(a_round(), "05:42").problem
    visit = together(first, "05:46")
    second = replanned(planned(first, 0, visit), "05:47").problem
    assert second.replan is not None
    one = second.replan.past[0]
    assert (one.place, one.free_s) == (visit.place, clock("05:47"))


def test_what_shared_its_visit_is_open_in_a_visit_of_its_own() -> None:
    first = replanned(a_round(), "05:42").problem
    alone = make_visit(first, [SHARED], "05:47", draw_id=DrawId("P2-O9"))
    of = planned(first, 1, make_visit(first, [STAT], "06:20"), alone)
    second = replanned(of, "05:48").problem
    assert SHARED not in begun(second)
    third = replanned(planned(second, 1, make_visit(second, [STAT], "06:20"), alone), "05:50").problem
    assert SHARED not in begun(third)


def test_report_closes_it() -> None:
    first = replanned(a_round(), "05:42").problem
    visit = together(first, "05:45")
    told = Reported(
        order_ids=visit.order_ids,
        draw_id=visit.draw_id,
        outcome=Outcome.COLLECTED,
        is_by_itself=True,
        at_s=clock("05:46"),
    )
    second = replanned(planned(first, 0, visit), "05:47", told)
    assert not is_asked(second)
    assert {STAT, SHARED} <= begun(second.problem)


def test_stat_ordered_after_its_bed_was_due_is_not_said_to_have_been_due_then() -> None:
    """O2 was due as a routine draw at 05:11, and is made a stat at 05:43: its slot of 06:20 is its first."""
    problem, plan = five_wards(staff=TWO)
    reports = [
        Reported(order_ids=v.order_ids, draw_id=v.draw_id, outcome=Outcome.COLLECTED)
        for v in plan.routes[0].visits
        if v.order_ids != (STAT,)
    ]
    first = replanned((problem, plan), "05:42", *reports).problem
    assert first.replan is not None
    assert [(held.draw_s, held.is_due, held.is_stat) for held in first.replan.held((STAT,))] == [
        (clock("05:11"), True, False)
    ]
    stat = tuple(replace(o, priority=Priority.STAT) if o.id == STAT else o for o in first.orders)
    first = replace(first, orders=stat)
    of = planned(first, 0, make_visit(first, [STAT], "06:20"))
    assert not is_asked(replanned(of, "05:50"))
    assert is_asked(replanned(of, "06:25"))


def test_how_far_somebody_has_come_does_not_answer_for_a_stat_that_another_may_have_drawn() -> None:
    """CD has it now and says "done up to 05:50": whether AB had drawn it at 05:11 nobody has said."""
    first = replanned(a_round(), "05:42").problem
    problem, plan = planned(first, 1, together(first, "05:46"))
    reports, found, refused = read_done(["CD=05:50"], problem, plan, clock("05:55"))
    assert not refused
    assert STAT not in {order_id for report in reports for order_id in report.order_ids}
    said = next(finding for finding in found if finding.code == "report-stat-asked")
    assert set(said.order_ids) == {STAT, SHARED}
    assert "bed Juniper 1A: not taken as drawn" in said.message
    assert "AB" in said.message
    assert "--drawn" in said.message
    following = next_problem(problem, plan, parent=2, now_s=clock("05:55"), reports=reports)
    assert is_asked(following)
    assert not begun(following.problem) & {STAT, SHARED}


def test_who_alone_has_had_a_stat_answers_for_it() -> None:
    first = replanned(a_round(), "05:42").problem
    problem, plan = planned(first, 0, together(first, "05:46"))
    reports, found, refused = read_done(["AB=05:50"], problem, plan, clock("05:55"))
    assert not refused
    assert STAT in {order_id for report in reports for order_id in report.order_ids}
    assert "report-stat-asked" not in {finding.code for finding in found}
