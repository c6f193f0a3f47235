"""A time of a message reaches its order as a value: its text is for people, and says the same."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.findings import Report
from planner.loaders.catalogue.load import load_catalogue
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.messages.common.stamps import Stamp, cell_of, moment_of
from planner.loaders.messages.to_rows.orders import MessageOrders
from planner.loaders.values import fields
from planner.loaders.values.moments import parse_moment
from tests.unit.loaders.messages.hl7.ward import message, order, planned, read

VIENNA = ZoneInfo("Europe/Vienna")


@pytest.mark.slow
@given(
    st.dates(date(2026, 3, 27), date(2026, 3, 31)) | st.dates(date(2026, 10, 23), date(2026, 10, 27)),
    st.none() | st.integers(0, 86_400),
    st.none() | st.sampled_from([-5 * 3600, 0, 3600, 7200, 20_700]),
)
def test_text_and_value_of_a_time_say_the_same(day: date, clock_s: int | None, offset_s: int | None) -> None:
    """Both clock changes of a year and their neighbours, with and without an offset; 86,400 s is 24:00."""
    stamp = Stamp("", day, clock_s, None if clock_s is None else offset_s)
    assert moment_of(stamp, VIENNA) == parse_moment(cell_of(stamp, VIENNA), None)


@pytest.mark.parametrize("stamp", [Stamp("2026-13-40"), Stamp("", date(3026, 3, 10), 0), Stamp("", date(1900, 1, 1))])
def test_time_that_cannot_be_reckoned_with_has_only_its_text(stamp: Stamp) -> None:
    assert moment_of(stamp, VIENNA) is None


def test_rows_of_messages_carry_moments() -> None:
    data = message(order(start="20260310060000+0100"), sent="20260309180000+0100").encode()
    orders = MessageOrders([("m.hl7", data)], TestLookup(load_catalogue()[0]), Report(), zone_name="Europe/Vienna")
    (record,) = orders.stated
    assert record.text("collect_at") == "2026-03-10 06:00:00+01:00"
    assert record.moments["collect_at"] == parse_moment(record.text("collect_at"), None)


def test_order_takes_the_value_and_not_the_text(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = fields.parse_moment

    def refusing(text: str, *arguments: object) -> object:
        assert ":" not in text, f"{text} was printed and is parsed again"
        return real(text, *arguments)

    monkeypatch.setattr(fields, "parse_moment", refusing)
    text = message(
        order("N1", start="20260310060000+0100"), order("N2", start="", obr={"f27": "^Q2H^^20260310060000^^R"})
    )
    found = planned(read(tmp_path, text))
    assert found["N1"].collect_at_s is not None
    assert len(found) > 2
