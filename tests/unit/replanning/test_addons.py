"""Add-ons: what a tube already drawn can serve, rule by rule, with figures worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from planner.domain.catalogue import CountsFrom, Handling, TransportMode, TubeCode, TubeLimit
from planner.domain.draws import DrawId
from planner.domain.orders import EarlierDraw, Order, OrderId, PatientId, Priority
from planner.domain.places import PlaceId
from planner.domain.plan import Outcome
from planner.domain.problem import Problem
from planner.domain.revisions.replan import AddOn, Past, Replan
from planner.loaders.catalogue.limits import parse_closed
from planner.replanning.addons.addons import DrawnTube, drawn_tubes, find_addons
from tests.builders import clock, make_catalogue, make_order, make_patient, make_problem, make_test
from tests.replan_builders import make_drawn_tube, make_handover, make_plan, make_visit

NOW_S = clock("05:42")


def round_with(*orders: Order, patient: Any = None, **changes: Any) -> Problem:
    """P1 in B1 with the order O1 (LFT), which was drawn, and the orders given."""
    who = make_patient("P1", "B1", last_ate_s=clock("00:00")) if patient is None else patient
    return make_problem([make_order("O1", "P1", "LFT"), *orders], [who], **changes)


def drawn(tests: tuple[str, ...] = ("LFT",), kind: str = "HEPG", **changes: Any) -> DrawnTube:
    """Return P1's tube: 3 mL, drawn at 05:10, in the laboratory at 06:10."""
    handling = frozenset(changes.pop("handling", ()))
    size_ul = changes.pop("size_ul", 3000)
    mode = changes.pop("mode", TransportMode.ROOM)
    tube = make_drawn_tube(tests, ["O1"], kind, size_ul=size_ul, volume_ul=size_ul, handling=handling, mode=mode)
    fields: dict[str, Any] = {
        "draw_id": DrawId("P1-1"),
        "patient_id": PatientId("P1"),
        "place": PlaceId("B1"),
        "collector": "AB",
        "drawn_s": clock("05:10"),
        "tube": tube,
        "lab_arrival_s": clock("06:10"),
    } | changes
    return DrawnTube(**fields)


def why_not(order: Order, *tubes: DrawnTube, now: str = "05:42", **changes: Any) -> str:
    """Return why the tubes cannot serve an order; empty when one can."""
    problem = round_with(order, **changes)
    addons, not_served = find_addons(problem, tubes or (drawn(),), [order], clock(now))
    assert len(addons) + len(not_served) == 1
    return not_served[0][1] if not_served else ""


def test_stat_test_is_added_to_a_tube_of_its_share_group() -> None:
    order = make_order("S1", "P1", "LIPID", priority=Priority.STAT)
    addons, not_served = find_addons(round_with(order), [drawn()], [order], NOW_S)
    assert not_served == ()
    # LIPID keeps 2 h: drawn 05:10, so until 07:10
    expected = AddOn(
        order_id=OrderId("S1"),
        patient_id=PatientId("P1"),
        place=PlaceId("B1"),
        test=order.test,
        draw_id=DrawId("P1-1"),
        tube=drawn().tube.tube,
        draw_position=1,
        drawn_s=clock("05:10"),
        collector="AB",
        limit_s=clock("07:10"),
    )
    assert addons == (expected,)


def test_patient_without_a_drawn_tube_is_in_neither_list() -> None:
    order = make_order("S1", "P2", "LIPID")
    problem = make_problem([make_order("O1", "P1", "LFT"), order])
    assert find_addons(problem, [drawn()], [order], NOW_S) == ((), ())


# Volume: need = max over tests of (its min + the adds of the others). LFT min 0.6 add 0.2, LIPID min 0.5 add 0.1,
# TNT min 0.9 add 0.2 (mL).


@pytest.mark.parametrize(("size_ul", "fits"), [(700, True), (699, False)])
def test_volume_is_exact(size_ul: int, fits: bool) -> None:
    # LFT + LIPID: max(0.6 + 0.1, 0.5 + 0.2) = 0.7 mL
    assert (why_not(make_order("S1", "P1", "LIPID"), drawn(size_ul=size_ul)) == "") == fits


def test_reason_says_what_is_left_and_what_is_needed() -> None:
    # LFT alone needs 0.6 of 0.9 mL: 0.3 left; with TNT max(0.6 + 0.2, 0.9 + 0.2) = 1.1 mL, 0.5 more
    order = make_order("S1", "P1", "TNT")
    assert why_not(order, drawn(size_ul=900)) == "volume left 0.3 mL, TNT needs 0.5 mL more"


def test_each_add_on_counts_for_the_next_and_the_more_urgent_is_first() -> None:
    # LFT + TNT: 1.1 mL; with LIPID max(0.6 + 0.3, 0.9 + 0.3, 0.5 + 0.4) = 1.2 mL
    orders = [make_order("A1", "P1", "LIPID"), make_order("A2", "P1", "TNT", priority=Priority.STAT)]
    problem = round_with(*orders)
    assert [a.order_id for a in find_addons(problem, [drawn(size_ul=1200)], orders, NOW_S)[0]] == ["A2", "A1"]
    addons, not_served = find_addons(problem, [drawn(size_ul=1199)], orders, NOW_S)
    assert [a.order_id for a in addons] == ["A2"]
    assert [(o.id, why) for o, why in not_served] == [("A1", "volume left 0.1 mL, LIPID needs 0.1 mL more")]


def test_tests_added_before_take_their_share() -> None:
    lipid = round_with().catalogue.tests[make_order(test="LIPID").test]
    # LFT + LIPID + TNT: 1.2 mL
    order = make_order("S1", "P1", "TNT")
    assert why_not(order, drawn(size_ul=1200, added=(lipid,))) == ""
    assert "volume" in why_not(order, drawn(size_ul=1199, added=(lipid,)))


# Kind, company, handling


def test_kind_must_be_accepted() -> None:
    assert why_not(make_order("S1", "P1", "CBC")) == "CBC needs EDTA, drawn is HEPG"
    assert why_not(make_order("S1", "P1", "CORTAM", collect_at_s=clock("07:00")), drawn(kind="EDTA")).startswith(
        "CORTAM"
    )


@pytest.mark.parametrize(
    ("test", "tube", "word"),
    [
        ("FGLU", drawn(), "share"),  # accepted in HEPG, but of another share group than LFT
        ("LACT", drawn(), "tube of its own"),
        ("BC", drawn(), "drawn for it"),
        ("XM", drawn(("XM",), "EDTB"), "drawn for it"),
        ("PFN", drawn(("PT",), "CIT"), "tube of its own"),
        ("LFT", drawn(), "drawn at 05:10 already"),
    ],
)
def test_tests_that_need_another_tube(test: str, tube: DrawnTube, word: str) -> None:
    assert word in why_not(make_order("S1", "P1", test), tube)


def test_tube_of_a_test_that_takes_several_is_not_shared() -> None:
    order = make_order("S1", "P1", "LIPID")
    assert "share" in why_not(order, drawn(is_one_of_several=True))


def test_tube_for_one_test_takes_no_other() -> None:
    from tests.builders import make_tube, make_tubes

    kit = make_tube("KIT", filled_to_need=True)
    tests = [make_test("KA", ("KIT",), share_group="K"), make_test("KB", ("KIT",), share_group="K")]
    catalogue = make_catalogue(tubes=[*make_tubes(), kit], extra_tests=tests)
    assert "own test" in why_not(make_order("S1", "P1", "KB"), drawn(("KA",), "KIT"), catalogue=catalogue)


def test_handling_that_the_tube_did_not_have_forbids() -> None:
    # BMP asks for no ice and no clenching; a tube drawn for LFT was not watched for the fist
    order = make_order("S1", "P1", "BMP")
    assert why_not(order) == "BMP asks for handling that the tube did not have: no_fist"
    assert why_not(order, drawn(handling={Handling.NO_FIST})) == ""  # room temperature: no ice goes without saying


def test_temperature_of_the_way_must_be_the_same() -> None:
    iced = make_test("ICY", ("HEPG",), share_group="CHEM", handling=("ice",), max_ice_s=3600)
    order = make_order("S1", "P1", "ICY")
    assert "on ice" in why_not(order, catalogue=make_catalogue(extra_tests=[iced]))
    assert "room temperature" in why_not(make_order("S1", "P1", "LIPID"), drawn(mode=TransportMode.ICE))


def test_exact_time_is_there_only_when_somebody_told_it() -> None:
    order = make_order("S1", "P1", "TNT")
    assert why_not(order) == ""
    assert "exact time" in why_not(order, drawn(is_assumed=True))


def test_gel_and_lithium_forbid_what_may_not_touch_them() -> None:
    tests = [
        make_test("NOG", ("HEPG",), share_group="CHEM", handling=("no_gel",)),
        make_test("NOL", ("HEPG",), share_group="CHEM", handling=("not_li_heparin",)),
    ]
    catalogue = make_catalogue(extra_tests=tests)
    assert "gel" in why_not(make_order("S1", "P1", "NOG"), catalogue=catalogue)
    assert "lithium" in why_not(make_order("S1", "P1", "NOL"), catalogue=catalogue)


# Stability: LIPID keeps 2 h at room temperature


@pytest.mark.parametrize(
    ("now", "arrival", "fits"),
    [
        ("05:42", "07:10", True),  # in the laboratory at the last second
        ("05:42", "07:10:01", False),
        ("07:10", "06:10", True),  # there since 06:10, told at the last second
        ("07:11", "06:10", False),
    ],
)
def test_laboratory_must_be_able_to_begin_in_time(now: str, arrival: str, fits: bool) -> None:
    tube = drawn(lab_arrival_s=clock(arrival))
    fault = why_not(make_order("S1", "P1", "LIPID"), tube, now=now)
    assert (fault == "") == fits
    assert fits or "keeps 120 minutes, until 07:10" in fault


def test_limit_of_the_drawn_tube_kind_counts_for_an_add_on() -> None:
    # Drawn 05:10 into HEPG, where the test keeps 60 min by its row (2 h elsewhere): until 06:10, when the tube arrives.
    limits = (TubeLimit(tube=TubeCode("HEPG"), max_room_s=3600), TubeLimit(tube=TubeCode("SERG"), max_room_s=60))
    short = make_test("SHORT", ("SERG", "HEPG"), share_group="CHEM", max_room_s=7200, tube_limits=limits)
    order = make_order("S1", "P1", "SHORT")
    catalogue = make_catalogue(extra_tests=[short])
    addons, _ = find_addons(round_with(order, catalogue=catalogue), [drawn()], [order], NOW_S)
    assert [a.limit_s for a in addons] == [clock("06:10")]
    late = drawn(lab_arrival_s=clock("06:11"))
    assert "SHORT keeps 60 minutes, until 06:10" in why_not(order, late, catalogue=catalogue)


@pytest.mark.parametrize(
    ("closed", "fits"), [("Tue 05:00-Tue 05:10", True), ("Tue 05:10-Tue 05:11", False), ("Tue 06:00-Tue 07:00", False)]
)
def test_add_on_needs_a_laboratory_that_takes_it(closed: str, fits: bool) -> None:
    # A Tuesday; drawn at 05:10, in the laboratory at 06:10.
    test = make_test("CLX", ("HEPG",), share_group="CHEM", closed=parse_closed(closed))
    fault = why_not(make_order("S1", "P1", "CLX"), catalogue=make_catalogue(extra_tests=[test]))
    assert (fault == "") == fits and (fits or "does not take CLX now" in fault)


def test_sample_of_a_dynamic_test_is_no_add_on() -> None:
    dynamic = make_test("DYN", ("HEPG",), share_group="CHEM", counts_from=CountsFrom.DRINK)
    fault = why_not(make_order("S1", "P1", "DYN"), catalogue=make_catalogue(extra_tests=[dynamic]))
    assert "counts from what the ward gives" in fault


def test_test_of_one_kind_in_a_series_is_not_added_to_another_kind() -> None:
    # TNT was drawn into serum gel at 04:50; HEPG serves it, but the values would not compare.
    tnt = make_test("TNT", ("HEPG", "SERG"), share_group="CHEM", one_kind_in_series=True)
    before = EarlierDraw(patient_id=PatientId("P1"), test="TNT", series="S", draw_s=0, tube=TubeCode("SERG"))
    order, catalogue = make_order("S1", "P1", "TNT"), make_catalogue(extra_tests=[tnt])
    assert "drawn into SERG before" in why_not(order, catalogue=catalogue, earlier_draws=(before,))
    same = replace(before, tube=TubeCode("HEPG"))
    assert why_not(order, catalogue=catalogue, earlier_draws=(same,)) == ""


def test_tube_of_which_nobody_knows_when_it_arrives_serves_nothing() -> None:
    assert "reaches the laboratory" in why_not(make_order("S1", "P1", "LIPID"), drawn(lab_arrival_s=None))


def test_test_without_a_stated_limit_has_none() -> None:
    forever = make_test("EVER", ("HEPG",), share_group="CHEM", max_room_s=None)
    order = make_order("S1", "P1", "EVER")
    problem = round_with(order, catalogue=make_catalogue(extra_tests=[forever]))
    assert [a.limit_s for a in find_addons(problem, [drawn()], [order], NOW_S)[0]] == [None]


# The time of the draw: 05:10


@pytest.mark.parametrize(
    ("order", "word"),
    [
        (make_order("S1", "P1", "LIPID", collect_at_s=clock("05:40")), ""),  # within 30 minutes
        (make_order("S1", "P1", "LIPID", collect_at_s=clock("05:41")), "asked for"),
        (make_order("S1", "P1", "LIPID", collect_from_s=clock("05:10")), ""),
        (make_order("S1", "P1", "LIPID", collect_from_s=clock("05:11")), "asked for"),
        (make_order("S1", "P1", "LIPID", collect_to_s=clock("05:09")), "asked for"),
        (make_order("S1", "P1", "CORTAM"), "clock rule"),  # from 07:00
        (make_order("S1", "P1", "TNT", series="T"), "series"),
        (make_order("S1", "P1", "LIPID", fasting=True), "fasting"),  # ate at midnight, 12 h
    ],
)
def test_draw_must_have_been_at_the_right_time(order: Order, word: str) -> None:
    fault = why_not(order)
    assert word in fault if word else fault == ""


@pytest.mark.parametrize(
    ("next_dose", "word"),
    [("05:10", ""), ("05:40", ""), ("05:41", "dose rule"), ("05:09", "dose rule"), (None, "does not state")],
)
def test_trough_must_have_been_before_the_dose(next_dose: str | None, word: str) -> None:
    # VANCT is a trough, 0 to 30 minutes before the next dose
    order = make_order("S1", "P1", "VANCT", next_dose_s=None if next_dose is None else clock(next_dose))
    fault = why_not(order, drawn(handling={Handling.RECORD_DOSE}))
    assert word in fault if word else fault == ""


def test_fast_must_be_known() -> None:
    order = make_order("S1", "P1", "FGLU")
    tube = drawn(("FGLU2",), "FLU", size_ul=2000)
    catalogue = make_catalogue(extra_tests=[make_test("FGLU2", ("FLU",), share_group="FLU")])
    fed = make_patient("P1", "B1", last_ate_s=clock("00:00"))
    long_ago = make_patient("P1", "B1", last_ate_s=clock("05:10") - 8 * 3600)
    unknown = make_patient("P1", "B1")
    assert "fasting asks for a draw from 08:00" in why_not(order, tube, patient=fed, catalogue=catalogue)
    assert why_not(order, tube, patient=long_ago, catalogue=catalogue) == ""
    assert "last ate" in why_not(order, tube, patient=unknown, catalogue=catalogue)


# Which tube


def test_preferred_kind_then_the_latest_draw_is_taken() -> None:
    order = make_order("S1", "P1", "LIPID")  # HEPG before SERG
    serum = drawn(kind="SERG", draw_id=DrawId("P1-2"), drawn_s=clock("05:30"))
    later = drawn(draw_id=DrawId("P1-3"), drawn_s=clock("05:20"))
    problem = round_with(order)
    assert [a.draw_id for a in find_addons(problem, [drawn(), serum, later], [order], NOW_S)[0]] == ["P1-3"]


def test_reason_is_that_of_the_tube_that_came_nearest() -> None:
    order = make_order("S1", "P1", "LIPID")
    assert "volume" in why_not(order, drawn(("CBC",), "EDTA"), drawn(size_ul=600), drawn(("FGLU",), "FLU"))


# The tubes of the past


def past_of(problem: Problem, stops: tuple[Any, ...], assumed: frozenset[int] = frozenset()) -> Past:
    return Past(phlebotomist=0, stops=stops, place=PlaceId("B1"), free_s=NOW_S, assumed=assumed)


def test_tubes_of_collected_visits_with_their_arrival() -> None:
    problem = round_with(make_order("O2", "P1", "CBC"))
    lft, cbc = make_drawn_tube(["LFT"], ["O1"]), make_drawn_tube(["CBC"], ["O2"], "EDTA", draw_position=2)
    planned = make_visit(problem, ["O1", "O2"], tubes=[(lft, 1), (cbc, 2)])
    plan = make_plan([planned, make_handover(), make_handover(depart="06:50", departs="07:00", arrival="07:10")])
    # the first hand-over was made; the second tube is still in the tray
    made = make_visit(problem, ["O1", "O2"], "05:12", tubes=[(lft, 1), (cbc, None)], outcome=Outcome.COLLECTED)
    found = drawn_tubes(problem, [past_of(problem, (made, plan.routes[0].stops[1]), frozenset({0}))], plan)
    assert [(d.tube.tube, d.lab_arrival_s, d.drawn_s, d.collector, d.is_assumed) for d in found] == [
        ("HEPG", clock("06:10"), clock("05:12"), "AB", True),
        ("EDTA", clock("07:10"), clock("05:12"), "AB", True),
    ]


@pytest.mark.parametrize("outcome", [None, Outcome.PARTIAL, Outcome.RECOLLECT, Outcome.REFUSED])
def test_tubes_of_other_visits_are_in_doubt(outcome: Outcome | None) -> None:
    problem = round_with()
    visit = make_visit(problem, ["O1"], tubes=[(make_drawn_tube(["LFT"], ["O1"]), 1)], outcome=outcome)
    assert drawn_tubes(problem, [past_of(problem, (visit, make_handover()))], make_plan([])) == ()


def test_tube_of_an_order_that_the_visit_did_not_bring_is_left_out() -> None:
    problem = round_with(make_order("O2", "P1", "CBC"))
    tubes = [(make_drawn_tube(["LFT"], ["O1"]), 1), (make_drawn_tube(["CBC"], ["O2"], "EDTA", draw_position=2), 1)]
    visit = make_visit(problem, ["O1", "O2"], tubes=tubes, outcome=Outcome.COLLECTED, tried=(OrderId("O2"),))
    found = drawn_tubes(problem, [past_of(problem, (visit, make_handover()))], make_plan([]))
    assert [d.tube.tube for d in found] == ["HEPG"]


def test_discard_tube_serves_nothing_and_several_tubes_of_a_test_are_marked() -> None:
    problem = round_with()
    tubes = [
        (make_drawn_tube([], [], "DIS"), None),
        (make_drawn_tube(["LFT"], ["O1"], draw_position=2), 1),
        (make_drawn_tube(["LFT"], ["O1"], draw_position=3), 1),
    ]
    visit = make_visit(problem, ["O1"], tubes=tubes, outcome=Outcome.COLLECTED)
    found = drawn_tubes(problem, [past_of(problem, (visit, make_handover()))], make_plan([]))
    assert [(d.tube.draw_position, d.is_one_of_several) for d in found] == [(2, True), (3, True)]


def test_add_ons_of_earlier_revisions_are_on_their_tube() -> None:
    problem = round_with(make_order("S1", "P1", "LIPID"))
    visit = make_visit(problem, ["O1"], tubes=[(make_drawn_tube(["LFT"], ["O1"]), 1)], outcome=Outcome.COLLECTED)
    order = problem.order(OrderId("S1"))
    addon = find_addons(problem, [replace(drawn(), draw_id=visit.draw_id)], [order], NOW_S)[0]
    replan = Replan(parent=1, now_s=NOW_S, past=(), addons=addon)
    found = drawn_tubes(replace(problem, replan=replan), [past_of(problem, (visit, make_handover()))], make_plan([]))
    assert [t.code for t in found[0].added] == ["LIPID"]
