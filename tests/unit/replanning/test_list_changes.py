"""Orders of a list that comes during a round: added, known, set aside, cancelled."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from planner.domain.orders import OrderId, PatientId
from planner.domain.plan import Reason, Unplanned
from planner.domain.revisions.changes import NewOrders
from tests.builders import (
    make_order,
    make_patient,
)
from tests.unit.replanning.told import codes, given, next_revision, tell, ward_round


def test_listed_orders_are_added_with_new_patients() -> None:
    new = make_patient("P9", "B4")
    changed = tell(NewOrders(orders=(make_order("N1", "P2"), make_order("N2", "P9")), patients=(new,)))
    assert changed.added == ("N1", "N2")
    assert changed.problem.patients[PatientId("P9")].bed == "B4"
    assert given(changed) == (
        "new patient at bed B4",
        "order N1 CBC at bed B2",
        "order N2 CBC at bed B4",
    )
    again = tell(NewOrders(orders=(make_order("N1", "P2"),)), of=next_revision(changed, ward_round()[1]))
    assert (again.added, codes(again)) == ((), ["order-known"])


def test_another_note_of_an_order_of_the_round_is_applied_unless_it_is_drawn() -> None:
    notes = NewOrders(orders=(make_order("O1", "P1", note="late"), make_order("O2", "P2", note="nurse to draw")))
    changed = tell(notes)
    assert {o.id: o.note for o in changed.problem.orders if o.note} == {"O2": "nurse to draw"}
    assert given(changed) == ("order O2 CBC at bed B2: another note",)
    assert codes(changed) == ["order-known"]


@pytest.mark.parametrize(("has_notes", "expected"), [(True, ["order-differs"]), (False, ["order-known"])])
def test_a_note_that_a_list_drops_is_never_dropped_in_silence(has_notes: bool, expected: list[str]) -> None:
    """An order may wait for what its note says; an empty cell can be a slip, a list without notes says nothing."""
    noted = tell(NewOrders(orders=(make_order("O2", "P2", note="repeat"), make_order("N1", "P2", note="repeat"))))
    of = next_revision(noted, ward_round()[1])
    again = tell(NewOrders(orders=(make_order("N1", "P2"),), has_notes=has_notes), of=of)
    assert codes(again) == expected
    assert {o.id: o.note for o in again.problem.orders if o.note} == {"O2": "repeat", "N1": "repeat"}
    other = tell(NewOrders(orders=(make_order("N1", "P2", note="no note"),), has_notes=has_notes), of=of)
    assert (codes(other), given(other)) == ([], ("order N1 CBC at bed B2: another note",))


def test_an_older_list_without_the_note_changes_and_says_nothing() -> None:
    """O2 had no note before the last list gave it one: the list before that may still be in somebody's hands."""
    noted = tell(NewOrders(orders=(make_order("O2", "P2", note="repeat"),), has_notes=True))
    old = NewOrders(orders=(make_order("O2", "P2"),), has_notes=True)
    assert codes(tell(old, of=next_revision(noted, ward_round()[1]))) == ["order-known"]


def test_order_of_the_round_with_other_contents_is_kept() -> None:
    changed = tell(NewOrders(orders=(make_order("O2", "P2", "LFT"),)))
    assert changed.problem == ward_round()[0]
    assert codes(changed) == ["order-differs"]


def test_order_set_aside_before_is_freed() -> None:
    problem, plan = ward_round()
    aside = Unplanned(order_id=OrderId("N1"), reason=Reason.UNKNOWN_TEST, detail="")
    gone = Unplanned(order_id=OrderId("N2"), reason=Reason.CANCELLED, detail="cancelled")
    new = NewOrders(orders=(make_order("N1", "P2"), make_order("N2", "P2")))
    changed = tell(new, of=(replace(problem, set_aside=(aside, gone)), plan))
    assert OrderId("N1") in {o.id for o in changed.problem.orders}
    assert changed.problem.set_aside == (gone,)
    assert codes(changed) == ["order-freed", "order-differs"]


@pytest.mark.parametrize(
    ("orders", "patients", "reason"),
    [
        ([make_order("N1", "P8")], [], Reason.UNKNOWN_PATIENT),
        ([make_order("N1", "P8")], [make_patient("P8", "B2")], Reason.BED_CONFLICT),
        ([make_order("N1", "P8")], [make_patient("P8", "B9")], Reason.NO_BED),
        ([make_order("N1", "P8")], [make_patient("P8", "B4"), make_patient("P7", "B4")], Reason.BED_CONFLICT),
    ],
)
def test_listed_order_that_nobody_can_draw_is_set_aside(orders: Any, patients: Any, reason: Reason) -> None:
    change = NewOrders(orders=tuple(orders), patients=tuple(patients))
    changed = tell(change)
    assert [(u.order_id, u.reason) for u in changed.problem.set_aside] == [("N1", reason)]
    assert codes(changed) == ["new-order-aside"]
    assert changed.problem.orders == ward_round()[0].orders
    again = tell(change, of=next_revision(changed, ward_round()[1]))
    assert (given(again), codes(again)) == ((), ["order-known"])


def test_listed_order_under_a_number_of_two_people_is_set_aside() -> None:
    problem, plan = ward_round()
    clash = Unplanned(
        order_id=OrderId("X1"),
        reason=Reason.IDENTITY_CONFLICT,
        detail="two people",
        patient_id=PatientId("P8"),
        bed="B4",
    )
    new = NewOrders(orders=(make_order("N1", "P8"),), patients=(make_patient("P8", "B4"),))
    changed = tell(new, of=(replace(problem, set_aside=(clash,)), plan))
    assert [u.reason for u in changed.problem.set_aside] == [Reason.IDENTITY_CONFLICT] * 2
    assert PatientId("P8") not in changed.problem.patients


def test_list_that_cancels_an_order_of_the_round() -> None:
    changed = tell(NewOrders(cancelled=(OrderId("O2"),)))
    assert [(u.order_id, u.reason) for u in changed.problem.set_aside] == [("O2", Reason.CANCELLED)]


# Beds
