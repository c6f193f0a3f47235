"""What follows from outcomes: listed, tried again by whom and when, drawn again."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.draws import DrawId
from planner.domain.orders import OrderId
from planner.domain.plan import Outcome, Reason, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past, Replan, Retry
from planner.domain.revisions.reported import Reported
from planner.replanning.past.happened import as_told
from planner.replanning.past.outcomes import Settled, settle, without_recollected
from tests.builders import clock, make_order, make_phlebotomist, make_problem
from tests.replan_builders import make_drawn_tube, make_visit


def a_problem() -> Problem:
    orders = [make_order("O1", "P1"), make_order("O2", "P1", "BMP"), make_order("O3", "P2")]
    return make_problem(orders, staff=[make_phlebotomist("AB"), make_phlebotomist("CD")])


def told(outcome: Outcome, *orders: str, at: str = "05:10") -> Reported:
    ids = tuple(OrderId(o) for o in orders or ("O1", "O2"))
    return Reported(order_ids=ids, draw_id=DrawId("P1-O1"), outcome=outcome, at_s=clock(at))


def past_of(problem: Problem, reports: list[Reported], person: int = 1) -> tuple[Past, ...]:
    """The visit to P1 (O1, O2) as it was told, made by CD."""
    tubes = [(make_drawn_tube(["CBC"], ["O1"], "EDTA"), None), (make_drawn_tube(["BMP"], ["O2"]), None)]
    visit = as_told(make_visit(problem, ["O1", "O2"], "05:10", tubes=tubes), reports, clock("05:42"))
    return tuple(
        Past(phlebotomist=n, stops=(visit,) if n == person else (), place=visit.place, free_s=clock("05:42"))
        for n in (0, 1)
    )


def settled(*reports: Reported, problem: Problem | None = None) -> Settled:
    problem = problem or a_problem()
    return settle(problem, past_of(problem, list(reports)), reports)


def test_collected_needs_nothing_more() -> None:
    assert settled(told(Outcome.COLLECTED)) == Settled(set_aside=(), retries=())


def test_refused_is_listed_for_a_decision_with_the_time() -> None:
    listed = settled(told(Outcome.REFUSED)).set_aside
    assert [(u.order_id, u.reason, u.detail) for u in listed] == [
        ("O1", Reason.REFUSED, "refused at 05:10"),
        ("O2", Reason.REFUSED, "refused at 05:10"),
    ]
    assert all(u.reason.needs_decision for u in listed)


def test_who_could_not_be_identified_is_listed_for_a_decision_and_nobody_is_sent_again() -> None:
    """No specimen without two identifiers: WHO guidelines on drawing blood, 2010 [L13]."""
    found = settled(told(Outcome.UNIDENTIFIED))
    assert [(u.order_id, u.reason, u.detail) for u in found.set_aside] == [
        ("O1", Reason.NOT_IDENTIFIED, "identity not certain at 05:10"),
        ("O2", Reason.NOT_IDENTIFIED, "identity not certain at 05:10"),
    ]
    assert all(u.reason.needs_decision for u in found.set_aside)
    assert found.retries == ()


def test_partial_is_listed_and_the_whole_order_beside_it_is_not() -> None:
    listed = settled(told(Outcome.PARTIAL, "O2"), told(Outcome.COLLECTED, "O1")).set_aside
    assert [(u.order_id, u.reason) for u in listed] == [("O2", Reason.PARTLY_DRAWN)]


def test_away_is_tried_again_twenty_minutes_after_the_attempt() -> None:
    # retry_after_s is 1200 s when nobody changes it: 05:10 + 20 min.
    retries = settled(told(Outcome.AWAY)).retries
    assert retries == tuple(Retry(order_id=OrderId(o), not_before_s=clock("05:30")) for o in ("O1", "O2"))


def test_failed_attempt_is_for_somebody_else() -> None:
    retries = settled(told(Outcome.UNSUCCESSFUL)).retries
    assert retries == tuple(Retry(order_id=OrderId(o), not_by=frozenset({1})) for o in ("O1", "O2"))


def test_two_failed_attempts_exclude_both() -> None:
    problem = a_problem()
    before = (Retry(order_id=OrderId("O1"), not_by=frozenset({0})),)
    replan = Replan(parent=1, now_s=clock("05:20"), past=(), retries=before)
    again = settled(told(Outcome.UNSUCCESSFUL, "O1", "O2"), problem=replace(problem, replan=replan)).retries
    assert [(r.order_id, r.not_by) for r in again] == [("O1", {0, 1}), ("O2", {1})]


def test_failed_once_and_then_away_keeps_both() -> None:
    problem = a_problem()
    before = (Retry(order_id=OrderId("O1"), not_by=frozenset({0})),)
    replan = Replan(parent=1, now_s=clock("05:20"), past=(), retries=before)
    first = settled(told(Outcome.AWAY), problem=replace(problem, replan=replan)).retries[0]
    assert first == Retry(order_id=OrderId("O1"), not_by=frozenset({0}), not_before_s=clock("05:30"))


def test_what_is_to_be_drawn_again_is_open_and_nobody_is_barred() -> None:
    assert settled(told(Outcome.RECOLLECT)) == Settled(set_aside=(), retries=())


def test_refused_order_that_was_cancelled_since_is_not_listed_twice() -> None:
    problem = a_problem()
    past = past_of(problem, [told(Outcome.REFUSED)])
    without = replace(problem, orders=tuple(o for o in problem.orders if o.id != "O1"))
    listed = settle(without, past, [told(Outcome.REFUSED)]).set_aside
    assert [u.order_id for u in listed] == ["O2"]


def test_recollected_order_leaves_its_visit_and_its_blood_stays() -> None:
    past = past_of(a_problem(), [told(Outcome.COLLECTED)])
    visit = without_recollected(past, frozenset({OrderId("O2")}))[1].stops[0]
    assert isinstance(visit, Visit)
    assert (visit.order_ids, visit.tried, visit.outcome) == (("O1",), ("O2",), Outcome.RECOLLECT)
    assert len(visit.tubes) == 2
    assert without_recollected(past, frozenset()) == past
