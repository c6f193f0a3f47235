"""Events: recognised by what they say, applied again from the log, kept in plan.json; what happened stays happened."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from planner.domain.order_parts import OrderPart
from planner.domain.orders import OrderId, PatientId, Priority
from planner.domain.places import PlaceId, PlaceKind
from planner.domain.plan import Outcome, Plan, Reason
from planner.domain.problem import Problem
from planner.domain.revisions.changes import NewOrders
from planner.domain.revisions.events import Event, EventId, PatientGone, StatOrdered
from planner.domain.revisions.reported import Reported
from planner.exporters.plan_json import plan_from_json, plan_to_json
from planner.findings import Severity
from planner.replanning.next_problem import next_problem, remade_problem
from planner.replanning.remake import Made, remade_faults
from tests.builders import clock, make_order, make_place
from tests.replan_builders import five_wards, make_plan
from tests.unit.replanning.told import codes, given, next_revision, tell, ward_round

NOW = clock("05:42")


def untidy() -> tuple[Problem, Plan]:
    """Five wards with equal bed numbers; the shelf is called 'Courier shelf (north)'."""
    problem, plan = five_wards()
    shelf = make_place("SHELF", PlaceKind.PICKUP, position=99, label="Courier shelf (north)")
    return replace(problem, places={**problem.places, PlaceId("SHELF"): shelf}), plan


@pytest.mark.parametrize(
    "text",
    [
        "courier Courier shelf (north)=+10",
        "stat St. Anne, 2nd floor 1A:CBC",
        "stat larch north 1a:LACT",
        "late AB=20",
        "lost AB",
        "join Nora (float) West=06:00",
        "away Heron 1A=06:30-07:00",
        "gone Juniper 1A",
        "moved Kestrel 1A=Kestrel 2A",
    ],
)
def test_what_is_given_twice_is_known_whatever_brackets_stand_in_a_name(text: str) -> None:
    problem, plan = untidy()
    plan = replace(plan, routes=(replace(plan.routes[0], stops=()),))
    first = tell(text, of=(problem, plan))
    again = tell(text, of=next_revision(first, plan), now="05:44")
    assert (codes(first), len(first.events)) == ([], 1)
    assert (codes(again), again.events) == (["change-known"], ())
    assert again.problem.pickups == first.problem.pickups


def test_equality_leaves_out_what_came_of_an_event() -> None:
    gone = PatientGone(patient_id=PatientId("P1"), bed=PlaceId("B1"))
    assert gone == replace(gone, order_ids=(OrderId("O1"),))
    stat = StatOrdered(patient_id=PatientId("P1"), test=make_order().test)
    assert stat == replace(stat, order_ids=(OrderId("S1"),), bed=PlaceId("B2"))
    assert stat != replace(stat, number=2)


ALL = (
    "stat Heron 1A:CBC,LACT",
    "cancel O2",
    "away Larch (north) 1A=06:30-07:00",
    "moved Kestrel 1A=Kestrel 2A",
    "gone St. Anne, 2nd floor 1A",
    "late AB=20",
    "join Nora West=06:00",
    "courier SHELF=+10",
    "time O3=06:30",
)


def everything() -> tuple[Problem, Plan, Problem]:
    """A round in which nobody has begun, its plan, and the round after all kinds of events at 05:08."""
    problem, plan = untidy()
    changes = [change for text in ALL for change in [_parsed(text)]]
    report = Reported(
        order_ids=(OrderId("O1"),),
        draw_id=plan.routes[0].visits[0].draw_id,
        outcome=Outcome.REFUSED,
        at_s=clock("05:08"),
        initials="AB",
    )
    new = NewOrders(orders=(make_order("N1", "P1", "BMP"),))
    following = next_problem(problem, plan, parent=1, now_s=clock("05:08"), reports=[report], changes=[*changes, new])
    assert [f.code for f in following.findings if f.severity is Severity.ERROR] == []
    return problem, plan, following.problem


def _parsed(text: str):
    from planner.loaders.during.shorthand import PARSERS

    option, value = text.split(" ", 1)
    return PARSERS[option](value)


def test_events_make_the_round_again() -> None:
    problem, plan, following = everything()
    assert following.replan is not None
    events = following.replan.events
    assert [event.id for event in events] == [f"2-{n}" for n in range(1, len(events) + 1)]
    assert {event.what.kind.value for event in events} == {
        "reported", "stat", "cancelled", "away", "moved", "gone", "late", "joined", "courier", "order",
        "order-changed", "list-read",
    }  # fmt: skip
    assert (events[0].happened_s, events[0].by) == (clock("05:08"), "AB")
    assert remade_problem(problem, plan, parent=1, now_s=clock("05:08"), events=events) == following


def test_a_revision_changed_by_hand_is_found_out() -> None:
    problem, plan, following = everything()
    first, second = Made(problem=problem, plan=plan), Made(problem=following, plan=plan)
    assert list(remade_faults({1: first, 2: second}, lambda number, problem: None)) == []
    assert list(remade_faults({1: first, 2: second}, lambda number, problem: plan)) == []
    faults = list(remade_faults({1: first, 2: second}, lambda number, problem: make_plan([])))
    assert [fault.code for fault in faults] == ["revision-differs"]
    assert following.replan is not None
    without = replace(following, replan=replace(following.replan, events=following.replan.events[:-1]))
    (fault,) = remade_faults({1: first, 2: Made(problem=without, plan=plan)}, lambda number, problem: None)
    assert "pickups, replan differ" in fault.message


def _json(problem: Problem, plan: Plan) -> bytes:
    return plan_to_json(problem, plan, revision=2, parent=1, inputs_digest="x", params={}, findings=())


def test_events_are_kept_in_plan_json() -> None:
    _problem, plan, following = everything()
    plan = replace(plan, routes=tuple(replace(route, stops=()) for route in plan.routes))
    assert plan_from_json(_json(following, plan)).problem == following
    kinds = [event["what"]["kind"] for event in json.loads(_json(following, plan))["problem"]["replan"]["events"]]
    assert "gone" in kinds and "cancelled" in kinds


def test_sentences_of_schema_1_are_read_as_notes() -> None:
    _problem, plan, following = everything()
    plan = replace(plan, routes=tuple(replace(route, stops=()) for route in plan.routes))
    old = json.loads(_json(following, plan))
    old["schema"] = "collection-round-plan/1"
    replan = old["problem"]["replan"]
    del replan["events"], replan["log"]
    replan["given"], replan["known"] = (
        ["AB late by 20 minutes (not before 06:02)"],
        ["courier at X (north) comes no more"],
    )
    read = plan_from_json(json.dumps(old).encode()).problem.replan
    assert read is not None
    assert read.notes == ("courier at X (north) comes no more", "AB late by 20 minutes (not before 06:02)")
    assert (read.events, read.log) == ((), ())


# What a list says when it is read again


def test_who_refused_stays_refused_when_the_whole_list_is_read_again() -> None:
    problem, plan = ward_round()
    report = Reported(order_ids=(OrderId("O2"),), draw_id=plan.routes[0].visits[1].draw_id, outcome=Outcome.REFUSED)
    refused = next_problem(problem, plan, parent=1, now_s=clock("06:01"), reports=[report]).problem
    again = tell(NewOrders(orders=problem.orders), of=(refused, plan), now="06:05")
    assert {u.order_id: u.reason for u in again.problem.set_aside} == {"O2": Reason.REFUSED}
    assert (given(again), codes(again)) == ((), ["order-known"])


def test_order_cancelled_by_phone_stays_cancelled_when_the_list_still_has_it() -> None:
    problem, plan = next_revision(tell("cancel O2"), ward_round()[1])
    again = tell(NewOrders(orders=ward_round()[0].orders), of=(problem, plan), now="06:05")
    assert codes(again) == ["order-known"]
    assert OrderId("O2") not in {o.id for o in again.problem.orders}


@pytest.mark.parametrize(
    ("part", "changes", "words"),
    [
        (OrderPart.COLLECT_AT, {"collect_at_s": clock("06:30")}, "time 06:30, was not stated"),
        (OrderPart.PRIORITY, {"priority": Priority.STAT}, "priority stat, was routine"),
        (OrderPart.FASTING, {"fasting": True}, "fasting yes, was not stated"),
        (OrderPart.NEXT_DOSE, {"next_dose_s": clock("07:00")}, "next dose 07:00, was not stated"),
    ],
)
def test_changed_attribute_of_a_listed_order_is_applied_and_said(part: OrderPart, changes: dict, words: str) -> None:
    changed = tell(NewOrders(orders=(make_order("O2", "P2", **changes),), stated=frozenset({part})))
    assert changed.problem.order(OrderId("O2")).asks_the_same(make_order("O2", "P2", **changes))
    assert given(changed) == (f"order O2 CBC at bed B2: {words}",)
    assert codes(changed) == []


def test_list_without_a_column_takes_nothing_back_and_an_emptied_cell_needs_a_decision() -> None:
    problem, plan = ward_round()
    stat = replace(problem.order(OrderId("O2")), priority=Priority.STAT, next_dose_s=clock("07:00"))
    problem = replace(problem, orders=tuple(stat if o.id == "O2" else o for o in problem.orders))
    listed = NewOrders(orders=(make_order("O2", "P2"),))
    assert codes(tell(listed, of=(problem, plan))) == ["order-known"]
    for part in (OrderPart.PRIORITY, OrderPart.NEXT_DOSE):
        changed = tell(replace(listed, stated=frozenset({part})), of=(problem, plan))
        assert [(f.code, f.severity) for f in changed.findings] == [("order-differs", Severity.ERROR)]
        assert changed.problem == problem


def test_changed_order_that_is_drawn_needs_a_decision() -> None:
    changed = tell(NewOrders(orders=(make_order("O1", "P1", next_dose_s=clock("07:00")),)))
    assert [(f.code, f.severity) for f in changed.findings] == [("order-differs", Severity.ERROR)]
    assert "drawn already" in changed.findings[0].message


def test_list_that_is_older_than_a_change_by_phone_does_not_undo_it() -> None:
    problem, plan = ward_round()
    timed = replace(problem.order(OrderId("O2")), collect_at_s=clock("06:30"))
    problem = replace(problem, orders=tuple(timed if o.id == "O2" else o for o in problem.orders))
    moved = next_revision(tell("time O2=06:45", of=(problem, plan)), plan)
    listed = NewOrders(orders=(timed,), stated=frozenset({OrderPart.COLLECT_AT}))
    again = tell(listed, of=moved)
    assert (codes(again), again.problem.order(OrderId("O2")).collect_at_s) == (["order-known"], clock("06:45"))
    later = NewOrders(orders=(replace(timed, collect_at_s=clock("07:00")),), stated=listed.stated)
    assert tell(later, of=moved).problem.order(OrderId("O2")).collect_at_s == clock("07:00")


# A dose or a time that moved


def test_time_of_an_order_is_changed_by_an_option() -> None:
    changed = tell("time o2=6.45")
    assert changed.problem.order(OrderId("O2")).collect_at_s == clock("06:45")
    again = tell("time O2=06:45", of=next_revision(changed, ward_round()[1]))
    assert codes(again) == ["change-known"]
    assert codes(tell("time O1=06:45", "time O77=06:45")) == ["order-drawn", "order-not-found"]


@pytest.mark.parametrize(
    ("kind", "part"), [("trough", "next_dose_s"), ("post_dose", "last_dose_s"), ("post_end", "infusion_end_s")]
)
def test_moved_dose_goes_to_the_instant_from_which_the_test_counts(kind: str, part: str) -> None:
    problem, plan = ward_round()
    test = problem.catalogue.tests[problem.order(OrderId("O2")).test]
    from planner.domain.catalogue import DoseRule

    ruled = replace(test, dose_rule=DoseRule(kind=kind, from_s=0, to_s=1800))
    problem = replace(
        problem, catalogue=replace(problem.catalogue, tests={**problem.catalogue.tests, test.code: ruled})
    )
    changed = tell("dose O2=07:15", of=(problem, plan))
    assert getattr(changed.problem.order(OrderId("O2")), part) == clock("07:15")
    assert codes(tell("dose O3=07:15")) == ["no-dose-rule"]


def test_log_holds_the_events_of_all_revisions() -> None:
    _problem, _plan, following = everything()
    later = next_problem(following, make_plan([], []), parent=2, now_s=NOW, changes=[_parsed("cancel N1")]).problem
    assert later.replan is not None and following.replan is not None
    assert later.replan.log == (*following.replan.events, *later.replan.events)
    assert [event.id for event in later.replan.events] == ["3-1"]
    assert isinstance(later.replan.events[0], Event) and later.replan.events[0].id == EventId("3-1")
