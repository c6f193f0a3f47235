"""When a stat may be drawn: now, whatever a monitoring window says. The round is 05:00 to 09:00."""

from __future__ import annotations

from typing import Any

import pytest

from planner.domain.catalogue import ClockRule, DoseRule
from planner.domain.draws import Asked
from planner.domain.orders import Priority
from planner.domain.plan import Reason, Unplanned
from planner.visits.windows import order_windows, window_of
from tests.builders import clock, make_order, make_problem
from tests.windows import R0, R1, ends, problem_of, window

STAT = {"priority": Priority.STAT}
NOW = (R0, R1, clock("05:15"))
"""A stat: from the first instant of the round, on time within the policy's 15 minutes."""


@pytest.mark.parametrize(
    ("order", "patient", "test"),
    [
        # Insulin of a patient who ate at 03:30: the sample of a hypoglycaemia is taken during it, fed or not.
        ({}, {"last_ate_s": clock("03:30")}, {"fasting_s": 8 * 3600, "fasting_required": True}),
        ({"fasting": True}, {"last_ate_s": clock("03:30")}, {}),
        # Cortisol outside its hours.
        ({}, {}, {"clock_rule": ClockRule(from_s=clock("07:00"), to_s=clock("08:00"), is_required=True)}),
        # Lithium four and a half hours after its dose; digoxin four; phenytoin and paracetamol without any dose time.
        ({"last_dose_s": clock("00:30")}, {}, {"dose_rule": DoseRule(kind="post_dose", from_s=41_400, to_s=45_000)}),
        ({"last_dose_s": clock("01:00")}, {}, {"dose_rule": DoseRule(kind="post_dose", from_s=21_600)}),
        ({}, {}, {"dose_rule": DoseRule(kind="trough", to_s=3600)}),
        ({"next_dose_s": clock("20:00")}, {}, {"dose_rule": DoseRule(kind="trough", to_s=3600)}),
        ({"next_dose_s": clock("02:00")}, {}, {"dose_rule": DoseRule(kind="trough", to_s=3600)}),
        ({}, {}, {"dose_rule": DoseRule(kind="post_dose", from_s=14_400, holds_stat=True)}),
        ({}, {}, {"dose_rule": DoseRule(kind="post_end", from_s=1800)}),
        ({}, {}, {"dose_rule": DoseRule(kind="protocol")}),
    ],
)
def test_no_monitoring_window_postpones_or_sets_aside_a_stat(
    order: dict[str, Any], patient: dict[str, Any], test: dict[str, Any]
) -> None:
    found = window(STAT | order, patient, **test)
    assert ends(found) == NOW
    assert found.preferences == ()
    assert all(not question.decides for question in found.questions)
    # The same order that is not stat is bound, or cannot be placed at all.
    later = window_of(problem := problem_of(order, patient, None, **test), problem.orders[0])
    assert isinstance(later, Unplanned) or ends(later) != (R0, R1, None)


def test_one_stated_ingestion_holds_even_a_stat() -> None:
    # A paracetamol level before 4 h of a single ingestion cannot be read against the treatment line.
    rule = DoseRule(kind="post_dose", from_s=4 * 3600, holds_stat=True)
    found = window(STAT | {"last_dose_s": clock("02:00")}, dose_rule=rule)
    assert ends(found) == (clock("06:00"), R1, clock("06:00"))
    assert [(q.asked, q.on_file_s, q.decides) for q in found.questions] == [(Asked.LAST_DOSE, clock("02:00"), True)]
    # Held beyond the round it needs a decision; it is nobody's "for information".
    late = problem_of(STAT | {"last_dose_s": clock("06:00")}, None, None, dose_rule=rule)
    _windows, unplanned = order_windows(late)
    assert [(u.reason, u.reason.needs_decision) for u in unplanned] == [(Reason.NO_COMMON_WINDOW, True)]


@pytest.mark.parametrize(
    "times",
    [
        {"collect_at_s": clock("10:00")},
        {"collect_from_s": clock("11:00")},
        {"collect_to_s": clock("20:00") - 86_400},
        {"collect_at_s": clock("20:00") - 86_400},
    ],
)
def test_stat_of_another_time_needs_a_decision_and_is_never_for_information(times: dict[str, int]) -> None:
    _windows, unplanned = order_windows(problem_of(STAT | times, None, None))
    assert [u.reason.needs_decision for u in unplanned] == [True]


def test_stat_whose_time_has_passed_is_drawn_now() -> None:
    for rule in (None, DoseRule(kind="trough", to_s=1800)):
        found = window(STAT | {"collect_at_s": clock("03:00")}, dose_rule=rule)
        assert (found.earliest.at_s, found.latest.at_s) == (R0, R1)


def test_target_lies_never_before_the_orders_own_earliest_time() -> None:
    # Asap: target 06:00, but not before 07:00. Late is what comes after 07:00.
    clock_rule = ClockRule(from_s=clock("07:00"), to_s=clock("08:00"), is_required=True)
    found = window({"priority": Priority.ASAP}, clock_rule=clock_rule)
    assert ends(found) == (clock("07:00"), clock("08:00"), clock("07:00"))
    assert found.target is not None
    assert found.target.rule == "clock"
    trough = window(
        {"priority": Priority.ASAP, "next_dose_s": clock("08:00")}, dose_rule=DoseRule(kind="trough", to_s=1800)
    )
    assert trough.target_s == clock("07:30")


def test_second_draw_of_a_series_is_due_by_its_gap_and_not_by_its_priority() -> None:
    # Both stat: only the first is late past 05:15; the second cannot be drawn before 50 minutes after the first.
    problem = make_problem([make_order(n, test="TNT", series="S", priority=Priority.STAT) for n in ("O1", "O2")])
    assert [window_of(problem, order).target_s for order in problem.orders] == [clock("05:15"), None]
