"""Lists that come during the round, and tests asked for at once: read against the round's own patients and places."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from planner.domain.order_parts import OrderPart
from planner.domain.orders import OrderId, PatientId, Priority
from planner.domain.places import PlaceId
from planner.domain.plan import Reason, Unplanned
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Cancel, Moved, NewOrders, StatOrders
from planner.domain.revisions.replan import Replan
from planner.findings import Finding, Severity
from planner.loaders.during.new_orders import read_new_orders
from planner.loaders.during.stat_tests import look_up_tests
from planner.replanning.changes.apply import apply_changes
from tests.builders import (
    clock,
    make_catalogue,
    make_order,
    make_patient,
    make_phlebotomist,
    make_place,
    make_problem,
    make_test,
    make_ward,
)
from tests.replan_builders import make_plan

Read = Callable[..., tuple[NewOrders, tuple[Finding, ...]]]


def ward_round() -> Problem:
    """P1 in B1 and 0000123 in B2 have an order each; B3 and B4 are empty. FamilyP1 was born on 1960-05-17."""
    patients = [make_patient("P1", "B1"), make_patient("0000123", "B2", family_name="Okafor", given_name="Ada")]
    return make_problem([make_order("O1", "P1"), make_order("O2", "0000123", "BMP")], patients, places=make_ward(4))


@pytest.fixture
def read(tmp_path: Path) -> Read:
    def write_and_read(
        text: str, of: Problem | None = None, name: str = "new.csv"
    ) -> tuple[NewOrders, tuple[Finding, ...]]:
        (tmp_path / name).write_text(text, encoding="utf-8")
        return read_new_orders(tmp_path / name, of or ward_round())

    return write_and_read


def codes(findings: tuple[Finding, ...]) -> list[str]:
    return [f.code for f in findings if f.severity is not Severity.NOTE]


def test_orders_of_known_patients_need_a_number_and_a_test(read: Read) -> None:
    new, findings = read("order,patient no,test,priority,collect at\nN1,P1,LFT,asap,\nN2,0000123,CBC,,06:30\n")
    assert [(o.id, o.patient_id, o.test, o.priority) for o in new.orders] == [
        ("N1", "P1", "LFT", Priority.ASAP),
        ("N2", "0000123", "CBC", Priority.ROUTINE),
    ]
    assert new.orders[1].collect_at_s == clock("06:30")
    assert (new.patients, new.set_aside, codes(findings)) == ((), (), [])


def test_new_patient_comes_with_the_bed(read: Read) -> None:
    new, findings = read('order,patient no,name,dob,bed,test\nN1,P9,"Roe, Jan",1950-03-01,3,CBC\n')
    assert [(p.id, p.bed, p.ward, p.birth_date) for p in new.patients] == [("P9", "B3", "W", date(1950, 3, 1))]
    assert codes(findings) == []
    problem = ward_round()
    changed = apply_changes(problem, make_plan([]), [new], clock("05:42"))
    assert changed.problem.order(OrderId("N1")).patient_id == "P9"


def test_patient_without_bed_is_not_known(read: Read) -> None:
    new, findings = read("order,patient no,test\nN1,P9,CBC\n")
    assert [o.id for o in new.orders] == ["N1"]
    changed = apply_changes(ward_round(), make_plan([]), [new], clock("05:42"))
    assert [(u.order_id, u.reason) for u in changed.problem.set_aside] == [("N1", Reason.UNKNOWN_PATIENT)]
    assert codes(findings) == []


@pytest.mark.parametrize(
    ("row", "reason", "code"),
    [
        ("N1,P1,,,,NOPE", Reason.UNKNOWN_TEST, "unknown-test"),
        ("N1,,,,,CBC", Reason.UNKNOWN_PATIENT, "patient-missing"),
        ("N1,P9,Roe,1950-03-01,,CBC", Reason.NO_BED, "bed-missing"),
        ("N1,P1,Other,1950-03-01,,CBC", Reason.IDENTITY_CONFLICT, "identity-conflict"),
        ("N1,P1,,1950-03-01,,CBC", Reason.IDENTITY_CONFLICT, "identity-conflict"),
        ("N1,P1,Other,,,CBC", Reason.IDENTITY_CONFLICT, "identity-conflict"),
        ("N1,P9,Roe,1950-13-01,B3,CBC", Reason.UNREADABLE, "date-unreadable"),
    ],
)
def test_order_that_cannot_be_used_is_set_aside(read: Read, row: str, reason: Reason, code: str) -> None:
    new, findings = read(f"order,patient no,family name,dob,bed,test\n{row}\nN2,P1,,,,LFT\n")
    assert [(u.order_id, u.reason) for u in new.set_aside if u.order_id == "N1"] == [("N1", reason)]
    assert code in codes(findings)
    assert len(new.orders) + len(new.set_aside) == 2


@pytest.mark.parametrize(("column", "has_notes"), [(",note", True), ("", False)])
def test_list_with_a_column_for_notes_has_notes_though_all_cells_are_empty(
    read: Read, column: str, has_notes: bool
) -> None:
    new, _ = read(f"order,patient no,test{column}\nN1,P1,CBC{',' if column else ''}\n")
    assert new.has_notes is has_notes


def test_same_person_written_otherwise_is_no_conflict(read: Read) -> None:
    new, findings = read("order,patient no,patient name,dob,test\nN1,0000123,Ada OKAFOR,17.05.1960,CBC\n")
    assert [o.id for o in new.orders] == ["N1"]
    assert codes(findings) == []


def test_other_bed_of_a_known_patient_needs_a_decision(read: Read) -> None:
    new, findings = read("order,patient no,bed,test\nN1,P1,B4,CBC\n")
    assert [o.id for o in new.orders] == ["N1"]
    assert codes(findings) == ["bed-differs"]
    assert "--moved B1=B4" in findings[-1].message
    assert findings[-1].severity is Severity.ERROR
    assert codes(read("order,patient no,ward,bed,test\nN1,P1,W,1,CBC\n")[1]) == []


def test_bed_in_two_wards_is_not_clear(read: Read) -> None:
    places = [*make_ward(2), make_place("A/14", ward="A", label="14"), make_place("B/14", ward="B", label="14")]
    problem = make_problem([make_order()], places=places, walking={})
    new, findings = read("order,patient no,dob,bed,test\nN1,P9,1950-03-01,14,CBC\n", of=problem)
    assert [u.reason for u in new.set_aside] == [Reason.NO_BED]
    assert "unknown-bed" in codes(findings)
    new, _ = read("order,patient no,dob,ward,bed,test\nN1,P9,1950-03-01,B,14,CBC\n", of=problem)
    assert [p.bed for p in new.patients] == ["B/14"]


def test_order_of_the_round_that_is_put_on_hold_is_no_longer_drawn(read: Read) -> None:
    new, _ = read("order,patient no,test,status\nO1,P1,CBC,on hold\nN1,P1,LFT,on hold\n")
    assert new.cancelled == ("O1",)
    assert [(u.order_id, u.reason) for u in new.set_aside] == [("N1", Reason.ON_HOLD)]


def test_cancelled_order_of_the_round_is_told_apart(read: Read) -> None:
    new, _ = read("order,patient no,test,status\nO1,P1,CBC,cancelled\nN1,P1,CBC,cancelled\nN2,P1,LFT,active\n")
    assert new.cancelled == ("O1",)
    assert [(u.order_id, u.reason) for u in new.set_aside] == [("N1", Reason.CANCELLED)]
    assert [o.id for o in new.orders] == ["N2"]


def test_whole_list_given_again_changes_nothing_but_what_is_new(read: Read) -> None:
    text = "order,patient no,test\nO1,P1,CBC\nO2,0000123,BMP\nN1,P1,LFT\n"
    changed = apply_changes(ward_round(), make_plan([]), [read(text)[0]], clock("05:42"))
    assert changed.added == ("N1",)
    again = apply_changes(changed.problem, make_plan([]), [read(text, of=changed.problem)[0]], clock("05:50"))
    assert (again.added, again.problem) == ((), changed.problem)


def test_rows_without_numbers_are_known_again_by_file_and_row(read: Read) -> None:
    text = "patient no,test\nP1,LFT\n"
    changed = apply_changes(ward_round(), make_plan([]), [read(text)[0]], clock("05:42"))
    assert changed.added == ("new.csv row-2",)
    problem = changed.problem
    assert apply_changes(problem, make_plan([]), [read(text, of=problem)[0]], clock("05:50")).added == ()
    other = apply_changes(problem, make_plan([]), [read("patient no,test\nP1,PT\n", of=problem)[0]], clock("05:50"))
    assert other.added == ("new.csv row-2 (2)",)


def test_rows_without_numbers_that_cannot_be_planned_are_not_lost(read: Read) -> None:
    problem = ward_round()
    for text, expected in (
        ("patient no,test\nP1,NOPE\n", ["new.csv row-2"]),
        ("patient no,test\nP1,NOPE\n", ["new.csv row-2"]),
        ("patient no,test\nP1,NADA\n", ["new.csv row-2", "new.csv row-2 (2)"]),
    ):
        problem = apply_changes(problem, make_plan([]), [read(text, of=problem)[0]], clock("05:42")).problem
        assert [u.order_id for u in problem.set_aside] == expected


def test_order_set_aside_for_its_test_is_planned_when_the_list_is_corrected(read: Read) -> None:
    aside = Unplanned(
        order_id=OrderId("N1"), reason=Reason.UNKNOWN_TEST, detail="", patient_id=PatientId("P1"), test="LTF"
    )
    problem = replace(ward_round(), set_aside=(aside,))
    changed = apply_changes(problem, make_plan([]), [read("order,patient no,test\nN1,P1,LFT\n", of=problem)[0]], 20_000)
    assert changed.problem.set_aside == ()
    assert changed.problem.order(OrderId("N1")).test == "LFT"


def test_new_bed_of_a_round_without_a_map_is_kept_as_written(read: Read) -> None:
    new, findings = read("order,patient no,dob,bed,test\nN1,P9,1950-03-01,B7,CBC\n")
    assert [p.bed for p in new.patients] == [PlaceId("B7")]
    assert codes(findings) == []
    changed = apply_changes(ward_round(), make_plan([]), [new], clock("05:42"))  # this round has a map without B7
    assert [(u.order_id, u.reason) for u in changed.problem.set_aside] == [("N1", Reason.NO_BED)]


def test_file_that_is_not_there_or_holds_no_orders(read: Read, tmp_path: Path) -> None:
    assert codes(read_new_orders(tmp_path / "no.csv", ward_round())[1]) == ["input-not-found"]
    assert "no-orders" in codes(read("a,b\n1,2\n")[1])


def test_message_brings_orders_in_the_zone_of_the_round(read: Read) -> None:
    text = (
        "MSH|^~\\&|A|B|C|D|20260310054000+0100||ORM^O01|1|P|2.5\rPID|1||P1\rPV1|1|I|W^^B1\r"
        "ORC|NW|N1\rOBR|1|N1||CBC|||||||||||||||||||||||^^^20260310063000+0100^^S\r"
    )
    new, _ = read(text, name="new.hl7")
    # the round is in UTC: 06:30 at +01:00 is 05:30
    assert [(o.id, o.priority) for o in new.orders] == [("N1", Priority.STAT)]
    assert {o.collect_at_s or o.collect_from_s for o in new.orders} <= {clock("05:30"), None}


# Tests asked for at once


def test_tests_are_found_by_code_loinc_and_name() -> None:
    extra = make_test("POT", ("HEPG",), name="Potassium", loinc="2823-3")
    catalogue = make_catalogue(extra_tests=[extra])
    changes, findings = look_up_tests(
        [StatOrders(bed="14", tests=("lact", "2823-3", "potassium")), Cancel(order_id="A")], catalogue
    )
    assert changes == (StatOrders(bed="14", tests=("LACT", "POT", "POT")), Cancel(order_id="A"))
    assert findings == ()


def test_test_that_is_not_known_is_a_finding_with_near_ones() -> None:
    changes, findings = look_up_tests([StatOrders(bed="14", tests=("LIPDI", "LACT"))], make_catalogue())
    assert changes == (StatOrders(bed="14", tests=("LACT",)),)
    assert codes(findings) == ["unknown-test"]
    assert "LIPID" in findings[0].message
    assert look_up_tests([StatOrders(bed="14", tests=("LIPDI",))], make_catalogue())[0] == ()


def test_culture_sets_are_counted_and_arterial_blood_is_not_drawn() -> None:
    from planner.loaders.catalogue.load import load_catalogue

    catalogue, _ = load_catalogue((), ())
    changes, findings = look_up_tests([StatOrders(bed="14", tests=("blood culture x2", "ABG"))], catalogue)
    assert changes == (StatOrders(bed="14", tests=("BC", "BC")),)
    assert codes(findings) == ["not-venous"]


def test_list_older_than_a_move_is_no_other_bed(read: Read) -> None:
    problem = ward_round()
    moved = apply_changes(problem, make_plan([]), [Moved(bed="B1", to="B4")], clock("05:42"))
    replan = Replan(parent=1, now_s=clock("05:42"), past=(), log=moved.events)
    later = replace(moved.problem, replan=replan)
    assert codes(read("order,patient no,bed,test\nN1,P1,B1,CBC\n", of=later)[1]) == []
    assert codes(read("order,patient no,bed,test\nN1,P1,B3,CBC\n", of=later)[1]) == ["bed-differs"]


def test_list_says_which_parts_of_orders_it_states(read: Read) -> None:
    head = "order,patient no,test,priority,next dose at,fasting\n"
    new, _ = read(head + "O1,P1,CBC,stat,07:00,\nO2,0000123,BMP,,,\n")
    assert new.stated == {OrderPart.PRIORITY, OrderPart.NEXT_DOSE}
    changed = apply_changes(ward_round(), make_plan([]), [new], clock("05:42"))
    order = changed.problem.order(OrderId("O1"))
    assert (order.priority, order.next_dose_s) == (Priority.STAT, clock("07:00"))
    assert changed.problem.order(OrderId("O2")) == ward_round().order(OrderId("O2"))


def test_refused_order_without_a_number_is_not_a_new_one(read: Read) -> None:
    listed = "patient no,test\n0000123,LFT\n"
    name = read(listed)[0].orders[0].id
    aside = Unplanned(order_id=name, reason=Reason.REFUSED, detail="", patient_id=PatientId("0000123"), test="LFT")
    again = read(listed, of=replace(ward_round(), set_aside=(aside,)))[0]
    assert [order.id for order in again.orders] == [name]


def test_repeating_order_of_a_message_falls_into_the_round_that_has_begun(read: Read) -> None:
    # The round lasts from 13:00 to 16:30; read on its own, a message would be taken for a round of 05:00 to 09:00.
    staff = [make_phlebotomist(from_s=clock("13:00"), until_s=clock("16:30"))]
    problem = replace(ward_round(), staff=tuple(staff))
    message = "\r".join(
        (
            "MSH|^~\\&|A|B|C|D|20260310130000||OML^O21|1|P|2.5.1",
            "PID|1||P1||FamilyP1^GivenP1||19600517|F",
            "PV1|1|I|W^B1",
            "ORC|NW|N9|||||^Q2H^^20260310140000^^R",
            "OBR|1|N9||LACT|||||||||||||||||||||||^Q2H^^20260310140000^^R",
        )
    )
    new, findings = read(message, of=problem, name="late.hl7")
    assert [(o.collect_at_s, u) for o in new.orders for u in new.set_aside or [None]] == [
        (clock("14:00"), None),
        (clock("16:00"), None),
    ], findings
