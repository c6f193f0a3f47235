"""Every window rule: where it allows, where it forbids, where it says nothing. The round is 05:00 to 09:00."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from planner.domain.catalogue import ClockRule, DoseRule
from planner.domain.draws import Asked, OrderWindow
from planner.domain.orders import Priority, TimeWindow
from planner.domain.plan import Reason, Unplanned
from planner.domain.policy import Policy
from planner.domain.revisions.replan import Replan
from planner.visits.windows import order_windows, window_of
from tests.builders import clock, make_catalogue, make_order, make_patient, make_problem, make_test

R0, R1 = clock("05:00"), clock("09:00")


def window(
    order: dict[str, Any], patient: dict[str, Any] | None = None, policy: Policy | None = None, **test: Any
) -> OrderWindow:
    """Return the window of one order; ``test`` changes the test X that it asks for."""
    problem = _problem(order, patient, policy, **test)
    found = window_of(problem, problem.orders[0])
    assert isinstance(found, OrderWindow), found
    return found


def _problem(order: dict[str, Any], patient: dict[str, Any] | None, policy: Policy | None, **test: Any):
    code = "X" if test else order.get("test", "CBC")
    return make_problem(
        [make_order(**(order | {"test": code}))],
        [make_patient(**(patient or {}))],
        catalogue=make_catalogue(extra_tests=[make_test("X", **test)]),
        policy=policy,
    )


def spans(found: OrderWindow) -> list[tuple[int, int]]:
    return [(w.earliest_s, w.latest_s) for w in found.windows]


def ends(found: OrderWindow) -> tuple[int, int, int | None]:
    return found.earliest.at_s, found.latest.at_s, found.target_s


def test_plain_order_has_the_whole_round_and_no_target() -> None:
    found = window({})
    assert ends(found) == (R0, R1, None)
    assert (found.earliest.rule, found.latest.rule) == ("round", "round")


def test_round_spans_all_shifts() -> None:
    from tests.builders import make_phlebotomist

    staff = [make_phlebotomist(from_s=clock("06:00")), make_phlebotomist("CD", from_s=R0, until_s=clock("08:00"))]
    problem = make_problem([make_order()], staff=staff)
    assert ends(window_of(problem, problem.orders[0])) == (R0, R1, None)


def test_stated_instant_has_thirty_minutes_and_is_given_up_an_hour_later() -> None:
    # 06:40 - 30 min = 06:10; target 06:40 + 30 min = 07:10; given up at 07:10 + 60 min = 08:10.
    found = window({"collect_at_s": clock("06:40")})
    assert ends(found) == (clock("06:10"), clock("08:10"), clock("07:10"))
    assert {found.earliest.rule, found.latest.rule, found.target.rule} == {"requested"}


@pytest.mark.parametrize(
    "of_series",
    [
        {"order": {"series": "S"}},
        {"test": {"serial_offsets": ((0, 3600),)}},
    ],
)
def test_stated_instant_of_a_series_has_fifteen_minutes(of_series: dict[str, dict[str, Any]]) -> None:
    # 06:40 -+ 15 min = 06:25 and 06:55; 06:55 + 60 min = 07:55.
    found = window({"collect_at_s": clock("06:40")} | of_series.get("order", {}), **of_series.get("test", {}))
    assert ends(found) == (clock("06:25"), clock("07:55"), clock("06:55"))


def test_stated_span_may_lack_either_end() -> None:
    assert ends(window({"collect_from_s": clock("06:00")})) == (clock("06:00"), R1, None)
    assert ends(window({"collect_to_s": clock("06:00")})) == (R0, clock("07:00"), clock("06:00"))
    both = window({"collect_from_s": clock("06:00"), "collect_to_s": clock("06:20")})
    assert ends(both) == (clock("06:00"), clock("07:20"), clock("06:20"))


def test_instant_and_span_together_are_both_kept() -> None:
    # Instant 07:00: 06:30 to 07:30 (08:30); span from 07:10: 07:10 is the later begin.
    found = window({"collect_at_s": clock("07:00"), "collect_from_s": clock("07:10")})
    assert ends(found) == (clock("07:10"), clock("08:30"), clock("07:30"))


@pytest.mark.parametrize(("priority", "minutes"), [("stat", 15), ("asap", 60), ("urgent", 60)])
def test_urgent_order_has_a_target_from_when_it_is_known(priority: str, minutes: int) -> None:
    for ordered_s, known_s in ((None, R0), (clock("04:00"), R0), (clock("06:00"), clock("06:00"))):
        found = window({"priority": Priority(priority), "ordered_s": ordered_s})
        assert ends(found) == (R0, R1, known_s + 60 * minutes)
        assert found.target.rule == "priority"


def test_priority_says_nothing_of_routine_or_timed_orders() -> None:
    assert window({"priority": Priority.ROUTINE}).target is None
    timed = window({"priority": Priority.STAT, "collect_at_s": clock("08:00")})
    assert timed.target_s == clock("08:30")


def test_required_clock_times_are_hard_and_preferred_ones_are_wishes() -> None:
    times = {"from_s": clock("07:00"), "to_s": clock("08:00")}
    hard = window({}, clock_rule=ClockRule(**times, is_required=True))
    assert ends(hard) == (clock("07:00"), clock("08:00"), None)
    wished = window({}, clock_rule=ClockRule(**times, is_required=False))
    assert ends(wished) == (R0, R1, None)
    assert [(p.rule, p.earliest_s, p.latest_s) for p in wished.preferences] == [
        ("clock", clock("07:00"), clock("08:00"))
    ]


def test_fasting_is_between_the_last_meal_and_the_next() -> None:
    # Ate at 22:00 the evening before, 8 h: 06:00. Breakfast of the policy at 08:00.
    ate = {"last_ate_s": clock("22:00") - 86_400}
    assert ends(window({"fasting": True}, ate)) == (clock("06:00"), clock("08:00"), None)
    # The test's own 10 hours: 08:00 up to a meal at 08:30.
    found = window({}, ate | {"next_meal_s": clock("08:30")}, fasting_s=10 * 3600, fasting_required=True)
    assert ends(found) == (clock("08:00"), clock("08:30"), None)
    assert (found.earliest.rule, found.latest.rule) == ("fasting", "fasting")


def test_fasting_without_a_known_meal_only_ends() -> None:
    assert ends(window({"fasting": True})) == (R0, clock("08:00"), None)


def test_not_fasting_ends_a_wish_but_not_a_requirement() -> None:
    assert window({"fasting": False}, fasting_s=3600).preferences == ()
    assert [p.rule for p in window({}, fasting_s=3600).preferences] == ["fasting"]
    assert ends(window({"fasting": False}, fasting_s=3600, fasting_required=True))[1] == clock("08:00")


@pytest.mark.parametrize(
    ("kind", "times", "expected"),
    [
        # Trough 0 to 30 min before a dose at 07:00.
        ("trough", {"next_dose_s": clock("07:00")}, (clock("06:30"), clock("07:00"))),
        # 30 to 60 min after the dose, the start or the change at 05:30.
        ("post_dose", {"last_dose_s": clock("05:30")}, (clock("06:00"), clock("06:30"))),
        ("post_start", {"last_dose_s": clock("05:30")}, (clock("06:00"), clock("06:30"))),
        ("post_change", {"last_dose_s": clock("05:30")}, (clock("06:00"), clock("06:30"))),
        ("post_end", {"infusion_end_s": clock("05:30")}, (clock("06:00"), clock("06:30"))),
    ],
)
def test_dose_rule_counts_from_its_own_instant(kind: str, times: dict[str, int], expected: tuple[int, int]) -> None:
    from_s, to_s = (0, 1800) if kind == "trough" else (1800, 3600)
    found = window(times, dose_rule=DoseRule(kind=kind, from_s=from_s, to_s=to_s))
    assert ends(found) == (*expected, None)
    assert (found.earliest.rule, found.latest.rule) == ("dose", "dose")


def test_dose_rule_without_an_upper_end_lasts_to_the_end_of_the_round() -> None:
    found = window({"last_dose_s": clock("05:30")}, dose_rule=DoseRule(kind="post_dose", from_s=1800))
    assert ends(found) == (clock("06:00"), R1, None)


@pytest.mark.parametrize("kind", ["trough", "post_dose", "post_start", "post_change", "post_end", "protocol"])
def test_timed_level_without_its_dose_follows_the_stated_time_and_ends_with_its_tolerance(kind: str) -> None:
    # 41 % of vancomycin levels were mistimed, and doses changed for it (Am J Clin Pathol 2012;137:472): past the
    # stated time and its 15 minutes the next dose may be in.
    found = window({"collect_at_s": clock("07:00")}, dose_rule=DoseRule(kind=kind, to_s=1800))
    assert ends(found) == (clock("06:45"), clock("07:15"), clock("07:15"))
    span = {"collect_from_s": clock("06:50"), "collect_to_s": clock("07:00")}
    assert ends(window(span, dose_rule=DoseRule(kind=kind, to_s=1800)))[1] == clock("07:00")


@pytest.mark.parametrize("kind", ["post_dose", "post_start", "post_change", "post_end"])
def test_next_dose_ends_every_window_after_a_dose(kind: str) -> None:
    # Digoxin: at least 6 h after the dose and before the next (labelling of the drug, as the review quotes it).
    dose = {"last_dose_s": clock("00:00"), "infusion_end_s": clock("00:00"), "next_dose_s": clock("06:30")}
    rule = DoseRule(kind=kind, from_s=6 * 3600)
    assert ends(window(dose, dose_rule=rule)) == (clock("06:00"), clock("06:30"), None)
    # The window's own end, 06:20, where that comes first.
    narrow = DoseRule(kind=kind, from_s=6 * 3600, to_s=6 * 3600 + 1200)
    assert ends(window(dose, dose_rule=narrow))[1] == clock("06:20")
    # The last dose is not known: a stated time is still not past the next dose.
    timed = {"collect_at_s": clock("06:30"), "next_dose_s": clock("06:35")}
    assert ends(window(timed, dose_rule=rule)) == (clock("06:15"), clock("06:35"), clock("06:45"))


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
    later = window_of(problem := _problem(order, patient, None, **test), problem.orders[0])
    assert isinstance(later, Unplanned) or ends(later) != (R0, R1, None)


def test_one_stated_ingestion_holds_even_a_stat() -> None:
    # A paracetamol level before 4 h of a single ingestion cannot be read against the treatment line.
    rule = DoseRule(kind="post_dose", from_s=4 * 3600, holds_stat=True)
    found = window(STAT | {"last_dose_s": clock("02:00")}, dose_rule=rule)
    assert ends(found) == (clock("06:00"), R1, clock("06:00"))
    assert [(q.asked, q.on_file_s, q.decides) for q in found.questions] == [(Asked.LAST_DOSE, clock("02:00"), True)]
    # Held beyond the round it needs a decision; it is nobody's "for information".
    late = _problem(STAT | {"last_dose_s": clock("06:00")}, None, None, dose_rule=rule)
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
    _windows, unplanned = order_windows(_problem(STAT | times, None, None))
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


def asked(order: dict[str, Any], patient: dict[str, Any] | None = None, **test: Any) -> list[tuple[str, int | None]]:
    return [(q.asked.value, q.on_file_s) for q in window(order, patient, **test).questions]


def test_questions_name_the_instant_that_the_rule_counts_from() -> None:
    times = {"last_dose_s": clock("04:00"), "next_dose_s": clock("07:00"), "infusion_end_s": clock("05:00")}
    for kind, name, on_file_s in (
        ("trough", "next-dose", times["next_dose_s"]),
        ("post_dose", "last-dose", times["last_dose_s"]),
        ("post_start", "dose-start", times["last_dose_s"]),
        ("post_change", "rate-change", times["last_dose_s"]),
        ("post_end", "infusion-end", times["infusion_end_s"]),
    ):
        assert asked(times, dose_rule=DoseRule(kind=kind, to_s=3 * 3600)) == [(name, on_file_s)]
    # A trough whose dose must be written down is asked for the last dose too.
    rule = DoseRule(kind="trough", to_s=1800)
    assert asked(times, dose_rule=rule, handling=("record_dose",)) == [
        ("next-dose", times["next_dose_s"]),
        ("last-dose", times["last_dose_s"]),
    ]
    assert asked({"fasting": True}, {"last_ate_s": -3600}) == [("last-meal", -3600)]
    assert asked({"fasting": False}, fasting_s=3600) == []
    assert asked({}) == []


def test_every_rule_that_binds_is_in_the_window() -> None:
    # A sheet shows fasting, clock and dose rules of one draw together, not only the narrowest end.
    found = window(
        {"next_dose_s": clock("07:30"), "fasting": True},
        clock_rule=ClockRule(from_s=clock("07:00"), to_s=clock("08:00"), is_required=True),
        dose_rule=DoseRule(kind="trough", to_s=3600),
    )
    assert [(e.rule, e.earliest_s, e.latest_s) for e in found.ends if e.rule != "round"] == [
        ("clock", clock("07:00"), clock("08:00")),
        ("fasting", None, clock("08:00")),
        ("dose", clock("06:30"), clock("07:30")),
    ]


def test_smallest_target_counts() -> None:
    found = window({"collect_at_s": clock("07:00"), "collect_to_s": clock("07:05")})
    assert found.target_s == clock("07:05")


def test_absence_is_cut_out_from_its_start_up_to_its_end() -> None:
    away = (TimeWindow(earliest_s=clock("06:00"), latest_s=clock("07:00")),)
    assert spans(window({}, {"away": away})) == [(R0, clock("06:00") - 1), (clock("07:00"), R1)]


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
    problem = _problem(order, patient, None, **test)
    windows, unplanned = order_windows(problem)
    assert windows == {}
    assert [(u.order_id, u.reason.value) for u in unplanned] == [("O1", reason)]
    assert unplanned[0].detail
    assert (unplanned[0].patient_id, unplanned[0].bed) == ("P1", "B1")


def test_quiet_hours_that_leave_nothing_are_named() -> None:
    whole = (TimeWindow(earliest_s=R0, latest_s=R1 + 1),)
    policy = replace(Policy(), round=replace(Policy().round, quiet_hours={"*": whole}))
    _windows, unplanned = order_windows(_problem({}, None, policy))
    assert unplanned[0].reason.value == "no-common-window"
    assert "quiet hours" in unplanned[0].detail


def test_window_that_is_one_second_is_a_window() -> None:
    found = window({"fasting": True}, {"next_meal_s": R0})
    assert spans(found) == [(R0, R0)]


def detail(order: dict[str, Any], patient: dict[str, Any], **test: Any) -> str:
    _windows, unplanned = order_windows(_problem(order, patient, None, **test))
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
    problem = _problem(times, None, None, dose_rule=rule)
    [order] = problem.orders
    found = window_of(problem, order)
    assert isinstance(found, Unplanned)
    assert found.reason.needs_decision
    assert "no valid time before the next dose" in found.detail and found.detail.endswith("nurse or pharmacist")


def test_level_with_a_valid_time_before_the_next_dose_is_drawn() -> None:
    assert window({"last_dose_s": clock("00:00"), "next_dose_s": clock("06:00")}, dose_rule=POST_6H)
    assert window({"collect_at_s": clock("05:44"), "next_dose_s": clock("05:45")}, dose_rule=TROUGH)
