"""Which orders of a patient share a puncture."""

from __future__ import annotations

import pytest

from planner.domain.orders import Order
from planner.visits import group_into_visits, order_windows
from tests.builders import clock, make_order, make_problem


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


@pytest.mark.parametrize(("begin", "num_visits"), [("06:20", 1), ("06:21", 2)])
def test_windows_share_only_with_ten_minutes_in_common(begin: str, num_visits: int) -> None:
    # The first is on time until 06:30: ten minutes are left from 06:20, nine from 06:21.
    found = groups(
        make_order("O1", collect_from_s=clock("05:30"), collect_to_s=clock("06:30")),
        make_order("O2", test="BMP", collect_from_s=clock(begin), collect_to_s=clock("08:00")),
    )
    assert len(found) == num_visits


def test_late_order_does_not_share_in_its_late_hours() -> None:
    # Until 06:00 on time, given up at 07:00; the other begins at 06:30: sharing would make the first late.
    found = groups(
        make_order("O1", collect_to_s=clock("06:00")), make_order("O2", test="BMP", collect_from_s=clock("06:30"))
    )
    assert found == [["O1"], ["O2"]]


def test_draws_of_a_series_are_never_merged() -> None:
    assert groups(make_order("O1", test="TNT", series="S"), make_order("O2", test="TNT", series="S")) == [
        ["O1"],
        ["O2"],
    ]


def test_same_test_without_a_series_is_drawn_once() -> None:
    assert groups(make_order("O1"), make_order("O2")) == [["O1", "O2"]]


def test_culture_sets_of_a_series_go_together() -> None:
    assert groups(make_order("O1", test="BC", series="S"), make_order("O2", test="BC", series="S")) == [["O1", "O2"]]


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
        [make_order("O1", collect_from_s=clock("06:00")), make_order("O2", collect_to_s=clock("07:00"))]
    )
    windows, _unplanned = order_windows(problem)
    (request,) = group_into_visits(problem, windows)
    # From 06:00 of the first to 07:00 + 60 min (give-up) of the second.
    assert [(w.earliest_s, w.latest_s) for w in request.windows] == [(clock("06:00"), clock("08:00"))]
    assert (request.id, request.bed) == ("P1#1", "B1")
