"""Quantities, timings that hang on one another, repeats nobody can plan, odd offsets: planned or not, always said."""

from __future__ import annotations

from datetime import date

import pytest

from planner.loaders import LoadOptions
from tests.helpers import codes
from tests.unit.loaders.messages.hl7.ward import message, order, planned, read, reasons

POLICY = 'time_zone = "Europe/Berlin"\n'


@pytest.mark.parametrize(
    "fields",
    [
        {"tq1": {"f2": "2"}},  # TQ1-2, quantity
        {"tq1": {"f2": "2^EA"}},
        {"orc": {"f7": "2"}},  # ORC-7.1, before v2.5
        {"test": "BC^Blood culture x2^L"},
        {"test": "^2 sets of blood cultures"},
        {"test": "^Blood culture x2"},
    ],
)
def test_two_culture_sets_are_two_orders_of_one_series(tmp_path, fields):
    loaded = read(tmp_path, message(order(**{"test": "BC", **fields})))
    orders = planned(loaded)
    assert sorted(orders) == ["N1.1", "N1.2"]
    assert len({(o.test, o.series) for o in orders.values()}) == 1
    assert "culture-sets-counted" in codes(loaded)


@pytest.mark.parametrize("amount", ["2", "3^EA", "10^mL", "2.5", "99", "many"])
def test_a_quantity_of_any_other_test_is_one_draw_and_said(tmp_path, amount):
    loaded = read(tmp_path, message(order(tq1={"f2": amount})))
    assert sorted(planned(loaded)) == ["N1"]
    assert "count-not-used" in codes(loaded)


@pytest.mark.parametrize("amount", ["1", "1^EA", "1.0", "1^TEST", ""])
def test_a_quantity_of_one_says_nothing(tmp_path, amount):
    loaded = read(tmp_path, message(order(tq1={"f2": amount})))
    assert sorted(planned(loaded)) == ["N1"]
    assert "count-not-used" not in codes(loaded)


def test_a_repeating_culture_has_its_sets_at_each_time(tmp_path):
    tq1 = {"f2": "2", "f3": "Q1H", "f7": "20260310060000+0100", "f14": "2"}
    options = LoadOptions(round_date=date(2026, 3, 10))
    loaded = read(tmp_path, message(order(test="BC", start="", tq1=tq1)), options=options)
    assert sorted(planned(loaded)) == ["N1.03-10T06:00.1", "N1.03-10T06:00.2", "N1.03-10T07:00.1", "N1.03-10T07:00.2"]


@pytest.mark.parametrize("code", ["S", "A", "C"])
def test_timings_tied_to_one_another_are_planned_each_and_said(tmp_path, code):
    # TQ1-12, HL7 table 0472: S synchronous, A asynchronous, C actuation time
    more = f"TQ1|2||||||20260310070000+0100|||||{code}"
    segments = order(tq1={"f12": code})
    loaded = read(tmp_path, message([*segments[:2], more, *segments[2:]]))
    assert [o.collect_at_s for o in planned(loaded).values()] == [6 * 3600, 7 * 3600]
    assert "timing-linked" in codes(loaded)


def test_an_order_whose_time_hangs_on_another_needs_a_decision(tmp_path):
    segments = order("N2", start="")
    linked = [segments[0], "TQ2|1|S|N1^WARDS||||EE|30^min", *segments[1:]]
    loaded = read(tmp_path, message(order(), linked))
    assert sorted(planned(loaded)) == ["N1"]
    assert reasons(loaded) == {"N2": "time-missing"}
    assert "timing-linked" in codes(loaded)


def test_an_order_that_hangs_on_another_and_states_its_time_is_planned_at_it(tmp_path):
    segments = order("N2")
    loaded = read(tmp_path, message(order(), [*segments[:2], "TQ2|1|S|N1^WARDS||||EE|30^min", *segments[2:]]))
    assert planned(loaded)["N2"].collect_at_s == 6 * 3600
    assert "timing-linked" in codes(loaded)


@pytest.mark.parametrize("tq1", [{"f3": "Q1L"}, {"f3": "Q1Y"}, {"f3": "^^^^1^mo"}, {"f3": "WARDROUND"}])
def test_months_years_and_site_patterns_are_set_aside_even_with_a_time_of_day(tmp_path, tq1):
    # HL7 table 0335: Q<n>L every n months; TQ1-3.5/.6 an interval with its unit
    loaded = read(tmp_path, message(order(start="20260110060000+0100", tq1={**tq1, "f4": "0600"})))
    assert (planned(loaded), reasons(loaded)) == ({}, {"N1": "time-missing"})
    assert "repeat-open" in codes(loaded)


@pytest.mark.parametrize(
    ("offset", "clock_s"),
    [
        ("+9900", 6 * 3600),  # no clock has it: taken as local time
        ("+0175", 6 * 3600),
        ("+0215", 4 * 3600 + 45 * 60),  # no place has it: 06:00 at +02:15 is 04:45 at +01:00
        ("-1230", 19 * 3600 + 30 * 60),  # 06:00 at -12:30 is 19:30 at +01:00
    ],
)
def test_odd_offsets_are_said(tmp_path, offset, clock_s):
    text = message(order(start=f"20260310060000{offset}"), sent="20260309180000")
    loaded = read(tmp_path, text, policy_toml=POLICY)
    found = planned(loaded)
    assert [f.source.column for f in loaded.findings if f.code == "offset-odd"] == ["TQ1-7"]
    assert [o.collect_at_s for o in found.values()] == [clock_s]


def test_an_odd_offset_of_the_message_is_said(tmp_path):
    loaded = read(tmp_path, message(order(), sent="20260309180000+9999"), policy_toml=POLICY)
    assert [f.source.column for f in loaded.findings if f.code == "offset-odd"] == ["MSH-7"]


@pytest.mark.parametrize("offset", ["+0530", "+0545", "-0330", "+1400", "+0000", ""])
def test_offsets_that_places_have_are_not_odd(tmp_path, offset):
    loaded = read(tmp_path, message(order(start=f"20260310060000{offset}")), policy_toml=POLICY)
    assert "offset-odd" not in codes(loaded)


def test_an_order_sent_again_in_a_later_message_is_a_repeat(tmp_path):
    # times without an offset go by MSH-7; that of the second message is later, the order is the same
    start = "20260310060000"
    first = message(order(start=start), control="A")
    again = message(order(start=start), control="B", sent="20260309190000+0100")
    loaded = read(tmp_path, first, again, policy_toml=POLICY)
    assert sorted(planned(loaded)) == ["N1"]
    assert "order-sent-twice" not in codes(loaded)
