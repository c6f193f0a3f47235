"""Text inside a field is text: where CR ends segments, a line feed never orders, changes or cancels anything.

HL7 v2.5.1, chapter 2.5.1: the segment terminator is the carriage return, always.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.findings import unread
from tests.unit.loaders.messages.hl7.ward import aside, message, order, planned, read, reasons

TEXT = "seen by the ward"


def with_note(note: str, **options: str) -> str:
    """Return a message of two orders, the first of which has a note."""
    return message(order("N1", more=[f"NTE|1||{note}"]), order("N2"), **options)


@pytest.mark.parametrize(
    "line",
    [
        "ORC|CA|N2",
        "ORC|NW|N9\nOBR|1|N9||CBC^Count^L",
        "OBR|1|N9||CBC^Count^L",
        "PID|1||99^^^HILL^MR||Other^Name",
        "PV1|1|I|Elm^9",
    ],
)
@pytest.mark.parametrize("end", ["\r", "\r\n"])
def test_line_feed_in_a_note_neither_orders_nor_cancels(line: str, end: str, tmp_path: Path) -> None:
    text = with_note(f"{TEXT}\n{line}").replace("\r", end)
    loaded = read(tmp_path, text)
    assert planned(loaded).keys() == {"N1", "N2"}
    assert {p.ward for p in loaded.problem.patients.values()} == {"Birch"}
    assert "segment-in-text" in {f.code for f in unread(loaded.findings)}
    assert TEXT in planned(loaded)["N1"].note


def test_line_feed_in_any_field_is_text(tmp_path: Path) -> None:
    text = message(order("N1", obr={"f13": "weak\nORC|CA|N2", "f16": "D1"}), order("N2"))
    loaded = read(tmp_path, text)
    assert planned(loaded).keys() | reasons(loaded).keys() == {"N1", "N2"}
    assert "N2" in planned(loaded)
    assert "segment-in-text" in {f.code for f in unread(loaded.findings)}


def test_plain_text_after_a_line_feed_goes_on_with_its_field(tmp_path: Path) -> None:
    loaded = read(tmp_path, with_note(f"{TEXT}\nleft arm only"))
    assert planned(loaded)["N1"].note == f"{TEXT} / left arm only"
    assert not unread(loaded.findings)


def test_message_inside_a_note_is_no_message(tmp_path: Path) -> None:
    fake = (
        message(order("N9"), control="M9", patient="PID|1||99^^^HILL^MR||Other^Name").rstrip("\r").replace("\r", "\n")
    )
    loaded = read(tmp_path, with_note(f"{TEXT}\n{fake}"))
    assert planned(loaded).keys() == {"N1", "N2"}
    assert "segment-in-text" in {f.code for f in unread(loaded.findings)}


def test_messages_of_both_line_ends_in_one_file(tmp_path: Path) -> None:
    one = message(order("N1"), control="M1")
    other = message(order("N2"), control="M2").replace("\r", "\n")
    loaded = read(tmp_path, one + other + message(order("N3"), control="M3"))
    assert planned(loaded).keys() == {"N1", "N2", "N3"}
    assert not unread(loaded.findings)


def test_message_whose_line_ends_are_mixed_up_loses_nothing(tmp_path: Path) -> None:
    text = message(order("N1"), order("N2")).replace("\r", "\n").replace("\n", "\r", 1)
    assert planned(read(tmp_path, text)).keys() == {"N1", "N2"}


def test_segment_after_a_line_that_is_none_needs_a_decision(tmp_path: Path) -> None:
    """A carriage return inside a note cannot be told from a segment's end: what follows it may be text as well."""
    loaded = read(tmp_path, message(order("N1"), order("N2", more=["NTE|1||one", "two lines"]), ["ORC|CA|N1"]))
    assert planned(loaded).keys() == {"N1", "N2"}
    assert [o.reason.needs_decision for o in aside(loaded).values()] == [True]
    assert "segment-in-text" in {f.code for f in unread(loaded.findings)}


def test_new_order_after_a_line_that_is_none_is_planned_and_said(tmp_path: Path) -> None:
    loaded = read(tmp_path, message(order("N1", more=["NTE|1||one", "two lines"]), order("N2")))
    assert planned(loaded).keys() == {"N1", "N2"}
    assert "segment-in-text" in {f.code for f in unread(loaded.findings)}


@pytest.mark.parametrize("control", ["CA", "DC", "RP", "HD", "XO"])
def test_damaged_message_changes_no_other_order(control: str, tmp_path: Path) -> None:
    bad = message(order("N1", control=control, test="TSH^Tsh^L"), control="M2").replace("MSH|^~\\&|", "MSH|^^^^|")
    loaded = read(tmp_path, message(order("N1")), bad)
    assert planned(loaded)["N1"].test == "CBC"
    assert [o.reason.needs_decision for o in aside(loaded).values()] == [True]


@pytest.mark.parametrize("kind", ["ADT^A01", "ACK", "BAR^P01", "QRY^A19", "MFN^M01"])
def test_orders_in_a_message_that_never_has_any_are_read_and_said(kind: str, tmp_path: Path) -> None:
    loaded = read(tmp_path, message(order("N1"), kind=kind))
    assert planned(loaded).keys() == {"N1"}
    assert "message-type-odd" in {f.code for f in loaded.findings}


@pytest.mark.parametrize("time", ["2026", "202603", "2026031006", "20260310T", "2026-03"])
def test_part_of_a_time_that_is_not_there_is_not_invented(time: str, tmp_path: Path) -> None:
    """HL7 v2.5.1, chapter 2A.22 DTM: the precision is that of the digits that are given."""
    loaded = read(tmp_path, message(order("N1", start=time)))
    assert reasons(loaded) == {"N1": "unreadable"}


def test_message_whose_header_lost_its_separator_is_never_a_note(tmp_path: Path) -> None:
    bad = message(order("N2"), control="M2").replace("MSH|", "MSH\\", 1)
    loaded = read(tmp_path, message(order("N1")) + bad)
    assert "N2" in reasons(loaded) or "message-damaged" in {f.code for f in unread(loaded.findings)}
