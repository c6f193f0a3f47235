"""A message or file of which a part is lost: what may have been an order there needs a decision."""

from __future__ import annotations

import pytest

from planner.findings import unread
from planner.loaders import load
from tests.helpers import codes
from tests.unit.loaders.messages.hl7.ward import PATIENT, VISIT, message, order, planned, read

pytestmark = pytest.mark.slow

FIRST = message(order("N1"), control="M1")
TWO = FIRST + message(order("N2", test="CREA^Creatinine^L"), control="M2")
HEADER = "MSH|^~\\&|WARDS|HILL|LAB|HILL|20260309180000+0100||{kind}|M9|P|2.5.1"


def damaged(loaded):
    """Return whether something said of a damaged message needs a decision."""
    return "message-damaged" in {f.code for f in unread(loaded.findings)}


def without_orders(kind):
    return "\r".join([HEADER.format(kind=kind), PATIENT, VISIT]) + "\r"


@pytest.mark.parametrize("place", ["before", "after"])
@pytest.mark.parametrize(
    "kind", ["ORM^O01", "OML^O21^OML_O21", "OMG^O19", "OMQ^O01", "ORU^R01", "", "OM", "0ML^O21", "OXL"]
)
def test_an_order_message_without_an_order_needs_a_decision(tmp_path, kind, place):
    # HL7 v2.5.1, 4.4 and 7.3: ORC or OBR is required in each of these; "OXL" is no type of table 0076
    texts = [without_orders(kind), FIRST] if place == "before" else [FIRST, without_orders(kind)]
    loaded = read(tmp_path, "".join(texts))
    assert damaged(loaded)
    assert set(planned(loaded)) == {"N1"}


@pytest.mark.parametrize("kind", ["ADT^A01", "ACK", "ORR^O02", "ORL^O22", "MFN^M02", "ZHI^Z01", "SIU^S12"])
def test_a_message_that_need_not_hold_orders_needs_no_decision(tmp_path, kind):
    # HL7 table 0076; an answer may be an acknowledgement alone (v2.5.1, 4.4.2); Z begins a site's own
    loaded = read(tmp_path, FIRST + without_orders(kind))
    assert not unread(loaded.findings)
    assert "message-not-orders" in codes(loaded)


def test_a_file_torn_anywhere_inside_a_message_needs_a_decision(tmp_path):
    ends = {len(FIRST), len(TWO)}
    after_order = {
        i
        for i in range(len(TWO))
        if TWO.endswith("\r", 0, i) and TWO[:i].rpartition("\r")[0].rpartition("\r")[2][:3] == "OBR"
    }
    silent = []
    for cut in range(len(FIRST) - 30, len(TWO)):
        (tmp_path / "m.hl7").write_bytes(TWO[:cut].encode())
        loaded = load(tmp_path)
        if not unread(loaded.findings) and not loaded.problem.set_aside:
            silent.append(cut)
    assert set(silent) <= ends | after_order


def test_a_frame_that_is_not_closed_needs_a_decision(tmp_path):
    # MLLP: 0x0B message 0x1C 0x0D
    one, two = TWO[: len(FIRST)], TWO[len(FIRST) :]
    assert not damaged(read(tmp_path, f"\x0b{one}\x1c\r\x0b{two}\x1c\r"))
    assert damaged(read(tmp_path, f"\x0b{one}\x1c\r\x0b{two}"))
    assert damaged(read(tmp_path, f"\x0b{one}\x0b{two}\x1c\r"))


def test_a_last_line_without_its_end_is_a_habit_where_every_file_has_it(tmp_path):
    one, two = TWO[: len(FIRST)], TWO[len(FIRST) :]
    assert not damaged(read(tmp_path, one.rstrip("\r"), two.rstrip("\r")))
    assert damaged(read(tmp_path, one, two.rstrip("\r")))


def test_a_batch_with_its_trailer_is_whole_without_a_last_line_end(tmp_path):
    assert not unread(read(tmp_path, "BHS|^~\\&|A\r" + TWO + "BTS|2").findings)


@pytest.mark.parametrize("lost", ["", "\rPV1|1|I|Birch^05", "RC|NW|N7\rOBR|1|N7||CBC^F"])
@pytest.mark.parametrize("before", ["ORC|", "OBR|", "MSH|"])
def test_a_line_that_runs_into_the_next_segment_needs_a_decision(tmp_path, before, lost):
    # what stood between may have been an order
    head, mark, tail = TWO.rpartition("\r" + before)
    loaded = read(tmp_path, f"{head}{lost}{mark[1:]}{tail}")
    assert damaged(loaded)


@pytest.mark.parametrize("name", ["OBB", "OBC", "OSR", "XBR", "AAA"])
def test_an_unknown_segment_that_holds_a_coded_test_needs_a_decision(tmp_path, name):
    # no segment of HL7 v2.1 to 2.8 has these names
    loaded = read(tmp_path, message(order("N1"), f"{name}|1|N2||CREA^Creatinine^L"))
    assert damaged(loaded)
    assert set(planned(loaded)) == {"N1"}


@pytest.mark.parametrize("name", ["ORX", "OXC", "XRC", "QRC"])
def test_an_unknown_segment_nearly_named_like_an_orders_needs_a_decision(tmp_path, name):
    loaded = read(tmp_path, message(order("N1"), f"{name}|CA|N1"))
    assert damaged(loaded)


@pytest.mark.parametrize(
    "line", ["ZBR|1|N2||CREA^Creatinine^L", "DG1|1||R50^Fever^L", "OBX|1|CE|X^Seen^L||Y", "CTI|7^A^L"]
)
def test_a_site_s_own_or_a_known_segment_needs_no_decision(tmp_path, line):
    loaded = read(tmp_path, message(order("N1"), line))
    assert not unread(loaded.findings)
