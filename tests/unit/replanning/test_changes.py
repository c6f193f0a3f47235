"""Changes told during a round: each applied once, or a finding; the given problem stays as it is."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from planner.domain.changes import Change, NewOrders, StatOrders
from planner.domain.orders import OrderId, PatientId, Priority, TimeWindow
from planner.domain.places import PickupKind, PlaceId, PlaceKind
from planner.domain.plan import Outcome, Plan, Reason, Unplanned
from planner.domain.problem import Problem
from planner.domain.replan import AddOn, Replan
from planner.findings import Severity
from planner.replanning.changes import Changed, apply_changes, drawn_orders
from planner.replanning.shorthand import PARSERS
from tests.builders import (
    clock,
    make_order,
    make_patient,
    make_phlebotomist,
    make_place,
    make_problem,
    make_ward,
)
from tests.replan_builders import make_handover, make_plan, make_visit

NOW_S = clock("05:42")
STAFF = (make_phlebotomist("AB", name="Ann Bell"), make_phlebotomist("CD", name="Carl Dee-Dale", from_s=clock("06:00")))


def ward_round(**changes: Any) -> tuple[Problem, Plan]:
    """B1: P1 with O1 (drawn at 05:10); B2: P2 with O2 (due at 06:00); B3: P3 with O3, O4 (06:10); B4 is empty."""
    orders = [make_order("O1", "P1"), make_order("O2", "P2"), make_order("O3", "P3"), make_order("O4", "P3", "BMP")]
    problem = make_problem(orders, staff=STAFF, **changes)
    visits = [
        make_visit(problem, ["O1"], "05:10", outcome=Outcome.COLLECTED),
        make_visit(problem, ["O2"], "06:00"),
        make_visit(problem, ["O3", "O4"], "06:10"),
    ]
    return problem, make_plan(visits, [])


def tell(*texts: str | Change, of: tuple[Problem, Plan] | None = None, now: str = "05:42") -> Changed:
    """Apply changes, given as values or as 'option text'."""
    problem, plan = of or ward_round()
    changes = [PARSERS[t.split(" ", 1)[0]](t.split(" ", 1)[1]) if isinstance(t, str) else t for t in texts]
    return apply_changes(problem, plan, changes, clock(now))


def next_revision(changed: Changed, plan: Plan) -> tuple[Problem, Plan]:
    """The changed round as the parent of another revision."""
    before = changed.problem.replan.known if changed.problem.replan else ()
    replan = Replan(parent=1, now_s=NOW_S, given=changed.given, known=(*before, *changed.given), past=())
    return replace(changed.problem, replan=replan), plan


def codes(changed: Changed) -> list[str]:
    return [f.code for f in changed.findings]


def test_nothing_told_changes_nothing() -> None:
    problem, _ = ward_round()
    assert tell().problem == problem
    assert (tell().given, tell().findings) == ((), ())


# Orders


def test_stat_orders_get_numbers_and_the_time() -> None:
    changed = tell("stat 2:CBC,LACT")
    new = [o for o in changed.problem.orders if o.id.startswith("S")]
    assert [(o.id, o.test, o.patient_id) for o in new] == [("S0542-1", "CBC", "P2"), ("S0542-2", "LACT", "P2")]
    assert {(o.priority, o.ordered_s) for o in new} == {(Priority.STAT, NOW_S)}
    assert changed.added == ("S0542-1", "S0542-2")
    assert changed.given == ("stat CBC at bed W B2 (order S0542-1)", "stat LACT at bed W B2 (order S0542-2)")


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
    assert changed.given == ("stat CBC at bed W B2 (order S0542-1)",)


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
    assert changed.given == ("order O2 cancelled (at 05:42)",)
    again = tell("cancel O2", of=next_revision(changed, ward_round()[1]))
    assert (again.given, codes(again)) == ((), ["change-known"])


@pytest.mark.parametrize(("text", "code"), [("cancel O1", "order-drawn"), ("cancel O77", "order-not-found")])
def test_order_that_cannot_be_cancelled_stays(text: str, code: str) -> None:
    changed = tell(text)
    assert (changed.given, codes(changed)) == ((), [code])
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
    replan = Replan(parent=1, now_s=NOW_S, given=(), known=(), past=(), addons=(addon,))
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


def test_listed_orders_are_added_with_new_patients() -> None:
    new = make_patient("P9", "B4")
    changed = tell(NewOrders(orders=(make_order("N1", "P2"), make_order("N2", "P9")), patients=(new,)))
    assert changed.added == ("N1", "N2")
    assert changed.problem.patients[PatientId("P9")].bed == "B4"
    assert changed.given == ("order N1 CBC at bed W B2", "order N2 CBC at bed W B4")
    again = tell(NewOrders(orders=(make_order("N1", "P2", note="again"),)), of=next_revision(changed, ward_round()[1]))
    assert (again.added, codes(again)) == ((), ["order-known"])


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
    assert (again.given, codes(again)) == ((), ["order-known"])


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


def test_absence_is_added_once() -> None:
    changed = tell("away 2=06:30-07:15")
    span = TimeWindow(earliest_s=clock("06:30"), latest_s=clock("07:15"))
    assert changed.problem.patients[PatientId("P2")].away == (span,)
    assert changed.given == ("patient of bed W B2 away 06:30-07:15",)
    again = tell("away B2=06:30-07:15", of=next_revision(changed, ward_round()[1]))
    assert (again.given, codes(again)) == ((), ["change-known"])


def test_absence_that_is_over_changes_nothing() -> None:
    changed = tell("away 2=05:00-05:42")
    assert (changed.given, codes(changed)) == ((), ["change-in-the-past"])


def test_patients_may_change_places() -> None:
    changed = tell("moved 2=3", "moved 3=2")
    assert {p.id: p.bed for p in changed.problem.patients.values()} == {"P1": "B1", "P2": "B3", "P3": "B2"}
    assert changed.given[0] == "patient of bed W B2 moved to W B3 (told at 05:42)"


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
    assert (again.given, codes(again)) == ((), ["change-known"])


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
    changed = tell("moved 14=13", of=(problem, make_plan([])))
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
    assert changed.given[0] == "patient of bed W B3 gone (told at 05:42, 2 orders set aside)"
    again = tell("moved 1=", of=next_revision(changed, ward_round()[1]))
    assert (again.given, codes(again)) == ((), ["change-known"])


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


def test_late_counts_from_now_or_from_a_shift_to_come() -> None:
    changed = tell("late AB=20", "late Carl Dee-Dale=20", "late ab=06:40")
    # AB works: 05:42 + 20 min, then told until 06:40; CD begins at 06:00: + 20 min
    assert changed.people.ready_s == {0: clock("06:40"), 1: clock("06:20")}
    assert changed.given[:2] == (
        "AB late by 20 minutes (not before 06:02)",
        "CD late by 20 minutes (not before 06:20)",
    )


def test_what_was_told_of_people_is_remembered() -> None:
    problem, plan = next_revision(tell("late CD=20", "lost AB"), ward_round()[1])
    later = tell("late CD=20", "lost AB", of=(problem, plan), now="06:10")
    assert later.people.ready_s == {1: clock("06:20")}
    assert later.people.lost == {0}
    assert codes(later) == ["change-known", "change-known"]
    assert "CD=HH:MM" in later.findings[1].message  # how to say another delay
    assert tell(of=(problem, plan), now="06:21").people.ready_s == {}


def test_lost_person_stays_in_the_staff() -> None:
    changed = tell("lost Dale")
    assert changed.people.lost == {1}
    assert changed.problem.staff == STAFF
    assert changed.given == ("CD collects no more (from 05:42)",)


def test_name_of_nobody_or_of_several_is_a_finding() -> None:
    problem, plan = ward_round()
    twins = replace(problem, staff=(*STAFF, make_phlebotomist("EF", name="Ann Fox")))
    changed = tell("lost Ann", "late Zoe=5", of=(twins, plan))
    assert codes(changed) == ["person-not-found", "person-not-found"]
    assert "AB" in changed.findings[0].message and "CD" not in changed.findings[0].message


def test_joining_person_starts_at_the_base_at_the_end_of_the_staff() -> None:
    changed = tell("join Ann Bright=06:00", "join Nora West=05:00-08:00")
    assert changed.problem.staff[:2] == STAFF
    ann, nora = changed.problem.staff[2:]
    assert (ann.initials, ann.from_s, ann.until_s, ann.starts_at) == ("AB3", clock("06:00"), clock("09:00"), "BASE")
    assert (nora.initials, nora.from_s, nora.until_s) == ("NW", NOW_S, clock("08:00"))  # nobody joins before now
    again = tell("join Nora West=05:00-08:00", "join ab=06:00", of=next_revision(changed, ward_round()[1]))
    assert codes(again) == ["change-known", "person-known"]


def test_joining_for_no_time_is_a_finding() -> None:
    assert codes(tell("join NW=04:00-05:42")) == ["change-in-the-past"]


# Couriers: PICKUP at 06:00, 07:00, 08:00, 09:00


def departures(changed: Changed) -> list[str]:
    pickup = next(p for p in changed.problem.pickups if p.kind is PickupKind.COURIER)
    return [changed.problem.clock.format_clock(s) for s in pickup.departures_s]


def test_courier_times_replace_those_to_come() -> None:
    changed = tell("courier pickup=06:20,07:30", now="06:05")
    assert departures(changed) == ["06:00", "06:20", "07:30"]
    assert changed.given == ("courier at PICKUP at 06:20, 07:30 (told at 06:05)",)
    again = tell("courier pickup=07:30,06:20", of=next_revision(changed, ward_round()[1]), now="06:10")
    assert (again.given, codes(again)) == ((), ["change-known"])


def test_delay_moves_the_next_departure_once() -> None:
    changed = tell("courier PICKUP=+15")
    assert departures(changed) == ["06:15", "07:00", "08:00", "09:00"]
    again = tell("courier PICKUP=+15", of=next_revision(changed, ward_round()[1]))
    assert (departures(again), codes(again)) == (["06:15", "07:00", "08:00", "09:00"], ["change-known"])


def test_courier_who_comes_no_more_keeps_what_is_gone() -> None:
    assert departures(tell("courier PICKUP=none", now="07:10")) == ["06:00", "07:00"]


def test_courier_who_never_came_does_not_leave_at_once() -> None:
    # no departure at all would mean that specimens leave at once: one before the round stays, which nobody meets
    problem, plan = ward_round()
    changed = tell("courier PICKUP=none", of=(problem, plan))
    assert departures(changed) == ["04:59"]
    again = tell("courier PICKUP=none", of=next_revision(changed, plan))
    assert codes(again) == ["change-known"]


def test_time_that_is_over_is_not_a_departure() -> None:
    changed = tell("courier PICKUP=05:30,06:20")
    assert (departures(changed), codes(changed)) == (["06:20"], ["change-in-the-past"])
    assert departures(tell("courier PICKUP=05:30")) == ["06:00", "07:00", "08:00", "09:00"]


@pytest.mark.parametrize(
    ("text", "severity"), [("courier PICKUP=06:30", Severity.WARNING), ("courier PICKUP=none", Severity.ERROR)]
)
def test_specimens_that_wait_for_a_moved_courier_are_told(text: str, severity: Severity) -> None:
    problem, plan = ward_round()
    waiting = make_plan([plan.routes[0].stops[0], make_handover(depart="05:40", departs="06:00")])
    changed = tell(text, of=(problem, waiting))
    assert [(f.code, f.severity) for f in changed.findings] == [("courier-waiting", severity)]


def test_place_without_a_courier_lists_those_that_have_one() -> None:
    changed = tell("courier STATION=06:20")
    assert codes(changed) == ["courier-not-found"]
    assert "PICKUP" in changed.findings[0].message


# All together


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
    texts = [*changed.given, *(f.message for f in changed.findings)]
    assert not any(word in text for text in texts for word in ("Family", "Given", "P1", "P2", "P3", "P8"))
