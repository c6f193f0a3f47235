"""When an order is to be drawn: precedence, offsets, the nights of the clock changes, repeats within the round."""

from __future__ import annotations

from datetime import date

import pytest

from planner.loaders import LoadOptions
from tests.helpers import codes
from tests.unit.loaders.messages.hl7.ward import message, order, planned, read, reasons

DUBLIN = 'time_zone = "Europe/Dublin"\n[round]\nstart_at = "05:00"\nend_at = "09:00"\n'
H = 3600


def test_the_first_time_field_that_is_filled_counts(tmp_path):
    # by precedence: TQ1-7, ORC-7.4, OBR-27.4, OBR-36, ORC-15, OBR-6, OBR-7; at 5, 6, ... 11 o'clock
    fields = [
        ("tq1", "f7"),
        ("orc", "f7"),
        ("obr", "f27"),
        ("obr", "f36"),
        ("orc", "f15"),
        ("obr", "f6"),
        ("obr", "f7"),
    ]
    for first in range(len(fields)):
        given: dict[str, dict[str, str]] = {"tq1": {}, "orc": {}, "obr": {}}
        for i, (owner, name) in enumerate(fields[first:], start=first):
            text = f"202603100{5 + i}00" if i < 5 else f"20260310{5 + i}00"
            given[owner][name] = f"^^^{text}" if (owner, name) in (("orc", "f7"), ("obr", "f27")) else text
        loaded = read(tmp_path, message(order(start="", **given), sent="20260309180000"))
        assert planned(loaded)["N1"].collect_at_s == (5 + first) * H, fields[first]
        assert ("time-from-observation" in codes(loaded)) == (first == 6)


def test_start_and_end_are_a_window(tmp_path):
    found = planned(read(tmp_path, message(order(tq1={"f8": "20260310070000+0100"}))))["N1"]
    assert (found.collect_at_s, found.collect_from_s, found.collect_to_s) == (None, 6 * H, 7 * H)


def test_a_date_alone_is_not_midnight(tmp_path):
    found = planned(read(tmp_path, message(order(start="20260310"))))["N1"]
    assert not found.is_timed


def test_a_time_without_seconds_but_with_an_offset_is_read(tmp_path):
    # 06:00 at +02:15 is 03:45 UTC, which Dublin's clocks show in winter
    loaded = read(tmp_path, message(order(start="202603100600+0215")), policy_toml=DUBLIN)
    assert planned(loaded)["N1"].collect_at_s == 3 * H + 45 * 60


def test_a_time_without_an_offset_takes_that_of_the_message(tmp_path):
    # the message says +01:00 and Dublin keeps +00:00: 06:00 there is 05:00 here
    loaded = read(tmp_path, message(order(start="20260310060000")), policy_toml=DUBLIN)
    assert planned(loaded)["N1"].collect_at_s == 5 * H


def test_without_any_offset_the_sites_zone_counts(tmp_path):
    loaded = read(tmp_path, message(order(start="20260310060000"), sent="20260309180000"), policy_toml=DUBLIN)
    assert planned(loaded)["N1"].collect_at_s == 6 * H


def test_without_a_zone_the_messages_offset_is_taken_and_said(tmp_path):
    loaded = read(tmp_path, message(order()))
    assert loaded.problem is not None
    assert loaded.problem.clock.iso(planned(loaded)["N1"].collect_at_s or 0) == "2026-03-10T06:00:00+01:00"
    assert "time-zone-assumed" in codes(loaded)


def test_an_offset_that_no_zone_name_has_is_shown_in_utc_and_said(tmp_path):
    loaded = read(tmp_path, message(order(start="20260310060000+0530"), sent="20260309180000+0530"))
    # 06:00 at +05:30 is 00:30 UTC
    assert planned(loaded)["N1"].collect_at_s == 30 * 60
    assert "time-zone-assumed" in codes(loaded)


@pytest.mark.parametrize(
    ("start", "sent", "expected"),
    [
        # 2026-03-29: Dublin's clocks go from 01:00 to 02:00. 06:00 there is 5 hours after midnight.
        ("20260329060000", "20260328180000", 5 * H),
        # a sender whose offset was Dublin's when it wrote goes by Dublin's clocks after the jump too
        ("20260329060000", "20260328180000+0000", 5 * H),
        # but an offset at the time itself is final: 06:00+00:00 is 6 hours after midnight
        ("20260329060000+0000", "20260328180000+0000", 6 * H),
        # 01:30 does not exist; the same time after the jump is 02:30, one and a half hours after midnight
        ("20260329013000", "20260328180000", 90 * 60),
        # 2026-10-25: the clocks go from 02:00 back to 01:00. 06:00 is 7 hours after midnight.
        ("20261025060000", "20261024180000", 7 * H),
        # 01:30 exists twice; the first is meant, one and a half hours after midnight
        ("20261025013000", "20261024180000", 90 * 60),
    ],
)
def test_the_two_odd_nights(tmp_path, start, sent, expected):
    loaded = read(tmp_path, message(order(start=start), sent=sent), policy_toml=DUBLIN)
    assert planned(loaded)["N1"].collect_at_s == expected
    assert ("clock-change" in codes(loaded)) == (start[8:12] == "0130")


def test_a_time_that_cannot_be_read_sets_its_own_order_aside(tmp_path):
    loaded = read(tmp_path, message(order("N1", start="20261399"), order("N2", test="CREA")))
    assert reasons(loaded) == {"N1": "unreadable"}
    assert set(planned(loaded)) == {"N2"}


@pytest.mark.parametrize("year", ["0001", "1013", "2120", "9999"])
def test_years_beyond_all_reason_set_their_own_order_aside(tmp_path, year):
    loaded = read(tmp_path, message(order("N1", start=f"{year}1011060000"), order("N2"), order("N3")))
    assert reasons(loaded) == {"N1": "unreadable"}


@pytest.mark.parametrize(
    ("code", "priority"),
    [("S", "stat"), ("A", "asap"), ("P", "urgent"), ("R", "routine"), ("C", "routine"), ("", "routine")],
)
def test_priorities(tmp_path, code, priority):
    # HL7 table 0485: S stat, A asap, R routine, P pre-operative, C call back
    assert planned(read(tmp_path, message(order(tq1={"f9": code}))))["N1"].priority.value == priority


def test_the_priority_by_precedence(tmp_path):
    # TQ1-9, ORC-7.6, OBR-27.6, OBR-5
    given = {"orc": {"f7": "^^^^^A"}, "obr": {"f5": "R", "f27": "^^^^^P"}}
    assert planned(read(tmp_path, message(order(tq1={"f9": "S"}, **given))))["N1"].priority.value == "stat"
    assert planned(read(tmp_path, message(order(**given))))["N1"].priority.value == "asap"
    given["orc"] = {}
    assert planned(read(tmp_path, message(order(**given))))["N1"].priority.value == "urgent"
    given["obr"] = {"f5": "S"}
    assert planned(read(tmp_path, message(order(**given))))["N1"].priority.value == "stat"


def test_timing_critical_needs_a_time(tmp_path):
    assert set(planned(read(tmp_path, message(order(tq1={"f9": "T"}))))) == {"N1"}
    assert set(planned(read(tmp_path, message(order(tq1={"f9": "TM10"}))))) == {"N1"}
    assert reasons(read(tmp_path, message(order(start="20260310", tq1={"f9": "T"})))) == {"N1": "time-missing"}


def test_an_unknown_priority_is_not_guessed(tmp_path):
    assert "unknown-priority" in codes(read(tmp_path, message(order(tq1={"f9": "ZZ"}))))


def draws(loaded) -> list[int]:
    return sorted(o.collect_at_s or -1 for o in planned(loaded).values())


def test_a_draw_every_hour_is_taken_apart_within_the_round(tmp_path):
    # from 04:30 every 60 minutes; the round is 05:00 to 09:00: 05:30, 06:30, 07:30, 08:30
    text = message(order(start="20260310043000+0000", tq1={"f3": "Q1H"}), sent="20260309180000+0000")
    loaded = read(tmp_path, text, policy_toml=DUBLIN, options=LoadOptions(round_date=date(2026, 3, 10)))
    assert draws(loaded) == [5.5 * H, 6.5 * H, 7.5 * H, 8.5 * H]
    assert {o.series for o in planned(loaded).values()} == {"N1"}
    assert "repeat-taken-apart" in codes(loaded)


def test_the_number_and_the_end_of_a_run_count(tmp_path):
    day = LoadOptions(round_date=date(2026, 3, 10))
    start = "20260310043000+0000"
    # 04:30 and 05:30 are the first two of the run
    two = message(order(start=start, tq1={"f3": "Q1H", "f14": "2"}))
    assert draws(read(tmp_path, two, policy_toml=DUBLIN, options=day)) == [5.5 * H]
    until = message(order(start=start, tq1={"f3": "Q1H", "f8": "20260310064000+0000"}))
    assert draws(read(tmp_path, until, policy_toml=DUBLIN, options=day)) == [5.5 * H, 6.5 * H]
    # for two hours from 04:30, so before 06:30
    for_two_hours = message(order(start=start, tq1={"f3": "Q1H", "f6": "2^h"}))
    assert draws(read(tmp_path, for_two_hours, policy_toml=DUBLIN, options=day)) == [5.5 * H]


def test_a_run_begun_long_ago_goes_on_by_elapsed_hours_and_calendar_days(tmp_path):
    # 2026-03-29 in Dublin: midnight is 00:00 UTC and 06:00 is 05:00 UTC
    day = LoadOptions(round_date=date(2026, 3, 29))
    hours = message(order("N1", start="20260301060000+0000", tq1={"f3": "Q6H"}))
    # every 6 h from 06:00 UTC: 06:00 UTC, shown as 07:00, six hours after midnight
    assert draws(read(tmp_path, hours, policy_toml=DUBLIN, options=day)) == [6 * H]
    days = message(order("N1", start="20260301060000", tq1={"f3": "Q1D"}), sent="20260301000000")
    # 06:00 by the clocks, five hours after midnight
    assert draws(read(tmp_path, days, policy_toml=DUBLIN, options=day)) == [5 * H]


def test_times_of_day_are_taken_apart(tmp_path):
    day = LoadOptions(round_date=date(2026, 3, 10))
    text = message(order(start="20260309", tq1={"f3": "BID", "f4": "0600~1800"}), sent="20260309")
    assert draws(read(tmp_path, text, policy_toml=DUBLIN, options=day)) == [6 * H]


def test_every_second_day_and_weekdays(tmp_path):
    text = message(order(start="20260309060000", tq1={"f3": "QOD"}), sent="20260309")
    # from the 9th: not on the 10th, but on the 11th
    for day, reason in ((10, {"N1": "other-round"}), (11, {})):
        loaded = read(tmp_path, text, policy_toml=DUBLIN, options=LoadOptions(round_date=date(2026, 3, day)))
        assert reasons(loaded) == reason
    # Q1J2: every Tuesday; 2026-03-10 is one
    text = message(order(start="20260302060000", tq1={"f3": "QJ2"}), sent="20260302")
    assert draws(read(tmp_path, text, policy_toml=DUBLIN, options=LoadOptions(round_date=date(2026, 3, 10)))) == [6 * H]


def test_the_interval_of_older_versions_is_read(tmp_path):
    # TQ: quantity ^ interval & times ^ duration ^ start ^ end ^ priority
    text = message(order(start="", orc={"f7": "1^Q2H^H6^20260310050000^^S"}), sent="20260309180000")
    loaded = read(tmp_path, text, policy_toml=DUBLIN, options=LoadOptions(round_date=date(2026, 3, 10)))
    # 05:00, 07:00, 09:00 within six hours from 05:00
    assert draws(loaded) == [5 * H, 7 * H, 9 * H]
    assert {o.priority.value for o in planned(loaded).values()} == {"stat"}


@pytest.mark.parametrize("pattern", ["BID", "TID", "QSHIFT", "PRN", "Q3L", "XYZ"])
def test_repeats_that_nobody_can_work_out_need_a_decision(tmp_path, pattern):
    loaded = read(tmp_path, message(order(tq1={"f3": pattern})))
    assert reasons(loaded) == {"N1": "time-missing"}
    assert "repeat-open" in codes(loaded)


def test_a_run_of_seconds_is_refused_not_taken_apart(tmp_path):
    loaded = read(tmp_path, message(order(tq1={"f3": "Q1S"})))
    assert reasons(loaded) == {"N1": "time-missing"}


def test_once_is_one_draw(tmp_path):
    assert draws(read(tmp_path, message(order(tq1={"f3": "Once"})))) == [6 * H]


def test_several_timings_of_one_order_are_separate_draws(tmp_path):
    lines = order(start="20260310060000+0100")
    lines.insert(2, "TQ1|2||||||20260310070000+0100")
    loaded = read(tmp_path, message(lines))
    assert draws(loaded) == [6 * H, 7 * H]
    assert len({o.series for o in planned(loaded).values()}) == 1


def test_a_test_three_times_in_one_group_is_a_series(tmp_path):
    lines = [order(f"N{i}", test="TNI", start=f"202603100{i}0000+0100", orc={"f4": "G1"}) for i in (5, 6, 8)]
    loaded = read(tmp_path, message(*lines))
    assert draws(loaded) == [5 * H, 6 * H, 8 * H]
    assert {o.series for o in planned(loaded).values()} == {"G1"}
