"""The problem of the next revision: what is promised, what is open, add-ons, who goes on; planned and checked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pytest

from planner.domain.goals import Part
from planner.domain.orders import OrderId, Priority
from planner.domain.plan import Handover, Outcome, Plan, Reason, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Cancel, Change, Gone, Late, Lost, Recollect, StatOrders
from planner.domain.revisions.reported import Reported
from planner.pipeline import plan_round
from planner.replanning.next_problem import next_problem
from planner.solving.params import SolveParams
from tests.builders import clock, make_order, make_phlebotomist, make_problem
from tests.replan_builders import make_handover, make_plan, make_visit

pytestmark = pytest.mark.slow

PARAMS = SolveParams(effort="quick", proves=False)  # as `replan` plans

Revision = tuple[Problem, Plan]


def first(problem: Problem | None = None) -> Revision:
    problem = problem or make_problem([make_order(f"O{n}", f"P{n}", "LFT") for n in (1, 2, 3, 4)])
    return problem, plan_round(problem, PARAMS).plan


def again(before: Revision, now_s: int, reports: Iterable[Reported] = (), changes: Iterable[Change] = ()) -> Revision:
    """Replan: the independent checker passes, or this raises."""
    problem = next_problem(*before, parent=1, now_s=now_s, reports=tuple(reports), changes=tuple(changes)).problem
    return problem, plan_round(problem, PARAMS).plan


def visit_of(plan: Plan, order: str) -> Visit:
    return next(v for route in plan.routes for v in route.visits if order in (*v.order_ids, *v.tried))


def told(plan: Plan, order: str, outcome: Outcome = Outcome.COLLECTED, at_s: int | None = None) -> Reported:
    visit = visit_of(plan, order)
    return Reported(order_ids=(OrderId(order),), draw_id=visit.draw_id, outcome=outcome, at_s=at_s)


def reasons(plan: Plan) -> dict[str, Reason]:
    return {u.order_id: u.reason for u in plan.unplanned}


def after(plan: Plan, order: str) -> int:
    """Return the second at which the visit of an order is over."""
    return visit_of(plan, order).depart_s


def test_what_has_not_begun_is_promised_in_its_order() -> None:
    problem, plan = first()
    visits = plan.routes[0].visits
    after_two = next_problem(problem, plan, parent=1, now_s=visits[1].depart_s).problem.replan
    assert after_two is not None
    assert [(p.draw_id, p.position, p.draw_s) for p in after_two.promised] == [
        (v.draw_id, n, v.draw_s) for n, v in enumerate(visits[2:])
    ]
    num_left = sum(isinstance(stop, Handover) for stop in plan.routes[0].stops)
    assert 1 <= len(after_two.pauses) <= num_left


@pytest.mark.parametrize("changes", [(), (Late(name="AB", minutes=20),)], ids=["slower than planned", "held up"])
def test_hand_over_that_was_due_and_is_not_made_stays_promised(changes: tuple[Change, ...]) -> None:
    # Planned for 05:14; the visit before it was drawn at 05:25 only, so at 05:28 she is on her way to it, or held up.
    problem = make_problem([make_order("O1", "P1"), make_order("O2", "P2")])
    later = make_handover(depart="06:30", departs="07:00", arrival="07:10")
    plan = make_plan(
        [make_visit(problem, ["O1"]), make_handover(depart="05:15"), make_visit(problem, ["O2"], "05:50"), later]
    )
    reports = [told(plan, "O1", at_s=clock("05:25"))]
    following = next_problem(problem, plan, parent=1, now_s=clock("05:28"), reports=reports, changes=changes).problem
    assert following.replan is not None
    assert [stop.place for stop in following.replan.past[0].stops] == ["B1"]
    assert [(p.num_before, p.place, p.departs_s) for p in following.replan.pauses] == [
        (0, "PICKUP", clock("06:00")),
        (1, "PICKUP", clock("07:00")),
    ]
    # Once it is made, it is promised no more: that one alone, not the next at the same place.
    made = next_problem(problem, plan, parent=1, now_s=clock("05:40")).problem
    assert made.replan is not None
    assert [(p.num_before, p.departs_s) for p in made.replan.pauses] == [(1, clock("07:00"))]


def test_nothing_new_changes_nothing() -> None:
    before = first()
    visits = before[1].routes[0].visits
    _problem, plan = again(before, visits[1].depart_s)
    assert [(v.draw_id, v.draw_s) for v in plan.routes[0].visits] == [(v.draw_id, v.draw_s) for v in visits]
    assert plan.part(Part.CHANGES).value == 0


def test_each_revision_goes_on_from_the_last_and_drawn_orders_are_never_open_again() -> None:
    revision = first()
    open_orders = []
    for order in [v.order_ids[0] for v in revision[1].routes[0].visits]:
        revision = again(revision, after(revision[1], order), [told(revision[1], order)])
        open_orders.append(len(revision[0].open_orders))
    assert open_orders == [3, 2, 1, 0]
    assert [v.outcome for v in revision[1].routes[0].visits] == [Outcome.COLLECTED] * 4


def test_refused_order_is_listed_in_this_revision_and_in_the_next() -> None:
    before = first()
    order = before[1].routes[0].visits[0].order_ids[0]
    second = again(before, after(before[1], order), [told(before[1], order, Outcome.REFUSED)])
    third = again(second, second[0].begin_s + 600)
    assert reasons(second[1])[order] is reasons(third[1])[order] is Reason.REFUSED


def test_who_was_away_is_visited_again_not_before_the_time_set() -> None:
    before = first()
    visit = before[1].routes[0].visits[0]
    order = visit.order_ids[0]
    _problem, plan = again(before, visit.depart_s, [told(before[1], order, Outcome.AWAY, visit.draw_s)])
    made = [v for v in plan.routes[0].visits if order in v.order_ids]
    assert len(made) == 1
    assert made[0].draw_s >= visit.draw_s + 1200  # retry_after_s
    assert made[0].draw_id != visit.draw_id


def test_failed_alone_needs_somebody_else_and_with_a_second_person_gets_her() -> None:
    before = first()
    order = before[1].routes[0].visits[0].order_ids[0]
    report = [told(before[1], order, Outcome.UNSUCCESSFUL)]
    assert reasons(again(before, after(before[1], order), report)[1])[order] is Reason.SECOND_PERSON
    orders = [make_order(f"O{n}", f"P{n}", "LFT") for n in (1, 2, 3, 4)]
    two = first(make_problem(orders, staff=[make_phlebotomist("AB"), make_phlebotomist("CD")]))
    who = next(r for r in two[1].routes if r.visits)
    order = who.visits[0].order_ids[0]
    _problem, plan = again(two, after(two[1], order), [told(two[1], order, Outcome.UNSUCCESSFUL)])
    made = [r.phlebotomist for r in plan.routes for v in r.visits if order in v.order_ids]
    assert made == [1 - who.phlebotomist]


def test_recollected_order_is_drawn_a_second_time_by_a_new_visit() -> None:
    before = first()
    visit = before[1].routes[0].visits[0]
    order = visit.order_ids[0]
    second = again(before, visit.depart_s, [told(before[1], order)])
    third = again(second, visit.depart_s + 60, changes=[Recollect(order_id=order)])
    visits = [v for v in third[1].routes[0].visits if order in (*v.order_ids, *v.tried)]
    assert [(v.outcome, v.order_ids) for v in visits] == [(Outcome.RECOLLECT, ()), (None, (order,))]


def test_tube_of_a_recollected_order_is_carried_nowhere() -> None:
    before = first()
    visit = before[1].routes[0].visits[0]
    order = visit.order_ids[0]
    _problem, plan = again(before, visit.depart_s, [told(before[1], order, Outcome.RECOLLECT)])
    spoilt = next(v for v in plan.routes[0].visits if order in v.tried)
    assert [p.handover for p in spoilt.tubes] == [None]


def a_stat(before: Revision, test: str = "LIPID") -> tuple[str, int, StatOrders]:
    """Return the first order drawn, when its visit is over, and a test for its patient that the tube can serve."""
    visit = before[1].routes[0].visits[0]
    return visit.order_ids[0], visit.depart_s, StatOrders(bed=visit.place, tests=(test,))


def test_add_on_is_listed_and_nobody_goes_there_again() -> None:
    before = first()
    order, now_s, stat = a_stat(before)
    problem, plan = again(before, now_s, [told(before[1], order)], [stat])
    assert problem.replan is not None
    (addon,) = problem.replan.addons
    assert reasons(plan)[addon.order_id] is Reason.ADD_ON
    assert addon.order_id not in {o for r in plan.routes for v in r.visits for o in v.order_ids}
    third, _plan = again((problem, plan), now_s + 600)
    assert third.replan is not None
    assert third.replan.addons == (addon,)


@pytest.mark.parametrize("outcome", [Outcome.REFUSED, Outcome.AWAY, Outcome.UNSUCCESSFUL, Outcome.RECOLLECT])
def test_add_on_to_a_tube_that_was_not_drawn_after_all_is_listed_for_a_decision(outcome: Outcome) -> None:
    # At the end of the visit nothing is told: the tube is assumed, and the stat test added to it. Then it is told
    # that there is no such tube: the test is not done, and nobody is on the way for it.
    before = first()
    order, now_s, stat = a_stat(before)
    second = again(before, now_s, (), [stat])
    assert second[0].replan is not None
    (addon,) = second[0].replan.addons
    third = again(second, now_s + 300, [told(second[1], order, outcome)])
    assert third[0].replan is not None
    assert third[0].replan.addons == ()
    assert reasons(third[1])[addon.order_id] is Reason.ADD_ON_LOST
    assert Reason.ADD_ON_LOST.needs_decision


def test_add_on_to_a_tube_that_is_recollected_on_the_phone_is_listed_for_a_decision() -> None:
    before = first()
    order, now_s, stat = a_stat(before)
    second = again(before, now_s, [told(before[1], order)], [stat])
    third = again(second, now_s + 300, changes=[Recollect(order_id=order)])
    assert Reason.ADD_ON_LOST in reasons(third[1]).values()


def test_cancelled_add_on_is_cancelled() -> None:
    before = first()
    order, now_s, stat = a_stat(before)
    second = again(before, now_s, [told(before[1], order)], [stat])
    assert second[0].replan is not None
    (addon,) = second[0].replan.addons
    third = again(second, now_s + 60, changes=[Cancel(order_id=addon.order_id)])
    assert third[0].replan is not None
    assert (third[0].replan.addons, reasons(third[1])[addon.order_id]) == ((), Reason.CANCELLED)


def test_stat_that_no_tube_serves_is_drawn() -> None:
    before = first()
    order, now_s, stat = a_stat(before, "LACT")
    problem, plan = again(before, now_s, [told(before[1], order)], [stat])
    (new,) = {o.id for o in problem.orders} - {o.id for o in before[0].orders}
    assert problem.order(new).priority is Priority.STAT
    assert visit_of(plan, new).outcome is None


def two_people() -> Revision:
    """Everybody must be seen by 05:20, so both are needed: 300 s a bed, ten beds' worth of minutes."""
    orders = [make_order(f"O{n}", f"P{n}", "LFT", collect_to_s=clock("05:20")) for n in (1, 2, 3, 4, 5, 6)]
    revision = first(make_problem(orders, staff=[make_phlebotomist("AB"), make_phlebotomist("CD")]))
    assert all(len(route.visits) == 3 for route in revision[1].routes)
    return revision


def test_order_after_the_others_shifts_is_not_another_rounds_when_the_last_person_is_lost() -> None:
    # AB works until 06:00, CD until 09:00; the draw of 08:00 was hers. Nobody is left for it: that is to decide.
    staff = (make_phlebotomist("AB", until_s=clock("06:00")), make_phlebotomist("CD", until_s=clock("09:00")))
    before = first(make_problem([make_order("O1"), make_order("O2", "P2", collect_at_s=clock("08:00"))], staff=staff))
    assert "O2" not in reasons(before[1])
    _problem, plan = again(before, clock("05:40"), changes=[Lost(name="CD")])
    assert reasons(plan)["O2"].needs_decision


def test_visits_of_who_is_lost_go_to_the_others_and_her_tray_is_named() -> None:
    before = two_people()
    lost = before[1].routes[1].visits
    problem, plan = again(before, lost[0].depart_s, changes=[Lost(name="CD")])
    assert {o for v in plan.routes[0].visits for o in v.order_ids} >= {o for v in lost[1:] for o in v.order_ids}
    assert [stop for stop in plan.routes[1].stops if getattr(stop, "outcome", None) is None] == []
    assert reasons(plan)[lost[0].order_ids[0]] is Reason.DRAWN_IN_VAIN
    detail = next(u.detail for u in plan.unplanned if u.order_id == lost[0].order_ids[0])
    assert "still in the tray of CD" in detail
    assert problem.replan is not None
    assert problem.replan.past[1].free_s == problem.staff[1].until_s == before[0].staff[1].until_s


def test_who_is_held_up_stops_nowhere_before_her_time() -> None:
    before = two_people()
    visit = before[1].routes[1].visits[0]
    _problem, plan = again(before, visit.depart_s, changes=[Late(name="CD", minutes=30)])
    coming = [v for v in plan.routes[1].visits if v.outcome is None]
    assert all(v.start_s >= visit.depart_s + 1800 for v in coming)


def test_patient_who_is_gone_is_not_visited() -> None:
    before = first()
    visits = before[1].routes[0].visits
    _problem, plan = again(before, visits[0].depart_s, changes=[Gone(bed=visits[2].place)])
    assert reasons(plan)[visits[2].order_ids[0]] is Reason.PATIENT_GONE


def test_specimen_that_missed_its_courier_is_listed_as_drawn_in_vain() -> None:
    # LFT keeps two hours. O1 is told as drawn at its time, and the visit before the hand-over as late as 07:58: she
    # is at the shelf after 08:00, and 09:00 (09:10 in the laboratory) is more than two hours after O1's draw.
    problem, plan = first(
        replace(make_problem([make_order(f"O{n}", f"P{n}", "LFT") for n in (1, 2)]), pickups=_couriers_only())
    )
    one, two = plan.routes[0].visits
    reports = [told(plan, one.order_ids[0], at_s=one.draw_s), told(plan, two.order_ids[0], at_s=clock("07:58"))]
    _problem, after_it = again((problem, plan), clock("08:30"), reports)
    assert reasons(after_it) == {one.order_ids[0]: Reason.DRAWN_IN_VAIN}


def _couriers_only() -> tuple:
    return tuple(p for p in make_problem().pickups if p.departures_s)
