"""Repeated draws keep their gap from the draw before them, whoever made it and whenever that was."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.checker import check_plan
from planner.domain.catalogue import Catalogue, TestCode
from planner.domain.draws import OrderWindow
from planner.domain.orders import EarlierDraw, Order, PatientId, Priority, TimeWindow
from planner.domain.plan import Plan, Reason, Unplanned
from planner.domain.problem import Problem
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from planner.visits import order_windows
from tests.builders import clock, make_catalogue, make_order, make_patient, make_problem, make_test

pytestmark = pytest.mark.slow

PARAMS = SolveParams(effort="quick")


def draws_at(plan: Plan) -> dict[str, int]:
    return {o: v.draw_s for route in plan.routes for v in route.visits for o in v.order_ids}


def with_first(problem: Problem, at: str) -> Problem:
    """The ward drew the first of series S."""
    first = EarlierDraw(patient_id=PatientId("P1"), test=problem.orders[0].test, series="S", draw_s=clock(at))
    return replace(problem, earlier_draws=(first,))


def troponin(number: str, **changes: object) -> Order:
    """Protocols of the test: 0 and 1 h, 0 and 2 h, 0 and 3 h, each 10 min more or less."""
    return make_order(number, test="TNT", series="S", **changes)


def window(problem: Problem, number: str) -> OrderWindow | Unplanned:
    windows, unplanned = order_windows(problem)
    return windows.get(number) or next(u for u in unplanned if u.order_id == number)


def test_next_draw_is_bound_to_the_one_that_the_ward_made() -> None:
    # 04:50 + 60 min, 10 min more or less.
    found = window(with_first(make_problem([troponin("O2")]), "04:50"), "O2")
    assert isinstance(found, OrderWindow)
    assert (found.earliest.at_s, found.latest.at_s) == (clock("05:40"), clock("06:00"))
    assert (found.earliest.rule, found.latest.rule) == ("series-gap", "series-gap")


def test_gap_is_that_of_the_stated_times_where_both_state_one() -> None:
    # 05:05 and 06:35: 90 min, with the tolerance of the test 80 to 100.
    problem = make_problem([troponin("O1", collect_at_s=clock("05:05")), troponin("O2", collect_at_s=clock("06:35"))])
    plan = plan_round(problem, PARAMS).plan
    drawn = draws_at(plan)
    assert 80 * 60 <= drawn["O2"] - drawn["O1"] <= 100 * 60
    assert check_plan(problem, plan).is_clean


def test_late_first_draw_moves_the_second() -> None:
    # The patient is away until 05:50, so the first, due at 05:05, is drawn at 05:50 or later. The second is due at
    # 06:05, 06:20 at the latest to be on time; but 50 min after the first is 06:40.
    orders = [troponin("O1", collect_at_s=clock("05:05")), troponin("O2", collect_at_s=clock("06:05"))]
    problem = make_problem(orders)
    away = replace(problem.patients[PatientId("P1")], away=(away_until("05:50"),))
    problem = replace(problem, patients=dict(problem.patients) | {away.id: away})
    plan = plan_round(problem, PARAMS).plan
    drawn = draws_at(plan)
    assert drawn["O1"] >= clock("05:50")
    assert drawn["O2"] - drawn["O1"] == 50 * 60
    assert check_plan(problem, plan).is_clean


def away_until(until: str) -> TimeWindow:
    return TimeWindow(earliest_s=clock("04:00"), latest_s=clock(until))


def test_untimed_series_is_drawn_by_the_first_protocol_that_is_long_enough() -> None:
    problem = make_problem([troponin("O1"), troponin("O2")])
    drawn = draws_at(plan_round(problem, PARAMS).plan)
    assert 50 * 60 <= drawn["O2"] - drawn["O1"] <= 70 * 60


@pytest.mark.parametrize("second", ["O2", "O0"])
def test_repeat_without_any_gap_is_set_aside_and_the_first_is_drawn(second: str) -> None:
    # Three draws, and protocols of two: nothing says when the third, or the second, is due. By number O0 is first.
    orders = [make_order(n, test="CBC", series="S") for n in sorted(("O1", second))]
    windows, unplanned = order_windows(make_problem(orders))
    assert [(u.order_id, u.reason) for u in unplanned] == [(max("O1", second), Reason.TIME_MISSING)]
    assert list(windows) == [min("O1", second)]


def test_gap_that_cannot_be_kept_leaves_the_second_out_and_says_so() -> None:
    # The ward drew at 02:00: 03:10 was the last second for the next, and the round begins at 05:00.
    found = window(with_first(make_problem([troponin("O2")]), "02:00"), "O2")
    assert isinstance(found, Unplanned)
    assert found.reason is Reason.WINDOW_PASSED
    assert "gap" in found.detail


def test_two_people_keep_the_gap_between_them() -> None:
    # Found by the checker's own rule, whoever draws.
    orders = [troponin("O1"), troponin("O2"), *(make_order(f"X{n}", f"P{n}") for n in range(2, 5))]
    problem = make_problem(orders)
    plan = plan_round(problem, PARAMS).plan
    assert check_plan(problem, plan).codes() == []
    assert {"O1", "O2"} <= draws_at(plan).keys()


def protocol_of_three(**changes: object) -> Catalogue:
    """The test X at 0, 60 and 180 min, 10 min more or less."""
    offsets = ((0, 3600, 3 * 3600),)
    test = make_test("X", serial_offsets=offsets, serial_tolerance_s=600, **changes)
    return make_catalogue(extra_tests=[test])


def three(away: TimeWindow | None = None, **changes: object) -> Problem:
    orders = [
        make_order("O1", test="X", series="S", priority=Priority.URGENT),  # weighs more than the second
        make_order("O2", test="X", series="S"),
        make_order("O3", test="X", series="S"),
    ]
    patient = make_patient(away=() if away is None else (away,))
    return make_problem(orders, [patient], catalogue=protocol_of_three(), **changes)


def test_draws_on_both_sides_of_one_that_is_left_out_keep_the_sum_of_the_gaps() -> None:
    # The first must be drawn before 05:30, the patient being away from then to 07:10: the second, 50 to 70 min after
    # it, has no room. The third still comes 60 + 120 min after the first, 20 min more or less.
    problem = three(TimeWindow(earliest_s=clock("05:30"), latest_s=clock("07:10")))
    plan = plan_round(problem, PARAMS).plan
    drawn = draws_at(plan)
    assert drawn.keys() == {"O1", "O3"}
    assert 160 * 60 <= drawn["O3"] - drawn["O1"] <= 200 * 60
    assert [u.order_id for u in plan.unplanned] == ["O2"]


def test_gap_of_two_draws_to_come_is_bound_over_one_that_has_no_window() -> None:
    # The second is asked for at 12:00, after the round: nobody plans it, but it still lies between the others.
    orders = [
        make_order("O1", test="X", series="S", collect_from_s=clock("05:00")),
        make_order("O2", test="X", series="S", collect_from_s=clock("05:30"), collect_to_s=clock("05:30")),
        make_order("O3", test="X", series="S", collect_from_s=clock("05:40")),
    ]
    away = TimeWindow(earliest_s=clock("05:20"), latest_s=clock("06:50"))
    problem = make_problem(orders, [make_patient(away=(away,))], catalogue=protocol_of_three())
    plan = plan_round(problem, PARAMS).plan
    drawn = draws_at(plan)
    assert drawn.keys() == {"O1", "O3"}
    assert 160 * 60 <= drawn["O3"] - drawn["O1"] <= 200 * 60


def test_draws_behind_one_that_is_left_out_keep_their_gap_from_a_draw_that_was_made() -> None:
    # Made at 04:30, so the second is due at 05:30 and the third at 07:30, 20 min more or less.
    first = EarlierDraw(patient_id=PatientId("P1"), test=TestCode("X"), series="S", draw_s=clock("04:30"))
    orders = [make_order(f"O{n}", test="X", series="S") for n in (2, 3)]
    away = TimeWindow(earliest_s=clock("05:00"), latest_s=clock("06:00"))
    problem = make_problem(orders, [make_patient(away=(away,))], catalogue=protocol_of_three(), earlier_draws=(first,))
    found = window(problem, "O3")
    assert isinstance(found, OrderWindow)
    assert (found.earliest.at_s, found.latest.at_s) == (clock("07:10"), clock("07:50"))
    plan = plan_round(problem, PARAMS).plan
    assert draws_at(plan).keys() == {"O3"}


def test_stated_gap_is_kept_when_the_first_draw_is_collected() -> None:
    # Asked for at 04:30 and 07:30, drawn at 04:40: three hours later is 07:40, whatever the protocols say (1 and 2 h).
    first = EarlierDraw(
        patient_id=PatientId("P1"),
        test=TestCode("TNT"),
        series="S",
        draw_s=clock("04:40"),
        collect_at_s=clock("04:30"),
    )
    problem = make_problem([troponin("O2", collect_at_s=clock("07:30"))], earlier_draws=(first,))
    found = window(problem, "O2")
    assert isinstance(found, OrderWindow)
    # 07:40 - 10 min (the test's tolerance); asked for until 07:45, 15 min for a draw of a series.
    assert (found.earliest.at_s, found.latest.at_s, found.target_s) == (clock("07:30"), clock("07:50"), clock("07:45"))
    assert check_plan(problem, plan_round(problem, PARAMS).plan).is_clean


def test_draw_made_without_a_stated_time_counts_as_asked_for_when_it_was_made() -> None:
    problem = with_first(make_problem([troponin("O2", collect_at_s=clock("07:50"))]), "04:50")
    found = window(problem, "O2")
    assert isinstance(found, OrderWindow)
    assert (found.earliest.at_s, found.latest.at_s) == (clock("07:40"), clock("08:00"))


def test_draws_whose_gap_nothing_states_keep_their_order() -> None:
    # Two spans that overlap, of a test without a protocol. The one from 05:00 is drawn first, though the patient is
    # away until 05:20 and the other is then late.
    orders = [
        make_order("O1", test="CBC", series="S", collect_from_s=clock("05:20"), collect_to_s=clock("05:25")),
        make_order("O2", test="CBC", series="S", collect_from_s=clock("05:00")),
    ]
    problem = make_problem(orders, [make_patient(away=(away_until("05:20"),))])
    drawn = draws_at(plan_round(problem, PARAMS).plan)
    assert drawn["O2"] < drawn["O1"]
