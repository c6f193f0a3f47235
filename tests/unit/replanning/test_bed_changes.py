"""Patients who are away, moved or gone, and the ways to beds that were empty."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.orders import PatientId, TimeWindow
from planner.domain.places import PlaceId, PlaceKind
from planner.domain.plan import Reason
from planner.domain.revisions.changes import NewOrders
from tests.builders import (
    clock,
    make_order,
    make_patient,
    make_phlebotomist,
    make_place,
    make_problem,
    make_ward,
)
from tests.replan_builders import make_plan
from tests.unit.replanning.told import NOW_S, codes, given, next_revision, tell, ward_round


def test_absence_is_added_once() -> None:
    changed = tell("away 2=06:30-07:15")
    span = TimeWindow(earliest_s=clock("06:30"), latest_s=clock("07:15"))
    assert changed.problem.patients[PatientId("P2")].away == (span,)
    assert given(changed) == ("patient of bed B2 away 06:30-07:15",)
    again = tell("away B2=06:30-07:15", of=next_revision(changed, ward_round()[1]))
    assert (given(again), codes(again)) == ((), ["change-known"])


def test_absence_that_is_over_changes_nothing() -> None:
    changed = tell("away 2=05:00-05:42")
    assert (given(changed), codes(changed)) == ((), ["change-in-the-past"])


def test_patients_may_change_places() -> None:
    changed = tell("moved 2=3", "moved 3=2")
    assert {p.id: p.bed for p in changed.problem.patients.values()} == {"P1": "B1", "P2": "B3", "P3": "B2"}
    assert given(changed)[0] == "patient of bed B2 moved to B3"


def test_move_to_an_occupied_bed_is_refused_with_all_that_wait_for_it() -> None:
    # 3 cannot go to 1, so 3 is not free for 2
    changed = tell("moved 2=3", "moved 3=1")
    assert codes(changed) == ["bed-occupied", "bed-occupied"]
    assert changed.problem.patients == ward_round()[0].patients


def test_two_moves_to_one_bed_are_refused() -> None:
    assert codes(tell("moved 2=4", "moved 3=4")) == ["bed-occupied", "bed-occupied"]


def test_same_move_in_the_next_command_is_recognised() -> None:
    changed = tell("moved 2=4")
    again = tell("moved 2=4", of=next_revision(changed, ward_round()[1]))
    assert (given(again), codes(again)) == ((), ["change-known"])


def test_move_from_an_empty_bed_or_to_no_bed_is_a_finding() -> None:
    assert codes(tell("moved 4=2", "moved 2=9", "moved 3=3")) == ["bed-empty", "bed-not-found", "bed-occupied"]


def test_way_to_a_bed_that_was_empty_comes_from_the_map() -> None:
    problem, plan = ward_round()
    table = problem.walking.seconds
    few = {pair: s for pair, s in table.items() if "B4" not in pair}
    few[PlaceId("B1"), PlaceId("B2")] = 11  # as a plan was made with; the map says 10 s
    lean = replace(problem, walking=type(problem.walking)(few))
    changed = tell("moved 2=4", of=(lean, plan))
    assert changed.problem.walking.seconds[PlaceId("B1"), PlaceId("B4")] == 30  # three positions of 10 s
    assert changed.problem.walking.seconds[PlaceId("B1"), PlaceId("B2")] == 11
    assert set(changed.problem.walking.seconds) == set(table)


def test_bed_that_a_round_without_a_map_did_not_have_lies_beside_its_neighbour() -> None:
    places = [
        make_place("Base", PlaceKind.BASE, ward=""),
        make_place("Laboratory", PlaceKind.LABORATORY, ward=""),
        make_place("12", position=1, label="12"),
        make_place("14", position=2, label="14"),
    ]
    walks = {("Base", "12"): 4, ("12", "14"): 4, ("Base", "14"): 7, ("Base", "Laboratory"): 300,
             ("12", "Laboratory"): 304, ("14", "Laboratory"): 307}  # fmt: skip
    problem = make_problem(
        [make_order("O1", "P1"), make_order("O2", "P2")],
        [make_patient("P1", "12"), make_patient("P2", "14")],
        places=places,
        corridors=(),
        walking={**walks, **{(b, a): s for (a, b), s in walks.items()}},
        staff=(make_phlebotomist(starts_at=PlaceId("Base")),),
    )
    changed = tell("new-bed 13", "moved 14=13", of=(problem, make_plan([])))
    assert codes(changed) == ["bed-assumed"]
    assert changed.problem.patients[PatientId("P2")].bed == "13"
    # one spacing of 4 m at 1.2 m/s is 3.33 s, rounded up 4 s, beyond bed 12
    seconds = changed.problem.walking.seconds
    assert [seconds[PlaceId("13"), PlaceId(p)] for p in ("12", "Base", "14", "Laboratory")] == [4, 8, 8, 308]
    assert seconds[PlaceId("Base"), PlaceId("13")] == 8


def test_gone_patient_keeps_what_is_drawn_and_frees_the_bed() -> None:
    changed = tell("gone 3", "moved 2=3", "gone 1")
    assert [(u.order_id, u.reason) for u in changed.problem.set_aside] == [
        ("O3", Reason.PATIENT_GONE),
        ("O4", Reason.PATIENT_GONE),
    ]
    assert [o.id for o in changed.problem.orders] == ["O1", "O2"]  # O1 is drawn and stays
    assert changed.problem.patients[PatientId("P2")].bed == "B3"
    assert {p.id for p in changed.problem.patients.values() if p.gone_s == NOW_S} == {"P1", "P3"}
    assert given(changed)[0] == "patient of bed B3 gone (2 orders set aside)"
    again = tell("moved 1=", of=next_revision(changed, ward_round()[1]))
    assert (given(again), codes(again)) == ((), ["change-known"])


def test_new_order_for_a_patient_who_is_gone_is_set_aside() -> None:
    problem, plan = next_revision(tell("gone 3"), ward_round()[1])
    changed = tell(NewOrders(orders=(make_order("N1", "P3"),)), "stat 3:CBC", of=(problem, plan))
    assert changed.problem.set_aside[-1].reason is Reason.PATIENT_GONE
    assert codes(changed) == ["new-order-aside", "bed-empty"]


def test_bed_of_two_wards_lists_the_choices() -> None:
    places = [*make_ward(3), make_place("B/14", ward="B", label="14"), make_place("A/14", ward="A", label="14")]
    problem = make_problem([make_order()], places=places, walking={})
    changed = tell("away 14=06:00-07:00", of=(problem, make_plan([])))
    assert codes(changed) == ["bed-not-found"]
    assert "B 14 or A 14" in changed.findings[0].message


# People
