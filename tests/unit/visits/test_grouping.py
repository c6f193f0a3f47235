"""Which orders of a patient share a puncture."""

from __future__ import annotations

import pytest

from planner.domain.orders import Order, Priority, TimeWindow
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from planner.visits import group_into_visits, order_windows
from tests.builders import clock, make_order, make_patient, make_problem


def groups(*orders: Order) -> list[list[str]]:
    problem = make_problem(orders)
    windows, unplanned = order_windows(problem)
    assert unplanned == ()
    return [[o.id for o in request.orders] for request in group_into_visits(problem, windows)]


def test_orders_of_one_patient_share_a_visit() -> None:
    assert groups(make_order("O1"), make_order("O2", test="BMP"), make_order("O3", test="PT")) == [["O1", "O2", "O3"]]


def test_patients_never_share_a_visit() -> None:
    assert groups(make_order("O1"), make_order("O2", "P2")) == [["O1"], ["O2"]]


def test_example_of_the_docstring() -> None:
    # A trough 05:30-06:00 and a timed draw 07:00 cannot share; the blood count joins the earlier.
    found = groups(
        make_order("O1", test="CBC"),
        make_order("O2", test="VANCT", next_dose_s=clock("06:00")),
        make_order("O3", test="PT", collect_from_s=clock("07:00"), collect_to_s=clock("07:30")),
    )
    assert found == [["O1", "O2"], ["O3"]]


def test_order_goes_where_its_tube_is() -> None:
    # LFT shares a tube with the BMP (chemistry) of 07:00, not with the PT of 05:30.
    found = groups(
        make_order("O1", test="LFT"),
        make_order("O2", test="PT", collect_from_s=clock("05:30"), collect_to_s=clock("06:00")),
        make_order("O3", test="BMP", collect_from_s=clock("07:00"), collect_to_s=clock("07:30")),
    )
    assert found == [["O2"], ["O1", "O3"]]


@pytest.mark.parametrize(("begin_s", "num_visits"), [(clock("06:25"), 1), (clock("06:30"), 1), (clock("06:30") + 1, 2)])
def test_windows_share_whenever_one_moment_lies_in_both(begin_s: int, num_visits: int) -> None:
    # The first is on time until 06:30: two punctures five minutes apart were planned where one moment serves both.
    found = groups(
        make_order("O1", collect_from_s=clock("05:30"), collect_to_s=clock("06:30")),
        make_order("O2", test="BMP", collect_from_s=begin_s, collect_to_s=clock("08:00")),
    )
    assert len(found) == num_visits


def test_late_order_does_not_share_in_its_late_hours() -> None:
    # Until 06:00 on time, given up at 07:00; the other begins at 06:30: sharing would make the first late.
    found = groups(
        make_order("O1", collect_to_s=clock("06:00")), make_order("O2", test="BMP", collect_from_s=clock("06:30"))
    )
    assert found == [["O1"], ["O2"]]


@pytest.mark.parametrize(
    ("priority", "begin", "found"),
    [
        (Priority.STAT, "06:00", [["O1", "O2"]]),
        (Priority.STAT, "07:00", [["O1"], ["O2"]]),
        (Priority.ASAP, "07:00", [["O1", "O2"]]),
        (Priority.ROUTINE, "07:00", [["O1", "O2"]]),
    ],
)
def test_late_stat_shares_only_its_first_moment(priority: Priority, begin: str, found: list[list[str]]) -> None:
    # The stat is due at 05:15 and the patient back at 06:00: a test of the hours from 07:00 may not keep it waiting.
    orders = (
        make_order("O1", test="PT", priority=priority),
        make_order("O2", test="BMP", collect_from_s=clock(begin), collect_to_s=clock("08:00")),
    )
    away = TimeWindow(earliest_s=clock("04:00"), latest_s=clock("06:00"))
    problem = make_problem(orders, [make_patient("P1", "B1", away=(away,))])
    windows, _ = order_windows(problem)
    assert [[o.id for o in request.orders] for request in group_into_visits(problem, windows)] == found


def test_draws_of_a_series_are_never_merged() -> None:
    assert groups(make_order("O1", test="TNT", series="S"), make_order("O2", test="TNT", series="S")) == [
        ["O1"],
        ["O2"],
    ]


def test_same_test_without_a_series_is_drawn_once() -> None:
    assert groups(make_order("O1"), make_order("O2")) == [["O1", "O2"]]


@pytest.mark.parametrize("series", ["S", None])
def test_culture_sets_go_together(series: str | None) -> None:
    orders = [make_order(n, test="BC", series=series) for n in ("O1", "O2")]
    assert groups(*orders) == [["O1", "O2"]]


def test_second_sample_for_the_blood_bank_is_another_puncture() -> None:
    # A second sample after another identification catches wrong blood in the first tube (BCSH 2012; SHOT).
    assert groups(make_order("O1", test="XM"), make_order("O2", test="XM"), make_order("O3")) == [["O1", "O3"], ["O2"]]


AT = {"O1": clock("06:00"), "O2": clock("06:40")}


@pytest.mark.parametrize("test", ["BMP", "BC"])
def test_two_stated_times_of_one_test_are_two_draws(test: str) -> None:
    # Both are on time from 06:10 to 06:30; a potassium repeated after insulin is not the one before it.
    assert groups(*(make_order(n, test=test, collect_at_s=at_s) for n, at_s in AT.items())) == [["O1"], ["O2"]]
    spans = [{"collect_from_s": clock("05:50")}, {"collect_at_s": clock("06:20")}]
    assert groups(*(make_order(n, test=test, **span) for n, span in zip(AT, spans, strict=True))) == [["O1"], ["O2"]]


def test_orders_of_one_stated_time_or_none_are_one_draw() -> None:
    assert groups(*(make_order(n, collect_at_s=clock("06:00")) for n in AT)) == [["O1", "O2"]]
    assert groups(make_order("O1"), make_order("O2", collect_at_s=clock("07:00"))) == [["O1", "O2"]]
    # Other tests keep their own times and share the moment.
    assert groups(*(make_order(n, test=n_test, collect_at_s=AT[n]) for n, n_test in (("O1", "BMP"), ("O2", "PT")))) == [
        ["O1", "O2"]
    ]


def test_levels_that_count_from_two_doses_are_two_draws() -> None:
    doses = [make_order(n, test="VANCT", next_dose_s=clock(at)) for n, at in (("O1", "06:10"), ("O2", "06:20"))]
    assert groups(*doses) == [["O1"], ["O2"]]


def test_draws_of_two_stated_times_keep_their_order() -> None:
    # The potassium of 06:40 would be on time before that of 06:00.
    orders = [make_order(n, test="BMP", collect_at_s=at_s) for n, at_s in AT.items()]
    drawn = {
        order_id: visit.draw_s
        for route in plan_round(make_problem(orders), SolveParams(effort="quick")).plan.routes
        for visit in route.visits
        for order_id in visit.order_ids
    }
    assert drawn["O1"] < drawn["O2"]


def test_different_tests_of_one_series_share() -> None:
    assert groups(make_order("O1", test="TNT", series="S"), make_order("O2", test="BMP", series="S")) == [["O1", "O2"]]


def test_two_series_share_their_visits() -> None:
    # Two visits serve both series: {O1, O3} and {O2, O4}.
    found = groups(
        make_order("O1", test="TNT", series="S"),
        make_order("O2", test="TNT", series="S"),
        make_order("O3", test="TNT", series="T"),
        make_order("O4", test="TNT", series="T"),
    )
    assert len(found) == 2


def test_request_holds_the_common_window() -> None:
    problem = make_problem(
        [make_order("O1", collect_from_s=clock("06:00")), make_order("O2", test="BMP", collect_to_s=clock("07:00"))]
    )
    windows, _unplanned = order_windows(problem)
    (request,) = group_into_visits(problem, windows)
    # From 06:00 of the first to 07:00 + 60 min (give-up) of the second.
    assert [(w.earliest_s, w.latest_s) for w in request.windows] == [(clock("06:00"), clock("08:00"))]
    assert (request.id, request.bed) == ("P1#1", "B1")
