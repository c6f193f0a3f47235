"""The answer to a replan without --verbose: what was applied, what it costs, whom to tell what, at which bed.

Five wards with equal bed numbers; two phlebotomists and two patients of one name.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import pytest

from planner.domain.order_parts import OrderPart
from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Cancel, Change, Courier, NeverCame, NewOrders, Timing
from planner.domain.revisions.events import CourierChanged
from planner.domain.revisions.reported import Reported
from planner.domain.revisions.stop_changes import ChangeKind, Move
from planner.exporters.terminal.replan_short import MOST_LINES, Section, short_lines
from planner.exporters.view.context import ViewContext
from planner.exporters.view.texts import TextCleaner
from planner.library.news import read_done
from planner.replanning.next_problem import NextProblem, next_problem
from planner.replanning.remake import Made, taken_back
from planner.visits.windows import order_windows
from tests.builders import clock, make_order
from tests.three_wards import five_ward_tables, load_tables, plan_quickly

pytestmark = pytest.mark.slow

Round = tuple[Problem, Plan]


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Round:
    problem = load_tables(five_ward_tables(), tmp_path_factory.mktemp("five"))
    return problem, plan_quickly(problem).plan


def after(of: Round, now_s: int, changes: Sequence[Change] = (), reports: Sequence[Reported] = ()) -> NextProblem:
    following = next_problem(*of, parent=1, now_s=now_s, changes=changes, reports=reports)
    assert not following.refused
    return following


def answer(problem: Problem, plan: Plan, width: int = 80) -> str:
    """Return the short answer on one line."""
    lines = short_lines(problem, plan, order_windows(problem)[0], (), width)
    assert len(lines) <= MOST_LINES
    assert max(map(len, lines)) <= width
    return " ".join(" ".join(lines).split())


def test_each_bed_that_is_new_to_somebody_is_named_by_ward_and_bed(planned: Round) -> None:
    for person in planned[0].staff:
        problem = after(planned, clock("05:08"), [NeverCame(name=person.initials)]).problem
        plan = plan_quickly(problem).plan
        context = ViewContext(problem, plan, order_windows(problem)[0], TextCleaner())
        new = [c for c in context.changes if c.kind is ChangeKind.ADDED or Move.PERSON in c.moves]
        assert new
        for width in (80, 120):
            told = answer(problem, plan, width).partition(" Tell ")[2]
            missing = [c.place for c in new if context.place(c.place) not in told]
            assert not missing, (person.initials, width, told)


@pytest.mark.parametrize("width", [80, 100])
def test_beds_are_named_beside_each_person_however_much_else_was_found(planned: Round, width: int) -> None:
    fault = "bed Larch (north) 3A: ask about the stat of 05:06 before anybody draws: it is not reported. " * 2
    sections = [Section(title, (fault,), is_needed=True) for title in ("See to it now", "Stat tests not in time")]
    for person in planned[0].staff:
        problem = after(planned, clock("05:08"), [NeverCame(name=person.initials)]).problem
        plan = plan_quickly(problem).plan
        lines = short_lines(problem, plan, order_windows(problem)[0], sections, width)
        told = " ".join(" ".join(lines[lines.index("Tell") :]).split())
        context = ViewContext(problem, plan, order_windows(problem)[0], TextCleaner())
        for index, who in enumerate(problem.staff):
            new = [c for c in context.changes if c.phlebotomist == index and Move.PERSON in c.moves]
            if new:
                said = told.partition(who.initials)[2]
                assert any(context.place(change.place) in said for change in new), (lines, who.initials)


@pytest.mark.parametrize("option", ["done", "drawn", "failed", "refused"])
def test_what_was_applied_says_who_drew_or_tried_and_when(planned: Round, option: str) -> None:
    problem, plan = planned
    person, visit = next((r.phlebotomist, v) for r in plan.routes for v in r.visits)
    at, by = problem.clock.format_clock(visit.draw_s), problem.staff[person].initials
    bed = problem.place_name(visit.place)
    typed = {option: [f"{bed}={at}"]} if option != "done" else {}
    reports, _found, refused = read_done([f"{by}={at}"] if not typed else (), *planned, visit.depart_s, typed)
    assert not refused
    following = after(planned, visit.depart_s, reports=reports).problem
    said = answer(following, plan_quickly(following).plan)
    assert re.search(rf"bed {re.escape(bed)}: [\w ]+ at {at} by {by} ", said), said


def test_many_draws_are_counted_by_who_made_them(planned: Round) -> None:
    problem, plan = planned
    now_s = max(v.depart_s for r in plan.routes for v in r.visits)
    typed = [f"{problem.staff[r.phlebotomist].initials}={problem.clock.format_clock(now_s)}" for r in plan.routes]
    reports, _found, refused = read_done(typed, *planned, now_s)
    assert len(reports) > 8 and not refused
    following = after(planned, now_s, reports=reports).problem
    said = answer(following, plan_quickly(following).plan).partition("Stops")[0]
    for route in plan.routes:
        mine = [stop for stop in route.stops if isinstance(stop, Visit)]
        at = problem.clock.format_clock(max(visit.draw_s for visit in mine))
        assert f"{problem.staff[route.phlebotomist].initials} {len(mine)}, " in said
        assert f"at {at}" in said


def test_one_done_may_name_several_people(planned: Round) -> None:
    problem, plan = planned
    now_s = clock("05:30")
    begun = [r.phlebotomist for r in plan.routes if r.visits and r.visits[0].draw_s <= now_s]
    each = [f"{problem.staff[person].initials}=05:30" for person in begun]
    assert len(each) >= 2
    together, _found, refused = read_done([",".join(each)], *planned, now_s)
    assert not refused
    assert together == read_done(each, *planned, now_s)[0]
    assert len({report.draw_id for report in together}) == sum(v.draw_s <= now_s for r in plan.routes for v in r.visits)


@pytest.mark.parametrize("is_reported", [False, True])
def test_who_only_counts_as_having_drawn_is_asked_where_an_order_is_cancelled_or_changed(
    planned: Round, is_reported: bool
) -> None:
    problem, plan = planned
    person, visit = next((r.phlebotomist, v) for r in plan.routes for v in r.visits[1:])
    by, at = problem.staff[person].initials, problem.clock.format_clock(visit.draw_s)
    report = Reported(order_ids=visit.order_ids, draw_id=visit.draw_id, outcome=Outcome.COLLECTED, at_s=visit.draw_s)
    order = problem.order(visit.order_ids[0])
    other = replace(order, collect_at_s=clock("07:30"))
    news: list[Change] = [
        Cancel(order_id=order.id),
        NewOrders(orders=(), cancelled=(order.id,)),
        NewOrders(orders=(other,), stated=frozenset({OrderPart.COLLECT_AT})),
        Timing(order_id=order.id, at_wall_s=clock("07:30")),
    ]
    for change in news:
        reports = [report] if is_reported else []
        following = next_problem(*planned, parent=1, now_s=visit.depart_s + 60, changes=[change], reports=reports)
        (said,) = (f.message for f in following.findings if f.code in ("order-drawn", "order-differs"))
        if is_reported:
            assert f"order {order.id} is drawn already" in said
        else:
            assert "is drawn already" not in said
            assert f"order {order.id} counts as drawn at {at} by {by}, which nobody reported" in said
            assert f"Ask {by}: if it is drawn:" in said


def test_list_that_is_read_says_how_many_orders_it_holds_and_how_many_are_new(planned: Round) -> None:
    problem, _plan = planned
    number = len(problem.orders)
    again = after(planned, clock("05:08"), [NewOrders(orders=problem.orders)]).problem
    assert f"list read: {number} orders, none new" in answer(again, plan_quickly(again).plan)
    more = (*problem.orders, make_order("N1", problem.orders[0].patient_id, "CRP"))
    newer = after(planned, clock("05:08"), [NewOrders(orders=more)]).problem
    assert f"list read: {number + 1} orders, 1 new" in answer(newer, plan_quickly(newer).plan)


@pytest.mark.parametrize("num_new", [0, 1, 12])
def test_taking_back_a_list_says_what_it_takes_away(planned: Round, num_new: int) -> None:
    problem, plan = planned
    patients = [order.patient_id for order in problem.orders]
    new = [make_order(f"N{n}", patients[n % len(patients)], "CRP") for n in range(num_new)]
    read = after(planned, clock("05:08"), [NewOrders(orders=(*problem.orders, *new))])
    made = {1: Made(problem=problem, plan=plan)}
    made[2] = Made(problem=read.problem, plan=plan_quickly(read.problem).plan)
    back = next_problem(problem, plan, parent=2, now_s=clock("05:09"), taken_back=taken_back(made, 2, 1)).problem
    said = answer(back, plan_quickly(back).plan)
    held = f"{len(problem.orders) + num_new} orders, {num_new or 'none'} new"
    assert f"taken back: list read: {held}" in said


def test_who_never_came_costs_what_is_late_or_left_out(planned: Round) -> None:
    for person in planned[0].staff:
        problem = after(planned, clock("05:08"), [NeverCame(name=person.initials)]).problem
        plan = plan_quickly(problem).plan
        windows = order_windows(problem)[0]
        late = []
        for visit in (v for r in plan.routes for v in r.visits if v.outcome is None):
            targets = [w.target_s for o in visit.order_ids if (w := windows[o]).target_s is not None]
            late += [visit.draw_s - min(targets)] if targets and visit.draw_s > min(targets) else []
        cost = answer(problem, plan).partition(" Cost ")[2].partition(" Tell ")[0]
        if late:
            assert re.search(rf"late: {len(late)} draws? by {-(-sum(late) // 60)} min in all", cost), cost
        else:
            assert "late: none" in cost or "nothing is late" in cost
        promised = {order_id for r in planned[1].routes for v in r.visits for order_id in v.order_ids}
        left_out = {u.order_id for u in plan.unplanned if u.reason.needs_decision} & promised
        assert (f"{len(left_out)} order" if left_out else "nothing is left out") in cost


def test_nothing_is_said_of_cost_where_nothing_is_worse(planned: Round) -> None:
    following = after(planned, clock("05:00")).problem
    assert " Cost " not in answer(following, plan_quickly(following).plan)


def test_courier_is_told_with_place_and_times(planned: Round) -> None:
    problem, _plan = planned
    pickup = next(p for p in problem.pickups if p.departures_s)
    place = problem.place_name(pickup.place)
    following = after(planned, clock("05:08"), [Courier(place=place, delay_s=600)]).problem
    assert following.replan is not None
    (event,) = (e.what for e in following.replan.events if isinstance(e.what, CourierChanged))
    coming = [s for s in event.departures_s if s > clock("05:08")]
    said = answer(following, plan_quickly(following).plan)
    times = ", ".join(map(problem.clock.format_clock, coming))
    assert f"courier at {place} 10 minutes later: leaves at {times}" in said


@pytest.mark.parametrize("outcome", [Outcome.REFUSED, Outcome.UNSUCCESSFUL])
def test_whom_to_tell_of_what_is_not_drawn_is_said(planned: Round, outcome: Outcome) -> None:
    visit = planned[1].routes[0].visits[0]
    report = Reported(
        order_ids=visit.order_ids, draw_id=visit.draw_id, outcome=outcome, at_s=visit.draw_s, is_by_itself=True
    )
    following = after(planned, visit.depart_s, reports=[report]).problem
    plan = plan_quickly(following).plan
    said = answer(following, plan)
    if outcome is Outcome.REFUSED:
        assert "Tell the nurse and the doctor; do not draw against the patient's will" in said
    elif any(item.reason.needs_decision for item in plan.unplanned):
        assert "Find a second collector, or ask the doctor" in said
