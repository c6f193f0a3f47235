"""One clock parser: whoever reads a clock time reads 7:30, 0730 and 7.30 alike."""

from __future__ import annotations

from datetime import time

import pytest

from planner.library.loading import parse_start as option
from planner.loaders.catalogue.cells import clock_s
from planner.loaders.catalogue.limits import parse_closed
from planner.loaders.during.shorthand import parse_away, parse_courier, parse_dose, parse_join, parse_late
from planner.loaders.policy.fields import read_clock_s
from planner.loaders.values.moments import UnreadableError, clock_seconds, parse_moment

S = 7 * 3600 + 30 * 60
DAY_S = 86_400
WRITTEN = ["7:30", "07:30", "0730", "730", "7.30", "07.30", "7h30", "7:30 am", " 07:30 "]


@pytest.mark.parametrize("text", WRITTEN)
def test_every_reader_of_clock_times_reads_it(text):
    assert clock_seconds(text) == S
    assert parse_moment(text.strip(), None).clock_s == S
    assert option(text) == time(7, 30)
    assert read_clock_s(text) == S
    assert clock_s("window_start", text) == S
    (closed,) = parse_closed(f"Thu {text}-Sun 24:00")
    assert (closed.from_s, closed.to_s) == (3 * DAY_S + S, 7 * DAY_S)
    assert parse_dose(f"L1={text}").at_wall_s == S
    assert parse_away(f"14={text}-8:00").from_wall_s == S
    assert parse_join(f"AB={text}").from_wall_s == S
    assert parse_courier(f"Shelf={text},8.15").departs_wall_s == (S, S + 45 * 60)


@pytest.mark.parametrize("text", [t for t in WRITTEN if t != "730"])
def test_a_late_person_is_late_until_a_clock_time(text):
    """A bare number of three digits is minutes there, and only there."""
    assert parse_late(f"AB={text}").until_wall_s == S


@pytest.mark.parametrize("text", ["", "7", "25:00", "7:60", "2026-03-10", "10.3.2026", "07:30+01:00", "soon"])
def test_what_is_no_clock_time_alone_is_refused(text):
    with pytest.raises(UnreadableError):
        clock_seconds(text)
