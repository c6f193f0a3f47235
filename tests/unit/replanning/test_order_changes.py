"""Orders asked for at once, cancelled, drawn again: each applied once, or a finding."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.orders import OrderId, PatientId, Priority
from planner.domain.places import PlaceId
from planner.domain.plan import Outcome, Reason, Unplanned
from planner.domain.revisions.changes import StatOrders
from planner.domain.revisions.replan import AddOn, Replan
from planner.findings import Severity
from planner.replanning.changes.apply import drawn_orders
from tests.builders import (
    clock,
)
from tests.replan_builders import make_plan, make_visit
from tests.unit.replanning.told import NOW_S, codes, given, next_revision, tell, ward_round


def test_stat_orders_get_numbers_and_the_time() -> None:
    changed = tell("stat 2:CBC,LACT")
    new = [o for o in changed.problem.orders if o.id.startswith("S")]
    assert [(o.id, o.test, o.patient_id) for o in new] == [("S0542-1", "CBC", "P2"), ("S0542-2", "LACT", "P2")]
    assert {(o.priority, o.ordered_s) for o in new} == {(Priority.STAT, NOW_S)}
    assert changed.added == ("S0542-1", "S0542-2")
    assert given(changed) == ("stat CBC at bed B2 (order S0542-1)", "stat LACT at bed B2 (order S0542-2)")


def test_stat_number_that_is_taken_is_not_given_again() -> None:
    problem, plan = ward_round()
    taken = Unplanned(order_id=OrderId("S0542-1"), reason=Reason.CANCELLED, detail="")
    assert tell("stat 2:CBC", of=(replace(problem, set_aside=(taken,)), plan)).added == ("S0542-2",)


def test_two_culture_sets_are_a_series() -> None:
    changed = tell(StatOrders(bed="B2", tests=("BC", "BC")))
    new = [changed.problem.order(i) for i in changed.added]
    assert [o.test for o in new] == ["BC", "BC"]
    assert {o.series for o in new} == {"S0542-1 BC"}


def test_test_named_twice_is_one_order() -> None:
    changed = tell(StatOrders(bed="B2", tests=("CBC", "CBC")))
    assert changed.added == ("S0542-1",)
    assert given(changed) == ("stat CBC at bed B2 (order S0542-1)",)


def test_same_stat_in_the_next_command_is_recognised_test_by_test() -> None:
    first = tell("stat 2:CBC")
    again = tell("stat B2:LACT,CBC", of=next_revision(first, ward_round()[1]), now="05:50")
    assert again.added == ("S0550-1",)
    assert again.problem.order(OrderId("S0550-1")).test == "LACT"
    assert codes(again) == ["change-known"]
    assert again.findings[0].severity is Severity.NOTE
    assert '"B2:CBC again"' in again.findings[0].message


def test_stat_wanted_once_more_is_ordered_once_at_each_time() -> None:
    first = tell("stat 2:CBC")
    again = tell("stat 2:CBC again", of=next_revision(first, ward_round()[1]), now="06:30")
    assert again.added == ("S0630-1",)
    retyped = tell("stat 2:CBC again", of=next_revision(again, ward_round()[1]), now="06:30")
    assert (retyped.added, codes(retyped)) == ((), ["change-known"])


def test_stat_for_the_next_patient_in_a_bed_is_another() -> None:
    problem, plan = next_revision(tell("stat 2:CBC"), ward_round()[1])
    moved = tell("moved 2=4", "moved 3=2", "stat 2:CBC", of=(problem, plan), now="05:50")
    assert [moved.problem.order(i).patient_id for i in moved.added] == ["P3"]


def test_unknown_test_and_bed_are_findings_and_the_rest_goes_on() -> None:
    changed = tell("stat 2:CBB,LACT", "stat 9:CBC", "stat 4:CBC")
    assert [changed.problem.order(i).test for i in changed.added] == ["LACT"]
    assert codes(changed) == ["unknown-test", "bed-not-found", "bed-empty"]
    assert "CBC" in changed.findings[0].message  # the nearest code


def test_cancelled_order_is_set_aside() -> None:
    changed = tell("cancel o2")
    assert OrderId("O2") not in {o.id for o in changed.problem.orders}
    aside = changed.problem.set_aside[-1]
    assert (aside.order_id, aside.reason, aside.bed, aside.test) == ("O2", Reason.CANCELLED, "B2", "CBC")
    assert given(changed) == ("order O2 cancelled (at 05:42)",)
    again = tell("cancel O2", of=next_revision(changed, ward_round()[1]))
    assert (given(again), codes(again)) == ((), ["change-known"])


@pytest.mark.parametrize(("text", "code"), [("cancel O1", "order-drawn"), ("cancel O77", "order-not-found")])
def test_order_that_cannot_be_cancelled_stays(text: str, code: str) -> None:
    changed = tell(text)
    assert (given(changed), codes(changed)) == ((), [code])
    assert changed.problem == ward_round()[0]


def test_visit_that_is_due_counts_as_drawn_unless_it_failed() -> None:
    problem, _ = ward_round()
    visits = [
        make_visit(problem, ["O1"], "05:10", outcome=Outcome.AWAY),
        make_visit(problem, ["O2"], "05:41"),
        make_visit(problem, ["O3", "O4"], "05:20", outcome=Outcome.PARTIAL, tried=(OrderId("O4"),)),
    ]
    assert drawn_orders(make_plan(visits), NOW_S) == {"O2", "O3"}


def test_cancelled_add_on_asks_for_a_phone_call() -> None:
    problem, plan = ward_round()
    addon = AddOn(
        order_id=OrderId("O2"),
        patient_id=PatientId("P2"),
        place=PlaceId("B2"),
        test=problem.orders[1].test,
        draw_id=plan.routes[0].visits[0].draw_id,
        tube=problem.catalogue.tests[problem.orders[1].test].accepts[0][0],
        draw_position=1,
        drawn_s=clock("05:10"),
        collector="AB",
    )
    replan = Replan(parent=1, now_s=NOW_S, past=(), addons=(addon,))
    changed = tell("cancel O2", of=(replace(problem, replan=replan), plan))
    assert codes(changed) == ["addon-cancelled"]
    assert changed.problem.set_aside[-1].reason is Reason.CANCELLED


def test_drawn_order_is_drawn_again_and_one_to_come_is_not() -> None:
    changed = tell("recollect O1", "recollect O2")
    assert (changed.recollect, codes(changed)) == ({"O1"}, ["order-not-drawn"])
    problem, plan = next_revision(changed, ward_round()[1])
    pending = make_plan([*plan.routes[0].stops, make_visit(problem, ["O1"], "06:30")])
    assert codes(tell("recollect O1", of=(problem, pending))) == ["change-known"]
    made = make_plan([*plan.routes[0].stops, make_visit(problem, ["O1"], "06:30", outcome=Outcome.COLLECTED)])
    assert tell("recollect O1", of=(problem, made), now="07:00").recollect == {"O1"}


# A list of new orders
