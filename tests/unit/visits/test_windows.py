"""Every window rule: where it allows and from what time it counts. The round is 05:00 to 09:00."""

from __future__ import annotations

from typing import Any

import pytest

from planner.domain.catalogue import ClockRule, DoseRule
from planner.domain.orders import Priority, TimeWindow
from planner.visits.windows import window_of
from tests.builders import clock, make_order, make_phlebotomist, make_problem
from tests.windows import R0, R1, ends, spans, window


def test_plain_order_has_the_whole_round_and_no_target() -> None:
    found = window({})
    assert ends(found) == (R0, R1, None)
    assert (found.earliest.rule, found.latest.rule) == ("round", "round")


def test_round_spans_all_shifts() -> None:

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
