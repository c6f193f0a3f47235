"""Texts behind options: each to one change, or to a message with an example of how to write it."""

from __future__ import annotations

import pytest

from planner.domain.revisions.changes import (
    Away,
    Cancel,
    Change,
    Courier,
    Gone,
    Join,
    Late,
    Lost,
    Moved,
    Recollect,
    StatOrders,
)
from planner.loaders.during.shorthand import (
    PARSERS,
    ReportTyped,
    ShorthandError,
    parse_clock,
    parse_report,
    parse_up_to,
)
from tests.builders import clock, make_phlebotomist


@pytest.mark.parametrize("text", ["05:42", "5:42", "0542", "05.42", "5.42", "542", " 05h42 "])
def test_clock_times_as_people_write_them(text: str) -> None:
    assert parse_clock(text) == 5 * 3600 + 42 * 60


@pytest.mark.parametrize("text", ["", "5", "25:00", "05:60", "24:01", "noon", "05:42+01:00"])
def test_what_is_no_clock_time(text: str) -> None:
    with pytest.raises(ShorthandError, match="HH:MM"):
        parse_clock(text)


@pytest.mark.parametrize(
    ("option", "text", "change"),
    [
        ("stat", "14:POT,LACT", StatOrders(bed="14", tests=("POT", "LACT"))),
        ("stat", " Alder 14 : potassium ; LACT ", StatOrders(bed="Alder 14", tests=("potassium", "LACT"))),
        ("stat", "14:POT again", StatOrders(bed="14", tests=("POT",), is_again=True)),
        ("cancel", " AL7 ", Cancel(order_id="AL7")),
        ("recollect", "AL7", Recollect(order_id="AL7")),
        ("away", "14=06:30-07:15", Away(bed="14", from_wall_s=clock("06:30"), to_wall_s=clock("07:15"))),
        ("away", "14 = 23:50 to 00:30", Away(bed="14", from_wall_s=clock("23:50"), to_wall_s=clock("00:30"))),
        ("moved", "14=16", Moved(bed="14", to="16")),
        ("moved", "14=", Gone(bed="14")),
        ("gone", "14", Gone(bed="14")),
        ("late", "AB=20", Late(name="AB", minutes=20)),
        ("late", "Nora West=20 min", Late(name="Nora West", minutes=20)),
        ("late", "AB=06:10", Late(name="AB", until_wall_s=clock("06:10"))),
        ("lost", "AB", Lost(name="AB")),
        ("join", "Nora West=06:00", Join(name="Nora West", from_wall_s=clock("06:00"))),
        ("join", "NW=06:00-08:30", Join(name="NW", from_wall_s=clock("06:00"), until_wall_s=clock("08:30"))),
        ("courier", "Shelf=06:20,07:05", Courier(place="Shelf", departs_wall_s=(clock("06:20"), clock("07:05")))),
        ("courier", "Shelf=+15", Courier(place="Shelf", delay_s=900)),
        ("courier", "Shelf=none", Courier(place="Shelf")),
    ],
)
def test_text_is_read(option: str, text: str, change: Change) -> None:
    assert PARSERS[option](text) == change


@pytest.mark.parametrize(
    ("option", "text"),
    [
        ("stat", "14"),
        ("stat", "14:"),
        ("stat", ":POT"),
        ("stat", "14: , "),
        ("cancel", " "),
        ("away", "14"),
        ("away", "14=6"),
        ("away", "14=30 min"),
        ("away", "14=06:30-06:30"),
        ("away", "=06:30-07:00"),
        ("away", "14=6-7"),
        ("away", "14=06:30-05:30"),  # 23 hours: a slip, not an absence over midnight
        ("stat", "14:C\x07BC"),
        ("cancel", "A\x1b1"),
        ("gone", "1\x7f4"),
        ("moved", "14"),
        ("moved", "=16"),
        ("gone", ""),
        ("late", "AB"),
        ("late", "AB=soon"),
        ("late", "AB=0"),
        ("lost", ""),
        ("join", "NW"),
        ("join", "NW=6"),
        ("courier", "Shelf"),
        ("courier", "Shelf=later"),
        ("courier", "Shelf=+0"),
        ("courier", "Shelf=06:20,later"),
    ],
)
def test_text_that_cannot_be_read_says_how_to_write_it(option: str, text: str) -> None:
    with pytest.raises(ShorthandError, match=r"write|HH:MM"):
        PARSERS[option](text)


@pytest.mark.parametrize(
    ("value", "wall"), [("0610", "06:10"), ("6.10", "06:10"), ("06:10", "06:10"), ("1830", "18:30")]
)
def test_four_digits_behind_late_are_a_clock_time(value: str, wall: str) -> None:
    assert PARSERS["late"](f"IS={value}") == Late(name="IS", until_wall_s=clock(wall))


def test_minutes_that_are_no_delay_ask_for_the_clock_time_that_was_meant() -> None:
    with pytest.raises(ShorthandError, match="Did you mean IS=06:10"):
        PARSERS["late"]("IS=610")
    assert PARSERS["late"]("IS=240") == Late(name="IS", minutes=240)


@pytest.mark.parametrize(
    ("option", "text", "found"),
    [
        ("refused", "St. Anne, 2nd floor 1A", ReportTyped("St. Anne, 2nd floor 1A")),
        ("failed", "14=5.38", ReportTyped("14", clock("05:38"))),
        ("drawn", "Larch (north) 1A=0538", ReportTyped("Larch (north) 1A", clock("05:38"))),
        ("drawn", "Larch (north) 1A=05:38 by Ann Bell", ReportTyped("Larch (north) 1A", clock("05:38"), "Ann Bell")),
        ("drawn", "Larch, by the stair 1A=05:38", ReportTyped("Larch, by the stair 1A", clock("05:38"))),
        ("drawn", "Juniper 1A by KS", ReportTyped("Juniper 1A", None, "KS")),
        ("refused", "Juniper 1A BY KS", ReportTyped("Juniper 1A", None, "KS")),
    ],
)
def test_outcomes_of_beds(option: str, text: str, found: ReportTyped) -> None:
    assert parse_report(option, text) == found


def test_draw_without_a_time_is_refused() -> None:
    with pytest.raises(ShorthandError, match="14=05:38"):
        parse_report("drawn", "14")


COMMA = make_phlebotomist("DO", name="O'Farrell, Daniel")
STAFF = (make_phlebotomist("AB", name="Ann Bell"), COMMA, make_phlebotomist("IV", name="Ines Vander Meer"))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("AB=06:20", [(0, "06:20")]),
        ("DO=06:20,IV=6.15", [(1, "06:20"), (2, "06:15")]),
        ("DO=06:20; IV=0615; AB=06:01", [(1, "06:20"), (2, "06:15"), (0, "06:01")]),
        ("O'Farrell, Daniel=06:20,IV=06:15", [(1, "06:20"), (2, "06:15")]),
        ("DO=06:20,IV", []),
        ("DO=06:20,XY=06:15", []),
        ("DO=06:20,IV=soon", []),
        ("12,14B,3", []),
        ("", []),
    ],
)
def test_several_people_may_be_said_to_have_come_so_far(text: str, expected: list[tuple[int, str]]) -> None:
    assert list(parse_up_to(text, STAFF)) == [(person, clock(at)) for person, at in expected]
