"""Dates and clock times: what is read, and what is too open to be read."""

from __future__ import annotations

from datetime import date

import pytest

from planner.domain.plan import Reason
from planner.loaders.values.moments import UnreadableError, parse_clock, parse_moment
from planner.units import Moment

DAY = date(2026, 3, 4)
ROW = "A{n},{n},Okafor,Ada,,{n},CBC,routine,{at}"


def orders_at(*times: str) -> list[str]:
    return [ROW.format(n=n, at=at) for n, at in enumerate(times, start=1)]


@pytest.mark.parametrize(
    ("text", "day", "clock_s"),
    [
        ("2026-03-04", DAY, None),
        ("2026-03-04T05:30", DAY, 19_800),
        ("2026-03-04 05:30:10", DAY, 19_810),
        ("2026/3/4 05:30", DAY, 19_800),
        ("20260304", DAY, None),
        ("20260304T0530", DAY, 19_800),
        ("202603040530", DAY, 19_800),
        ("13/03/2026", date(2026, 3, 13), None),
        ("03/13/2026", date(2026, 3, 13), None),
        ("04.03.2026", DAY, None),
        ("04.03.26 05:30", DAY, 19_800),
        ("4 Mar 2026", DAY, None),
        ("04-MAR-2026 05:30", DAY, 19_800),
        ("March 4, 2026", DAY, None),
        ("4. März 2026", DAY, None),
        ("46085", DAY, None),
        ("46085.25", DAY, 21_600),
        ("05:30", None, 19_800),
        ("5:30 am", None, 19_800),
        ("12:15 AM", None, 900),
        ("12:15 pm", None, 44_100),
        ("5 pm", None, 61_200),
        ("0530", None, 19_800),
        ("05h30", None, 19_800),
        ("5h", None, 18_000),
        ("05.30 Uhr", None, 19_800),
        ("0.22916667", None, 19_800),
        ("24:00", None, 86_400),
    ],
)
def test_moments_that_are_read(text, day, clock_s):
    """46085 is the spreadsheet day number of 2026-03-04: 46,085 days after 1899-12-30."""
    assert parse_moment(text, None) == Moment(day, clock_s)


def test_1904_day_numbers_lie_1462_days_later():
    # 1904-01-01 is 1,462 days after 1899-12-30
    assert parse_moment(str(46_085 - 1462), None, uses_1904=True).day == DAY


def test_offset_is_kept():
    moment = parse_moment("2026-03-04T05:30:00+02:00", None)
    assert moment.offset is not None
    assert moment.offset.utcoffset(None).total_seconds() == 7200


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("04/03/2026", "date-ambiguous"),
        ("31/02/2026", "date-unreadable"),
        ("2026-13-01", "date-unreadable"),
        ("4 Foo 2026", "date-unreadable"),
        ("24:01", "time-over-a-day"),
        ("31:15", "time-over-a-day"),
        ("05:61", "time-unreadable"),
        ("13:00 pm", "time-unreadable"),
        ("7", "time-unreadable"),
        ("soon", "time-unreadable"),
    ],
)
def test_moments_that_are_refused(text, code):
    with pytest.raises(UnreadableError) as caught:
        parse_moment(text, None)
    assert caught.value.code == code


@pytest.mark.parametrize("text", ["2026-03-04", "13/03/2026", "46085", "2026-03-04 05:30", "4 Mar 2026"])
def test_date_where_a_time_belongs(text):
    with pytest.raises(UnreadableError) as caught:
        parse_clock(text)
    assert caught.value.code == "date-where-time-belongs"


def test_ambiguous_column_names_the_option(load_rows):
    loaded = load_rows(*orders_at("04/03/2026 06:00", "05/03/2026 06:00"), round_date=DAY)
    (finding,) = [f for f in loaded.findings if f.code == "date-ambiguous"]
    assert "--date-order" in finding.message
    assert finding.source.column == "collect_at"
    assert {u.reason for u in loaded.problem.set_aside} == {Reason.UNREADABLE}
    assert not loaded.problem.orders


@pytest.mark.parametrize(("order", "days"), [("dmy", [0, 1]), ("mdy", [30, 60])])
def test_option_settles_an_ambiguous_column(load_rows, order, days):
    """04/03 and 05/03 are 4 and 5 March, or 3 April (30 days later) and 3 May (60): the round's day is 4 March."""
    loaded = load_rows(*orders_at("04/03/2026 06:00", "05/03/2026 06:00"), round_date=DAY, date_order=order)
    assert [(o.collect_at_s - 21_600) / 86_400 for o in loaded.problem.orders] == days


def test_one_clear_date_settles_the_column(load_rows):
    loaded = load_rows(*orders_at("04/03/2026 06:00", "13/03/2026 06:00"), round_date=DAY)
    assert [o.collect_at_s for o in loaded.problem.orders] == [21_600, 9 * 86_400 + 21_600]


def test_contradicting_column_sets_only_open_rows_aside(load_rows):
    loaded = load_rows(*orders_at("13/03/2026 06:00", "03/13/2026 06:00", "04/03/2026 06:00"), round_date=DAY)
    assert "dates-contradict" in {f.code for f in loaded.findings}
    assert [u.order_id for u in loaded.problem.set_aside] == ["A3"]


def test_iso_dates_beside_day_first_ones(load_rows):
    loaded = load_rows(*orders_at("2026-03-04 06:00", "13/03/2026 06:00", "04/03/2026 07:00"), round_date=DAY)
    assert "dates-mixed" in {f.code for f in loaded.findings}
    assert [o.collect_at_s for o in loaded.problem.orders] == [21_600, 9 * 86_400 + 21_600, 25_200]


def test_day_numbers_are_read_with_a_warning(load_rows):
    loaded = load_rows(*orders_at("46085.25"), round_date=DAY)
    assert loaded.problem.orders[0].collect_at_s == 21_600
    assert "excel-serial-date" in {f.code for f in loaded.findings}


def test_round_date_is_the_day_of_most_orders(load_rows):
    loaded = load_rows(*orders_at("2026-03-04 06:00", "2026-03-04 07:00", "2026-03-05 06:00"))
    assert loaded.problem.clock.day == DAY
    assert any("2026-03-04" in sentence for sentence in loaded.problem.assumptions)


def test_round_date_is_the_morning_after_the_orders_were_entered(load_text):
    head = "order_number,patient_number,bed,test,ordered_at\n"
    loaded = load_text(head + "A1,1,4,CBC,2026-03-03 19:00\nA2,1,4,CRP,2026-03-03 21:00\n")
    assert loaded.problem.clock.day == DAY


def test_round_date_without_any_date_is_today_and_said(load_rows):
    loaded = load_rows(*orders_at("06:00"))
    assert loaded.problem.clock.day == date.today()
    assert any("today" in sentence for sentence in loaded.problem.assumptions)


def test_ambiguous_column_gets_a_hint_from_another(load_rows):
    row = "A1,1,Okafor,Ada,31/05/1960,1,CBC,routine,04/03/2026 06:00"
    (finding,) = [f for f in load_rows(row, round_date=DAY).findings if f.code == "date-ambiguous"]
    assert "'birth_date' is day first" in finding.message
