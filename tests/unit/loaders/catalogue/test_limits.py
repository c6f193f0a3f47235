"""Columns by which a laboratory's values act: limits by tube kind, closed days, first choice, words for the bed."""

from __future__ import annotations

import pytest

from planner.domain.catalogue import ClosedSpan, CountsFrom, TestCode, TubeLimit
from planner.findings import Severity, Source
from planner.loaders.catalogue.cells import CellError
from planner.loaders.catalogue.limits import parse_closed, parse_tube_limits
from planner.loaders.catalogue.load import SiteRow, load_catalogue

DAY_S = 86_400
CATALOGUE = load_catalogue()[0]


def load(**cells: str):
    catalogue, findings = load_catalogue([SiteRow(cells=cells, source=Source(file="tests.csv", row=2))])
    return catalogue.tests[TestCode(cells["test"])], findings


def test_limits_by_tube_are_read_by_kind_and_mode() -> None:
    assert parse_tube_limits("SERG:rt=120 | HEPG: rt=30, ICE=60;".rstrip(";")) == (
        TubeLimit(tube="SERG", max_room_s=7200),
        TubeLimit(tube="HEPG", max_room_s=1800, max_ice_s=3600),
    )
    assert parse_tube_limits("SER:37c=60") == (TubeLimit(tube="SER", max_warm_s=3600),)
    assert parse_tube_limits("") == ()


@pytest.mark.parametrize(
    "text",
    ["SERG", "SERG:", "SERG:120", "SERG:rt=", "SERG:rt=x", "SERG:rt=0", "SERG:rt=120,rt=60", "SERG:cold=60",
     "SERG:rt=120|SERG:rt=60", ":rt=120", "SERG:rt=120,60", "SERG:rt=99999"],
)  # fmt: skip
def test_limit_that_cannot_be_is_refused(text) -> None:
    with pytest.raises(CellError, match="minutes by tube kind"):
        parse_tube_limits(text)


def test_closed_spans_are_seconds_of_the_week() -> None:
    assert parse_closed("Thu 12:00-Sun 24:00") == (ClosedSpan(from_s=3 * DAY_S + DAY_S // 2, to_s=7 * DAY_S),)
    # A day alone is the whole of it; two days are from the begin of one to the end of the other.
    assert parse_closed("wednesday; Sat-Sun") == (
        ClosedSpan(from_s=2 * DAY_S, to_s=3 * DAY_S),
        ClosedSpan(from_s=5 * DAY_S, to_s=7 * DAY_S),
    )
    assert parse_closed("Fri 16:00-Mon 8:00") == (ClosedSpan(from_s=4 * DAY_S + 57_600, to_s=28_800),)
    assert parse_closed("") == parse_closed("never", is_weekday_only=True) == ()
    assert parse_closed("", is_weekday_only=True) == parse_closed("Thu 12:00-Sun 24:00")


@pytest.mark.parametrize("text", ["Xyz", "Thu 25:00", "Thu 12:60-Fri", "Thu 12:00-Thu 12:00", "12:00-13:00", "Thu-"])
def test_span_of_the_week_that_cannot_be_is_refused(text) -> None:
    with pytest.raises(CellError, match="span of the week"):
        parse_closed(text)


def test_a_site_sets_every_column() -> None:
    test, findings = load(
        test="TNI", limits_by_tube="SERG:rt=90", bedside="Same tube kind  each time", child_min_ml="0.3",
        first_choice="yes", one_kind_in_series="yes", counts_from="drink", closed="Sun",
    )  # fmt: skip
    assert findings == []
    assert test.tube_limits == (TubeLimit(tube="SERG", max_room_s=5400),)
    assert (test.bedside, test.child_min_volume_ul) == ("Same tube kind each time", 300)
    assert test.takes_first_choice and test.one_kind_in_series and test.counts_from is CountsFrom.DRINK
    assert test.closed == (ClosedSpan(from_s=6 * DAY_S, to_s=7 * DAY_S),)


def test_transfusion_takes_the_first_choice_unless_the_site_says_no() -> None:
    assert CATALOGUE.tests["TS"].takes_first_choice and not CATALOGUE.tests["CBC"].takes_first_choice
    assert not load(test="TS", first_choice="no")[0].takes_first_choice


@pytest.mark.parametrize(
    ("column", "text"),
    [("limits_by_tube", "SERG=120"), ("child_min_ml", "0"), ("child_min_ml", "9"), ("first_choice", "perhaps"),
     ("one_kind_in_series", "both"), ("counts_from", "breakfast"), ("closed", "Caturday"), ("bedside", "x" * 141)],
)  # fmt: skip
def test_bad_cell_is_named_and_the_row_not_used(column, text) -> None:
    test, findings = load(**{"test": "TNI", column: text})
    assert [f.code for f in findings] == ["catalogue-row-refused"]
    assert findings[0].source is not None and findings[0].source.column == column
    assert test == CATALOGUE.tests["TNI"]


def test_limit_for_a_kind_that_does_not_serve_the_test_is_reported() -> None:
    # A slip in the code would leave the longer limit of the test in force without a word.
    test, findings = load(test="TNI", limits_by_tube="SERX:rt=60|EDTA:rt=60|SERG:rt=60")
    assert [(f.code, f.severity) for f in findings] == [
        ("catalogue-tube-unknown", Severity.ERROR),
        ("catalogue-limit-unused", Severity.WARNING),
    ]
    assert [limit.tube for limit in test.tube_limits] == ["SERG"]


def test_every_built_in_limit_names_a_kind_that_the_test_accepts() -> None:
    for test in CATALOGUE.tests.values():
        accepted = {code for alternative in test.accepts for code in alternative}
        assert {limit.tube for limit in test.tube_limits} <= accepted, test.code
