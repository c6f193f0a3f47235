"""The codec writes frozen values as plain JSON and reads the same values back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import Enum
from typing import NewType

import pytest

from planner.exporters.plan_json.codec import CodecError, decode, encode

Key = NewType("Key", str)


class Colour(Enum):
    RED = "red"
    BLUE = "blue"


@dataclass(frozen=True)
class Inner:
    number: int = 7
    note: str = ""


@dataclass(frozen=True)
class Outer:
    key: Key
    day: date | None = None
    colours: frozenset[Colour] = frozenset()
    pairs: Mapping[tuple[Key, Key], int] = field(default_factory=dict)
    by_colour: Mapping[Colour, tuple[Inner, ...]] = field(default_factory=dict)
    pair: tuple[int, str] = (0, "")
    share: float = 0.5


WHOLE = Outer(
    key=Key("0007"),
    day=date(2026, 3, 10),
    colours=frozenset({Colour.RED, Colour.BLUE}),
    pairs={(Key("b"), Key("a")): 1, (Key("a"), Key("b")): 2},
    by_colour={Colour.RED: (Inner(), Inner(number=7, note="x")), Colour.BLUE: ()},
    pair=(3, "three"),
    share=2.0,
)


def test_values_read_back_with_their_types() -> None:
    read = decode(Outer, encode(WHOLE))
    assert read == WHOLE
    assert isinstance(read.share, float)


def test_sets_and_keys_are_sorted_and_absent_fields_left_out() -> None:
    assert encode(WHOLE) == {
        "key": "0007",
        "day": "2026-03-10",
        "colours": ["blue", "red"],
        "pairs": [[["a", "b"], 2], [["b", "a"], 1]],
        "by_colour": {"blue": [], "red": [{"number": 7}, {"number": 7, "note": "x"}]},
        "pair": [3, "three"],
        "share": 2.0,
    }
    # A default that says something (7, 0.5) is written: a later version may have another.
    assert encode(Outer(key=Key("k"))) == {"key": "k", "pairs": {}, "by_colour": {}, "pair": [0, ""], "share": 0.5}


@dataclass(frozen=True)
class Stay:
    place: str
    until: int


@dataclass(frozen=True)
class Walk:
    place: str
    until: int
    by: str
    note: str = ""


@dataclass(frozen=True)
class Day:
    parts: tuple[Stay | Walk, ...] = ()


def test_a_choice_of_data_classes_reads_back_by_its_fields() -> None:
    day = Day(parts=(Walk("x", 1, "foot"), Stay("y", 2), Walk("z", 3, "foot", "slow")))
    assert decode(Day, encode(day)) == day
    with pytest.raises(CodecError, match=r"Day.parts\[0\]: not one of Stay, Walk"):
        decode(Day, {"parts": [{"place": "x"}]})
    with pytest.raises(CodecError, match="dict expected, NoneType found"):
        decode(Day, {"parts": [None]})


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ({}, "Outer.key is missing"),
        ({"key": 7}, "str expected, int found"),
        ({"key": "k", "colour": 1}, "unknown field 'colour'"),
        ({"key": "k", "colours": ["green"]}, r"Outer.colours\[0\]: not a value of Colour"),
        ({"key": "k", "day": "10.3.2026"}, "Outer.day: not a date"),
        ({"key": "k", "pair": [1]}, "2 entries expected, 1 found"),
        ({"key": "k", "pairs": [[["a", "b"]]]}, "a pair of key and value"),
        ({"key": "k", "by_colour": {"red": [{"number": True}]}}, "int expected, bool found"),
        ([], "dict expected, list found"),
    ],
)
def test_other_forms_are_refused_with_the_place(data: object, message: str) -> None:
    with pytest.raises(CodecError, match=message):
        decode(Outer, data)
