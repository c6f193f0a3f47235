"""What a replanned round changes is found stop by stop: added, moved, dropped, or with other orders."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.domain.draws import Device, DrawId, Needle
from planner.domain.orders import OrderId, PatientId
from planner.domain.places import PlaceId
from planner.domain.plan import Outcome, Plan, Reason, Route, Unplanned, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Promised, Replan
from planner.domain.revisions.stop_changes import ChangeKind, Move, StopChange, longest_run, stop_changes
from tests.builders import clock, make_phlebotomist, make_problem

FIRST_S = clock("05:40")


def visit(orders: str, minute: int = 0, outcome: Outcome | None = None, bed: str | None = None) -> Visit:
    """Return a visit for orders ("12": O1 and O2) so many minutes after 05:40, at the bed of the first order."""
    at_s = FIRST_S + 60 * minute
    return Visit(
        draw_id=DrawId(orders),
        patient_id=PatientId(f"P{orders[0]}"),
        place=PlaceId(bed or f"B{orders[0]}"),
        order_ids=tuple(OrderId(f"O{n}") for n in orders),
        arrive_s=at_s,
        start_s=at_s,
        draw_s=at_s,
        depart_s=at_s + 300,
        tubes=(),
        needle=Needle(gauge=21, device=Device.STRAIGHT),
        outcome=outcome,
    )


def changes(
    last: Sequence[Sequence[Visit]],
    now: Sequence[Sequence[Visit]],
    unplanned: Sequence[Unplanned] = (),
    behind: int = 0,
) -> tuple[StopChange, ...]:
    """Return what changed from the routes of the last sheet to those of now; everybody is so many minutes behind."""
    before = tuple(
        Promised(
            draw_id=v.draw_id,
            patient_id=v.patient_id,
            place=v.place,
            order_ids=v.order_ids,
            phlebotomist=person,
            position=i,
            draw_s=v.draw_s,
            walking_on_s=v.draw_s + 60 * behind,
        )
        for person, route in enumerate(last)
        for i, v in enumerate(route)
    )
    problem = replace(problem_of_two(), replan=replan(before))
    routes = tuple(Route(phlebotomist=i, stops=tuple(stops)) for i, stops in enumerate(now))
    return stop_changes(problem, Plan(routes=routes, unplanned=tuple(unplanned), goals=()))


def problem_of_two() -> Problem:
    return make_problem(staff=(make_phlebotomist("AB"), make_phlebotomist("CD")))


def replan(promised: tuple[Promised, ...]) -> Replan:
    return Replan(parent=1, now_s=FIRST_S, past=(), promised=promised)


def said(found: Sequence[StopChange]) -> list[tuple[ChangeKind, str, tuple[Move, ...]]]:
    return [(c.kind, c.place, c.moves) for c in found]


def test_nothing_changes_without_a_replan_and_when_all_stays() -> None:
    route = (visit("1"), visit("2", 5))
    plan = Plan(routes=(Route(phlebotomist=0, stops=route),), unplanned=(), goals=())
    assert stop_changes(problem_of_two(), plan) == ()
    assert changes([route], [route]) == ()


def test_a_new_stop_is_added_and_moves_none_of_those_behind_it() -> None:
    # Bed 2 goes from the first to the second place, and 5 minutes are not more than the 10 that count as changed.
    found = changes([[visit("1", 5), visit("2", 10)]], [[visit("3"), visit("1", 10), visit("2", 15)]])
    assert said(found) == [(ChangeKind.ADDED, "B3", ())]
    assert found[0].new_orders == ("O3",)


def test_a_stop_moves_in_time_by_more_than_the_policy_says() -> None:
    # `change_s` is 10 minutes: 10 later is as promised, 11 is not; who is earlier keeps nobody waiting.
    assert changes([[visit("1", 20)]], [[visit("1", 30)]]) == ()
    assert said(changes([[visit("1", 20)]], [[visit("1", 31)]])) == [(ChangeKind.MOVED, "B1", (Move.TIME,))]
    assert changes([[visit("1", 20)]], [[visit("1", 9)]]) == ()


def test_who_is_behind_moves_no_stop() -> None:
    # 25 minutes behind: walking on makes the visit at 05:40 + 20 + 25; 10 more are as expected, 11 more are not.
    assert changes([[visit("1", 20)]], [[visit("1", 55)]], behind=25) == ()
    assert said(changes([[visit("1", 20)]], [[visit("1", 56)]], behind=25)) == [(ChangeKind.MOVED, "B1", (Move.TIME,))]


def test_a_stop_moves_to_the_other_person() -> None:
    found = changes([[visit("1")], [visit("2")]], [[visit("1"), visit("2", 5)], []])
    assert said(found) == [(ChangeKind.MOVED, "B2", (Move.PERSON,))]
    assert found[0].before is not None
    assert (found[0].before.phlebotomist, found[0].phlebotomist) == (1, 0)


def test_of_a_changed_order_only_the_stop_that_jumped_has_moved() -> None:
    last = [[visit("1"), visit("2", 2), visit("3", 4), visit("4", 6)]]
    now = [[visit("1"), visit("4", 2), visit("2", 4), visit("3", 6)]]
    assert said(changes(last, now)) == [(ChangeKind.MOVED, "B4", (Move.ORDER,))]


def test_of_two_that_swap_the_one_whose_time_moved_counts() -> None:
    last = [[visit("1"), visit("2", 8)]]
    now = [[visit("2", 6), visit("1", 12)]]
    assert said(changes(last, now)) == [(ChangeKind.MOVED, "B1", (Move.ORDER, Move.TIME))]


def test_a_patient_who_lies_elsewhere_is_a_stop_that_moved() -> None:
    assert said(changes([[visit("1")]], [[visit("1", bed="B4")]])) == [(ChangeKind.MOVED, "B4", (Move.BED,))]


def test_a_dropped_stop_says_why() -> None:
    unplanned = Unplanned(order_id=OrderId("O1"), reason=Reason.CANCELLED, detail="")
    found = changes([[visit("13"), visit("2", 5)]], [[visit("2", 5)]], [unplanned])
    assert said(found) == [(ChangeKind.DROPPED, "B1", ())]
    assert found[0].gone_orders == ("O1", "O3")
    assert found[0].reasons == (unplanned,)


def test_other_orders_at_the_same_stop_are_a_change_of_orders() -> None:
    found = changes([[visit("12")]], [[visit("13")]])
    assert said(found) == [(ChangeKind.ORDERS, "B1", ())]
    assert (found[0].new_orders, found[0].gone_orders) == (("O3",), ("O2",))


def test_a_visit_split_in_two_goes_on_with_the_larger_part() -> None:
    found = changes([[visit("123")]], [[visit("1"), visit("23", 5, bed="B1")]])
    assert said(found) == [(ChangeKind.ADDED, "B1", ()), (ChangeKind.ORDERS, "B1", ())]


def test_a_promised_visit_that_was_made_since_is_no_change() -> None:
    assert changes([[visit("1"), visit("2", 5)]], [[visit("1", 0, Outcome.COLLECTED), visit("2", 5)]]) == ()


def test_a_patient_who_was_away_and_is_tried_again_has_moved() -> None:
    found = changes([[visit("1")]], [[visit("1", 0, Outcome.AWAY), visit("1", 25)]])
    assert said(found) == [(ChangeKind.MOVED, "B1", (Move.TIME,))]


@pytest.mark.slow
@given(st.permutations(range(7)), st.lists(st.booleans(), min_size=7, max_size=7))
def test_the_longest_run_is_as_long_and_as_much_preferred_as_any(positions: list[int], preferred: list[bool]) -> None:
    """Against all subsets of the positions."""
    runs = [
        run
        for size in range(len(positions) + 1)
        for run in combinations(range(len(positions)), size)
        if all(positions[a] < positions[b] for a, b in pairwise(run))
    ]
    best = max((len(run), sum(preferred[k] for k in run)) for run in runs)
    found = longest_run(positions, preferred)
    assert tuple(found) in runs
    assert (len(found), sum(preferred[k] for k in found)) == best
