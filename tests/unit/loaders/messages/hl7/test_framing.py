"""Line ends, frames, batches and breaks that got lost: every form of a file gives the same orders."""

from __future__ import annotations

import pytest

from planner.findings import unread
from tests.helpers import codes
from tests.unit.loaders.messages.hl7.ward import PATIENT, aside, message, order, planned, read, reasons

TWO = message(order("N1"), control="M1") + message(order("N2", test="CREA^Creatinine^L"), control="M2")


@pytest.mark.parametrize("end", ["\r", "\n", "\r\n", "\r\r", "\n\n"])
def test_any_line_end_reads_the_same(tmp_path, end):
    assert set(planned(read(tmp_path, TWO.replace("\r", end)))) == {"N1", "N2"}


@pytest.mark.parametrize("bom", [b"\xef\xbb\xbf", b""])
def test_a_byte_order_mark_and_a_missing_last_line_end_change_nothing(tmp_path, bom):
    assert set(planned(read(tmp_path, bom + TWO.rstrip("\r").encode()))) == {"N1", "N2"}


def test_utf16_is_read(tmp_path):
    assert set(planned(read(tmp_path, TWO.encode("utf-16")))) == {"N1", "N2"}


@pytest.mark.parametrize("between", [b"\x1c\r\x0b", b"\x1c\x0b", b"\x1c\r\n\x0b"])
def test_mllp_frames_are_taken_off(tmp_path, between):
    # MLLP: 0x0B message 0x1C 0x0D (HL7 v2 implementation guide, minimal lower layer protocol)
    first, second = TWO.split("MSH|")[1:]
    data = b"\x0bMSH|" + first.encode() + between + b"MSH|" + second.encode() + b"\x1c\r"
    loaded = read(tmp_path, data)
    assert set(planned(loaded)) == {"N1", "N2"}
    assert "message-damaged" not in codes(loaded)


def test_a_batch_is_read_and_its_counts_are_compared(tmp_path):
    batch = "FHS|^~\\&|A\rBHS|^~\\&|A\r" + TWO + "BTS|{n}\rFTS|1\r"
    assert "batch-count" not in codes(read(tmp_path, batch.format(n=2)))
    loaded = read(tmp_path, batch.format(n=3))
    assert "batch-count" in codes(loaded)
    assert set(planned(loaded)) == {"N1", "N2"}


def test_a_batch_that_never_ends_is_said(tmp_path):
    assert "batch-count" in codes(read(tmp_path, "BHS|^~\\&|A\r" + TWO))


def test_a_header_glued_to_the_line_before_begins_a_message(tmp_path):
    loaded = read(tmp_path, TWO.replace("\rMSH", "MSH").replace("\r\r", "\r"))
    assert set(planned(loaded)) == {"N1", "N2"}
    assert "message-damaged" in codes(loaded)


def test_a_header_that_lost_its_name_costs_its_own_message_only(tmp_path):
    damaged = TWO[:-1].rpartition("MSH|")
    loaded = read(tmp_path, damaged[0] + "LSH|" + damaged[2])
    assert set(planned(loaded)) == {"N1"}
    assert reasons(loaded) == {"N2": "unreadable"}
    assert "message-damaged" in codes(loaded)


def test_separators_that_cannot_be_used_cost_their_own_message_only(tmp_path):
    loaded = read(tmp_path, TWO.replace("MSH|^~\\&|", "MSH|^^^^|", 1))
    assert set(planned(loaded)) == {"N2"}
    assert reasons(loaded) == {"N1": "unreadable"}


def test_segments_without_any_header_are_set_aside_not_lost(tmp_path):
    loaded = read(tmp_path, PATIENT + "\r" + "\r".join(order("N9")) + "\r" + TWO)
    assert reasons(loaded) == {"N9": "unreadable"}
    assert set(planned(loaded)) == {"N1", "N2"}


def test_an_order_glued_to_the_segment_before_is_read_and_the_message_called_damaged(tmp_path):
    text = message("GT1|1||Guarantor|||||||||||||EMPLOYER^L" + "\r".join(order("N1")))
    loaded = read(tmp_path, text)
    assert set(planned(loaded)) == {"N1"}
    assert "message-damaged" in codes(loaded)


def test_the_word_orc_in_a_text_is_no_segment(tmp_path):
    loaded = read(tmp_path, message(order("N1", more=["NTE|1|L|see ORC|NW|x", "NTE|2|L|PID|"])))
    assert set(planned(loaded)) == {"N1"}
    assert "message-damaged" not in codes(loaded)


def test_a_line_that_is_no_segment_goes_on_with_the_one_before(tmp_path):
    loaded = read(tmp_path, message(order("N1", more=["NTE|1|L|left arm", "not the right one"]), order("N2")))
    assert planned(loaded)["N1"].note == "left arm / not the right one"
    assert "stray-line" in codes(loaded)
    assert "N2" in planned(loaded)


def test_segment_names_in_small_letters_are_read(tmp_path):
    text = message(order("N1")).replace("\rOBR|", "\robr|")
    assert set(planned(read(tmp_path, text))) == {"N1"}


@pytest.mark.parametrize("marks", ["^~\\&", "^~\\&#", "^~&", "$%*@"])
def test_separators_are_those_of_the_header(tmp_path, marks):
    # v2.7 adds a fifth character (truncation); three characters mean no escape character
    text = message(order("N1", obr={"f9": ""}))
    head, _, rest = text.partition("\r")
    new = {"^~&": ("^", "~", "&")}.get(marks, (marks[0], marks[1], marks[3] if len(marks) > 3 else "&"))
    for old, mark in zip("^~&", ("\0", "\1", "\2"), strict=True):
        rest = rest.replace(old, mark)
        head = head.replace("^~\\&", "@@").replace(old, mark)
    for mark, now in zip(("\0", "\1", "\2"), new, strict=True):
        rest, head = rest.replace(mark, now), head.replace(mark, now)
    loaded = read(tmp_path, head.replace("@@", marks) + "\r" + rest)
    assert set(planned(loaded)) == {"N1"}
    assert planned(loaded)["N1"].patient_id == "0000417"


def test_admissions_are_no_orders_and_no_error_of_theirs(tmp_path):
    loaded = read(tmp_path, message(kind="ADT^A04", control="A1") + message(kind="ADT^A04", control="A2"))
    note = next(f for f in loaded.findings if f.code == "message-not-orders")
    assert "2 ADT^A04" in note.message
    assert "no-orders" in codes(loaded)


def test_a_message_of_an_unknown_type_with_an_order_is_read_and_said(tmp_path):
    loaded = read(tmp_path, message(order("N1"), kind="ZZZ^Z01"))
    assert set(planned(loaded)) == {"N1"}
    assert "message-type-odd" in codes(loaded)


def test_the_same_message_twice_changes_nothing(tmp_path):
    loaded = read(tmp_path, TWO, TWO)
    assert loaded.num_orders_read == 2
    assert "message-repeated" in codes(loaded)


def test_a_control_id_with_two_contents_is_said_and_both_are_read(tmp_path):
    loaded = read(tmp_path, message(order("N1")), message(order("N2")))
    assert set(planned(loaded)) == {"N1", "N2"}
    assert "message-repeated" in codes(loaded)


@pytest.mark.parametrize("mode", ["T", "D"])
def test_training_messages_are_said(tmp_path, mode):
    assert "message-test-mode" in codes(read(tmp_path, message(order()).replace("|P|2.5.1", f"|{mode}|2.5.1")))


def test_a_second_patient_in_one_message_is_set_aside_not_taken_for_an_old_result(tmp_path):
    other = PATIENT.replace("0000417", "0000999")
    loaded = read(tmp_path, message(order("N1"), other, order("N2")))
    assert set(planned(loaded)) == {"N1"}
    assert reasons(loaded) == {"N2": "unreadable"}
    assert "second-patient" in codes(loaded)


def test_findings_name_file_message_line_and_field(tmp_path):
    loaded = read(tmp_path, message(order("N1", test="NOPE^No such test^L"), control="M77"))
    finding = next(f for f in loaded.findings if f.code == "unknown-test")
    # lines: MSH 1, PID 2, PV1 3, ORC 4, TQ1 5, OBR 6
    assert str(finding.source) == "m1.hl7: message M77, line 6, OBR-4"
    assert aside(loaded)["N1"].reason.value == "unknown-test"


def test_another_field_separator_is_taken_from_the_header(tmp_path):
    assert set(planned(read(tmp_path, TWO.replace("|", "!")))) == {"N1", "N2"}


@pytest.mark.parametrize("lost", ["ILL^MR||Fern^Ivo||19600101\rPV1|1|I|Birch^09^B\r", "PV1|1|I|Birch^09^B\r"])
def test_orders_after_a_lost_header_are_never_given_to_the_patient_before(tmp_path, lost):
    loaded = read(tmp_path, message(order("N1")) + lost + "\r".join(order("N2")))
    assert set(planned(loaded)) == {"N1"}
    assert reasons(loaded) == {"N2": "unreadable"}
    assert loaded.problem.patients["0000417"].bed.endswith("04-A")
    assert "second-patient" in codes(loaded)


def test_a_frame_ends_a_message_whatever_is_lost_in_the_next(tmp_path):
    data = f"\x0b{message(order('N1'))}\x1c\r\x0bTQ1|1||||||20260310080000\r" + "\r".join(order("N2")) + "\r\x1c\r"
    loaded = read(tmp_path, data)
    assert set(planned(loaded)) == {"N1"}
    assert planned(loaded)["N1"].collect_at_s == 6 * 3600
    assert reasons(loaded) == {"N2": "unreadable"}


@pytest.mark.parametrize("kind", ["ORL^O21", "ORI^O01", "ORU^O21^OML_O21", "ORR^O33", "OSQ^O19"])
def test_an_answer_with_the_event_of_an_order_needs_a_decision(tmp_path, kind):
    # HL7 v2.5.1 chapter 4: O01 is ORM, O19 OMG; O21, O33, O35 are OML; answers have events of their own (O22, O34, ...)
    loaded = read(tmp_path, message(order("N1"), kind=kind, control="1"), message(order("N2"), control="2"))
    assert set(planned(loaded)) == {"N2"}
    assert reasons(loaded) == {"N1": "unreadable"}
    assert "message-type-odd" in codes(loaded)


@pytest.mark.parametrize("kind", ["ORL^O22", "ORR^O02", "ORU^R01", "ORU"])
def test_an_answer_with_an_event_of_its_own_is_left_alone(tmp_path, kind):
    loaded = read(tmp_path, message(order("N1"), kind=kind, control="1"), message(order("N2"), control="2"))
    assert set(planned(loaded)) == {"N2"}
    assert not reasons(loaded)
    assert not unread(loaded.findings)


@pytest.mark.parametrize("broken", ["1|N1||CBC^Full blood count^L", "|1|N1||CBC", "O\x03C|NW|N1"])
@pytest.mark.parametrize("place", ["begin", "middle", "end"])
def test_a_line_that_lost_its_name_needs_a_decision(tmp_path, broken, place):
    whole = message(order("N2"))
    lines = whole.rstrip("\r").split("\r")
    lines.insert({"begin": 0, "middle": 3, "end": len(lines)}[place], broken)
    loaded = read(tmp_path, "\r".join(lines) + "\r")
    assert "stray-line" in {f.code for f in unread(loaded.findings)}


def test_a_line_of_text_needs_no_decision(tmp_path):
    lines = message(order("N2", more=["NTE|1||left arm"])).rstrip("\r").split("\r")
    loaded = read(tmp_path, "\r".join([*lines, "not the right one | as the ward says"]) + "\r")
    assert set(planned(loaded)) == {"N2"}
    assert not unread(loaded.findings)


@pytest.mark.parametrize(
    "cut", ["R|1|N1||CBC^Full blood count^L", "|N1||718-7^Hemoglobin^LN", "||CBC^Full blood count^99HILL"]
)
def test_a_visit_into_which_an_order_ran_needs_a_decision(tmp_path, cut):
    # What was between the visit and the end of an order is lost; the note after it was the order's.
    lines = message(order("N2"), patient=PATIENT).rstrip("\r").split("\r")
    lines[2:3] = [f"PV1|1|I|Birch^04^A^H{cut}", "NTE|1||left arm"]
    loaded = read(tmp_path, "\r".join(lines) + "\r")
    assert "message-damaged" in {f.code for f in unread(loaded.findings)}


def test_a_note_after_the_visit_needs_no_decision(tmp_path):
    # HL7 v2.5.1 has NTE after PID, before PV1; senders put it after PV1 too (common practice, no source)
    lines = message(order("N2"), patient=PATIENT).rstrip("\r").split("\r")
    lines[2:3] = ["PV1|1|I|Birch^04^A^HILL||||77^Moor^Ivo", "NTE|1||left arm"]
    loaded = read(tmp_path, "\r".join(lines) + "\r")
    assert set(planned(loaded)) == {"N2"}
    assert not unread(loaded.findings)
