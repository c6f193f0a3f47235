"""Where quiet hours, absences and rules leave no moment, and what is then said. The round is 05:00 to 09:00."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from planner.domain.catalogue import ClockRule, DoseRule
from planner.domain.orders import Priority, TimeWindow
from planner.domain.plan import Reason, Unplanned
from planner.domain.policy import Policy
from planner.domain.revisions.replan import Replan
from planner.visits.windows import order_windows, window_of
from tests.builders import clock, make_order, make_problem
from tests.windows import R0, R1, problem_of, spans, window

QUIET = (TimeWindow(earliest_s=clock("05:00"), latest_s=clock("06:00")),)


@pytest.mark.parametrize("ward", ["W", "*"])
def test_quiet_hours_of_the_ward_and_of_every_ward(ward: str) -> None:
    policy = replace(Policy(), round=replace(Policy().round, quiet_hours={ward: QUIET}))
    assert spans(window({}, policy=policy)) == [(clock("06:00"), R1)]
    assert spans(window({}, {"ward": "V"}, policy)) == [(R0 if ward == "W" else clock("06:00"), R1)]


@pytest.mark.parametrize(
    ("order", "test"),
    [
        ({"priority": Priority.STAT}, {}),
        ({"collect_to_s": clock("08:00")}, {}),
        ({"next_dose_s": clock("05:30")}, {"dose_rule": DoseRule(kind="trough", to_s=1800)}),
    ],
)
def test_quiet_hours_do_not_hold_for_stat_timed_and_dose_ruled(order: dict[str, Any], test: dict[str, Any]) -> None:
    policy = replace(Policy(), round=replace(Policy().round, quiet_hours={"*": QUIET}))
    assert window(order, policy=policy, **test).windows[0].earliest_s == R0


def test_quiet_hours_hold_for_asap() -> None:
    policy = replace(Policy(), round=replace(Policy().round, quiet_hours={"*": QUIET}))
    assert spans(window({"priority": Priority.ASAP}, policy=policy)) == [(clock("06:00"), R1)]


AWAY_ALL = {"away": (TimeWindow(earliest_s=R0, latest_s=R1 + 1),)}


@pytest.mark.parametrize(
    ("reason", "order", "patient", "test"),
    [
        ("dose-time-missing", {}, {}, {"dose_rule": DoseRule(kind="trough", to_s=1800)}),
        ("dose-time-missing", {"next_dose_s": R1}, {}, {"dose_rule": DoseRule(kind="post_dose", to_s=1800)}),
        ("dose-time-missing", {"last_dose_s": R0}, {}, {"dose_rule": DoseRule(kind="post_end", to_s=1800)}),
        ("time-missing", {}, {}, {"dose_rule": DoseRule(kind="protocol")}),
        # 10:00 - 30 min = 09:30, after the round; a dose at 10:00 with a trough of 30 min likewise.
        ("other-round", {"collect_at_s": clock("10:00")}, {}, {}),
        ("other-round", {"next_dose_s": clock("10:00")}, {}, {"dose_rule": DoseRule(kind="trough", to_s=1800)}),
        ("other-round", {"collect_to_s": clock("20:00") - 86_400}, {}, {}),
        # 03:00 + 60 min = 04:00; a dose at 04:00; a meal at 04:30: all before 05:00, of the same day.
        ("window-passed", {"collect_to_s": clock("03:00")}, {}, {}),
        ("window-passed", {"next_dose_s": clock("04:00")}, {}, {"dose_rule": DoseRule(kind="trough", to_s=1800)}),
        ("window-passed", {"fasting": True}, {"next_meal_s": clock("04:30")}, {}),
        # Required from 07:00, and a meal at 06:00; away all the time.
        (
            "no-common-window",
            {"fasting": True},
            {"next_meal_s": clock("06:00")},
            {"clock_rule": ClockRule(from_s=clock("07:00"), to_s=R1, is_required=True)},
        ),
        ("no-common-window", {}, AWAY_ALL, {}),
    ],
)
def test_order_without_a_window_is_told_why(
    reason: str, order: dict[str, Any], patient: dict[str, Any], test: dict[str, Any]
) -> None:
    problem = problem_of(order, patient, None, **test)
    windows, unplanned = order_windows(problem)
    assert windows == {}
    assert [(u.order_id, u.reason.value) for u in unplanned] == [("O1", reason)]
    assert unplanned[0].detail
    assert (unplanned[0].patient_id, unplanned[0].bed) == ("P1", "B1")


def test_quiet_hours_that_leave_nothing_are_named() -> None:
    whole = (TimeWindow(earliest_s=R0, latest_s=R1 + 1),)
    policy = replace(Policy(), round=replace(Policy().round, quiet_hours={"*": whole}))
    _windows, unplanned = order_windows(problem_of({}, None, policy))
    assert unplanned[0].reason.value == "no-common-window"
    assert "quiet hours" in unplanned[0].detail


def test_window_that_is_one_second_is_a_window() -> None:
    found = window({"fasting": True}, {"next_meal_s": R0})
    assert spans(found) == [(R0, R0)]


def detail(order: dict[str, Any], patient: dict[str, Any], **test: Any) -> str:
    _windows, unplanned = order_windows(problem_of(order, patient, None, **test))
    return unplanned[0].detail


def test_patient_who_ate_is_told_in_the_wards_words() -> None:
    # 03:30 + 8 h = 11:30, after the meal at 08:00; the test needs 8 h of its own, breakfast is the policy's 08:00.
    fast: dict[str, Any] = {"fasting_s": 8 * 3600, "fasting_required": True}
    ate = {"last_ate_s": clock("03:30")}
    ask = "Ask: draw non-fasting, or tomorrow?"
    assert detail({}, ate | {"next_meal_s": clock("08:00")}, **fast) == (
        f"ate 03:30; X needs 8 h, from 11:30; the next meal is 08:00. {ask}"
    )
    assert detail({}, ate, **fast) == f"ate 03:30; X needs 8 h, from 11:30; breakfast is 08:00. {ask}"
    assert detail({}, ate | {"next_meal_s": clock("14:00")}, **fast) == (
        f"ate 03:30; X needs 8 h, from 11:30; the round ends at 09:00. {ask}"
    )


def test_detail_names_each_rule_once_and_leaves_advice_to_the_reason() -> None:
    twice = detail(
        {"collect_at_s": clock("05:30"), "collect_from_s": clock("08:00"), "collect_to_s": clock("08:30")}, {}
    )
    assert twice.count("the time the order asks for") == 1
    passed = detail({"collect_to_s": clock("02:00")}, {})
    assert passed.endswith("before the round")
    trough = DoseRule(kind="trough", from_s=0, to_s=1800)
    assert detail({}, {}, dose_rule=trough) == (
        "its time counts from the next dose, which the order does not state (column next_dose_at, or collect_at)"
    )


def test_stat_after_the_end_of_the_round_finds_it_over_and_not_its_rules_at_odds() -> None:
    # Told at 09:30, the round ended at 09:00: no question about two times, somebody else has to draw it.
    replan = Replan(parent=1, now_s=clock("09:30"), past=())
    order = make_order("S1", "P1", priority=Priority.STAT, ordered_s=clock("09:30"))
    found = window_of(make_problem([order], replan=replan), order)
    assert isinstance(found, Unplanned)
    assert (found.reason, found.detail) == (
        Reason.NO_TIME,
        "the round is over since 09:00; somebody else must draw it",
    )
    later = make_order("O2", "P2", collect_from_s=clock("13:30"))
    found = window_of(make_problem([later], replan=replan), later)
    assert isinstance(found, Unplanned)
    assert found.reason is Reason.OTHER_ROUND


POST_6H = DoseRule(kind="post_dose", from_s=6 * 3600)
TROUGH = DoseRule(kind="trough", to_s=1800)
NO_TIME_BEFORE_DOSE: list[tuple[dict[str, Any], DoseRule]] = [
    # Digoxin: at least 6 h after the dose and before the next (labelling). From 10:00, but the next is given at 05:30.
    ({"last_dose_s": clock("04:00"), "next_dose_s": clock("05:30")}, POST_6H),
    ({"last_dose_s": clock("00:00"), "next_dose_s": clock("05:30")}, POST_6H),
    ({"infusion_end_s": clock("04:00"), "next_dose_s": clock("05:30")}, replace(POST_6H, kind="post_end")),
    # A trough is the level right before the next dose (common practice): asked for at that dose or after it.
    ({"collect_at_s": clock("06:00"), "next_dose_s": clock("05:45")}, TROUGH),
    ({"collect_at_s": clock("05:45"), "next_dose_s": clock("05:45")}, TROUGH),
    ({"collect_from_s": clock("05:50"), "next_dose_s": clock("05:45")}, TROUGH),
]


@pytest.mark.parametrize(("times", "rule"), NO_TIME_BEFORE_DOSE)
def test_level_without_a_valid_time_before_the_next_dose_is_a_decision(times: dict[str, int], rule: DoseRule) -> None:
    problem = problem_of(times, None, None, dose_rule=rule)
    [order] = problem.orders
    found = window_of(problem, order)
    assert isinstance(found, Unplanned)
    assert found.reason.needs_decision
    assert "no valid time before the next dose" in found.detail and found.detail.endswith("nurse or pharmacist")


def test_level_with_a_valid_time_before_the_next_dose_is_drawn() -> None:
    assert window({"last_dose_s": clock("00:00"), "next_dose_s": clock("06:00")}, dose_rule=POST_6H)
    assert window({"collect_at_s": clock("05:44"), "next_dose_s": clock("05:45")}, dose_rule=TROUGH)
