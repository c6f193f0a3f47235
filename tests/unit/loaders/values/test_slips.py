"""Slips that files really hold: impossible offsets, colliding beds, policies no reader can take, cut numbers."""

from __future__ import annotations

from datetime import date

import pytest

from planner.domain.plan import Reason
from planner.loaders.policy.load import load_policy
from planner.loaders.values.moments import parse_clock, parse_moment
from tests.helpers import codes

DAY = date(2026, 3, 4)
ROW = "{},{},Okafor,Ada,1960-05-31,{},CBC,routine,{}"


@pytest.mark.parametrize("offset", ["+99:00", "-24:00", "+15:00", "+01:75"])
def test_offset_that_no_zone_has(load_rows, offset):
    loaded = load_rows(ROW.format("A1", "1", "4", f"2026-03-04T06:00{offset}"), round_date=DAY)
    assert [u.reason for u in loaded.problem.set_aside] == [Reason.UNREADABLE]
    assert "time-unreadable" in codes(loaded)


def test_offset_at_the_edge_is_read():
    assert parse_moment("2026-03-04T06:00+14:00", None).clock_s == 6 * 3600


def test_beds_with_and_without_ward_that_collide(load_folder):
    orders = "order_number,patient_number,ward,bed,test\nA1,1,A,1,CBC\nA2,2,B,1,CBC\nA3,3,,A/1,CBC\n"
    loaded = load_folder({"orders.csv": orders}, round_date=DAY)
    # two patients in bed 1 of ward A: neither is planned for in silence
    told = {i for f in loaded.findings for i in f.order_ids if f.code != "identifier-missing"}
    assert {"A1", "A3"} <= told
    assert {o.id for o in loaded.problem.orders} | {u.order_id for u in loaded.problem.set_aside} == {"A1", "A2", "A3"}


def test_places_of_the_table_that_collide(load_folder):
    orders = "order_number,patient_number,ward,bed,test\nA1,1,A,1,CBC\nA2,2,B,1,CBC\n"
    places = "place,ward,kind\nBase,,base\n1,A,bed\n1,B,bed\nA/1,,bed\n"
    loaded = load_folder({"orders.csv": orders, "places.csv": places}, round_date=DAY)
    found = [f for f in loaded.findings if f.code == "place-twice"]
    assert [f.source.row for f in found] == [5]


@pytest.mark.parametrize(
    "text", ["[round]\nphlebotomists = " + "9" * 5000, "x = " + "[" * 5000 + "]" * 5000], ids=["digits", "nesting"]
)
def test_policy_that_cannot_be_taken_in(text):
    _, findings = load_policy(text)
    assert [f.code for f in findings] == ["policy-unreadable"]
    assert len(findings[0].message) < 500


@pytest.mark.parametrize(("number", "is_refused"), [(40, False), (41, True)])
def test_most_people_of_a_round(number, is_refused):
    policy, findings = load_policy(f"[round]\nphlebotomists = {number}\n")
    assert [f.code for f in findings] == (["policy-value-refused"] if is_refused else [])
    assert policy.round.phlebotomists == (1 if is_refused else number)


@pytest.mark.parametrize("text", ["4E+15", "1E+05", "4.00012E+15"])
def test_identifiers_that_a_spreadsheet_has_shortened(load_rows, text):
    loaded = load_rows(ROW.format("A1", text, "4", ""), round_date=DAY)
    assert [u.order_id for u in loaded.problem.set_aside] == ["A1"]
    assert "identifier-damaged" in codes(loaded)


def test_identifier_that_only_looks_like_a_power(load_rows):
    loaded = load_rows(ROW.format("A1", "1E5", "4", ""), round_date=DAY)
    assert [o.patient_id for o in loaded.problem.orders] == ["1E5"]


def test_dotted_dates_that_contradict_each_other_are_set_aside(load_rows):
    rows = [ROW.format(f"A{i}", i, i, f"{text}.2026 06:00") for i, text in enumerate(("13.03", "03.13", "04.03"), 1)]
    loaded = load_rows(*rows, round_date=date(2026, 3, 13))
    assert "dates-contradict" in codes(loaded)
    # the first two can only be 13 March; the third may be 4 March or 3 April
    assert [o.id for o in loaded.problem.orders] == ["A1", "A2"]
    assert [u.reason for u in loaded.problem.set_aside] == [Reason.UNREADABLE]


@pytest.mark.parametrize(
    ("text", "expected_s"),
    [("0.25", 21_600), ("0.5", 43_200), (".75", 64_800), ("0.125", 10_800), ("0.1", 8640), ("0.30", 1800)],
)
def test_parts_of_a_day_are_clock_times(text, expected_s):
    # 0.25 of 86,400 s is 21,600 s; 0.30 with its idle zero is no number of a spreadsheet but 00:30
    assert parse_clock(text).clock_s == expected_s


def test_parts_of_a_day_in_a_workbook(load_book):
    rows = [["name", "from", "until"], ["Kim", 0.25, 0.5]]
    orders = [["order_number", "patient_number", "bed", "test"], ["A1", "1", "4", "CBC"]]
    person = load_book({"Orders": orders, "Staff": rows}, round_date=DAY).problem.staff[0]
    assert (person.from_s, person.until_s) == (21_600, 43_200)
