"""Changes told during a round, whatever their kind: the given problem stays as it is, and no order is lost."""

from __future__ import annotations

from planner.domain.orders import PatientId
from planner.domain.revisions.changes import NewOrders
from tests.builders import (
    make_order,
)
from tests.unit.replanning.told import codes, given, tell, ward_round


def test_nothing_told_changes_nothing() -> None:
    problem, _ = ward_round()
    assert tell().problem == problem
    assert (given(tell()), tell().findings) == ((), ())


# Orders


def test_same_change_twice_in_one_command_is_applied_once() -> None:
    changed = tell("stat 2:CBC", "stat 2:CBC", "stat B2:CBC")
    assert changed.added == ("S0542-1",)
    assert codes(changed) == ["change-known", "change-known"]


def test_beds_of_a_command_are_those_after_its_moves() -> None:
    changed = tell("stat 4:CBC", "away 4=06:30-07:00", "moved 2=4")
    assert [changed.problem.order(i).patient_id for i in changed.added] == ["P2"]
    assert changed.problem.patients[PatientId("P2")].away
    assert changed.findings == ()


def test_no_order_is_lost_whatever_is_told() -> None:
    changed = tell("stat 2:CBC,NOPE", "cancel O2", "gone 3", "moved 1=2", NewOrders(orders=(make_order("N1", "P8"),)))
    ids = [o.id for o in changed.problem.orders] + [u.order_id for u in changed.problem.set_aside]
    assert sorted(ids) == ["N1", "O1", "O2", "O3", "O4", "S0542-1"]


def test_no_message_names_a_patient() -> None:
    changed = tell("stat 2:CBC", "gone 3", "moved 1=2", "cancel O1", NewOrders(orders=(make_order("N1", "P8"),)))
    texts = [*given(changed), *(f.message for f in changed.findings)]
    assert not any(word in text for text in texts for word in ("Family", "Given", "P1", "P2", "P3", "P8"))
