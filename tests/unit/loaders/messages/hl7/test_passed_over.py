"""What is odd in messages and must not be passed over: unreadable runs, orders that ended early, parts of others."""

from __future__ import annotations

from datetime import date

import pytest

from planner.findings import unread
from planner.loaders import LoadOptions
from tests.helpers import codes
from tests.unit.loaders.messages.fhir.ward import on_ward, request
from tests.unit.loaders.messages.fhir.ward import read as read_fhir
from tests.unit.loaders.messages.hl7.ward import PATIENT, VISIT, message, order, planned, read, reasons, segment

LATER = "20260309200000+0100"


@pytest.mark.parametrize(
    "tq1",
    [
        {"f4": "6 am"},  # TQ1-4 is no clock time
        {"f4": "0600~2500"},
        {"f3": "Q1D", "f14": "many"},  # TQ1-14 is no number
        {"f3": "Q1D", "f6": "three^d"},  # TQ1-6 cannot be read
        {"f3": "Q1D", "f7": "tomorrow"},  # the run's first time cannot be read
        {"f3": "Q1D", "f8": "99991231"},  # nor its last
    ],
)
def test_a_run_of_which_a_part_cannot_be_read_needs_a_decision(tmp_path, tq1):
    loaded = read(tmp_path, message(order(tq1=tq1)))
    assert reasons(loaded) == {"N1": "time-missing"}
    assert "repeat-open" in codes(loaded)


@pytest.mark.parametrize("timing", ["1^Q1D&0600,x8^", "1^Q1D^L2^20260310060000", "1^Q1D^forever^20260310060000"])
def test_a_run_of_older_versions_of_which_a_part_cannot_be_read_needs_a_decision(tmp_path, timing):
    loaded = read(tmp_path, message(order(start="", orc={"f7": timing})))
    assert reasons(loaded) == {"N1": "time-missing"}


def test_a_number_of_draws_of_older_versions_is_the_runs_length(tmp_path):
    # TQ.3 = X2: twice; every hour from 05:00 gives 05:00 and 06:00
    text = message(order(start="", orc={"f7": "1^Q1H^X2^20260310050000"}), sent="20260309180000")
    loaded = read(tmp_path, text, options=LoadOptions(round_date=date(2026, 3, 10)))
    assert [o.collect_at_s for o in planned(loaded).values()] == [5 * 3600, 6 * 3600]


def test_a_relative_time_is_said(tmp_path):
    # TQ1-5, relative time and units
    loaded = read(tmp_path, message(order(tq1={"f5": "4^h"})))
    assert set(planned(loaded)) == {"N1"}
    assert "timing-linked" in codes(loaded)


@pytest.mark.parametrize("control", ["CA", "RP"])
@pytest.mark.parametrize("sent", ["20260309170000+0100", ""])
def test_an_order_placed_after_its_end_is_planned_and_said(tmp_path, control, sent):
    # without any time of sending the place in the file counts
    ended = message(order(control=control), control="E", sent=sent)
    new = message(order(), control="M", sent=sent and LATER)
    loaded = read(tmp_path, ended + new)
    assert set(planned(loaded)) == {"N1"}
    assert "order-ended-before" in codes(loaded)


def test_a_replacement_chain_keeps_its_last(tmp_path):
    first = message(order("N1", control="RP"), order("N2", control="RO"), control="R1", sent="20260309190000+0100")
    second = message(order("N2", control="RP"), order("N3", control="RO"), control="R2", sent=LATER)
    loaded = read(tmp_path, message(order("N1")) + first + second)
    assert set(planned(loaded)) == {"N3"}
    assert reasons(loaded) == {"N1": "replaced", "N2": "replaced"}


@pytest.mark.parametrize("field", [{"orc": {"f8": "P1"}}, {"obr": {"f29": "P1"}}])
def test_a_part_of_a_cancelled_order_is_planned_and_said(tmp_path, field):
    # ORC-8 and OBR-29, parent
    new = message(order("P1", control="PA"), order("C1", control="CH", **field))
    loaded = read(tmp_path, new + message(order("P1", control="CA"), control="X", sent=LATER))
    assert set(planned(loaded)) == {"C1"}
    assert "parent-cancelled" in codes(loaded)
    assert "parent-cancelled" not in codes(read(tmp_path, new))


def test_a_cancelled_part_leaves_the_others(tmp_path):
    parts = [order(f"C{i}", control="CH", test=test, orc={"f8": "P1"}) for i, test in enumerate(("CBC", "CREA"))]
    loaded = read(tmp_path, message(order("P1", control="PA"), *parts) + message(order("C0", control="CA"), sent=LATER))
    assert set(planned(loaded)) == {"C1"}


def test_findings_about_messages_say_where_in_words_that_lead_there(tmp_path):
    # the same number in a message and a resource: rows are of no use, so files and messages are named
    (tmp_path / "m.hl7").write_text(message(order("N1")))
    loaded = read_fhir(tmp_path, on_ward(request("N1", priority="stat")))
    finding = next(f for f in loaded.findings if f.code == "duplicate-number")
    assert "stands in f1.json: ServiceRequest/id-N1 and m.hl7: message M1, line 6 with" in finding.message
    assert "None" not in finding.message


def test_one_bed_written_in_two_ways_is_no_move(tmp_path):
    # PV1-3 says Birch^04^A; the resources say Bed A of Room 04 of Birch
    (tmp_path / "m.hl7").write_text(message(order("H1")))
    loaded = read_fhir(tmp_path, on_ward(request("N1")))
    assert set(planned(loaded)) == {"H1", "N1"}
    assert "patient-moved" not in codes(loaded)


@pytest.mark.parametrize("mix", ["\n", "\r\n", "\r\r\n"])
def test_mixed_line_ends(tmp_path, mix):
    text = message(order("N1")) + message(order("N2", test="CREA"), control="M2")
    for at in (2, 4, 6):
        text = text.replace("\r", mix, at).replace(mix, "\0", at - 1)
    assert set(planned(read(tmp_path, text.replace("\0", mix)))) == {"N1", "N2"}


def test_a_message_cut_in_two_by_frames_costs_itself_alone(tmp_path):
    one, two = message(order("N1")), message(order("N2", test="CREA"), control="M2")
    data = f"\x0b{one[:120]}\x1c\r\x0b{one[120:]}\x1c\r\x0b{two}\x1c\r"
    loaded = read(tmp_path, data)
    assert set(planned(loaded)) == {"N2"}
    assert reasons(loaded) == {"N1": "unreadable"}


def test_a_header_twice_and_a_field_without_end_cost_nothing(tmp_path):
    text = message(order("N1", more=["NTE|1||" + "x" * 1_000_000])) + message(order("N2", test="CREA"), control="M2")
    loaded = read(tmp_path, text.split("\r")[0] + "\r" + text)
    assert set(planned(loaded)) == {"N1", "N2"}
    # a note is cut, with dots, to what a sheet can show
    assert planned(loaded)["N1"].note.endswith("...")
    assert len(planned(loaded)["N1"].note) == 600


@pytest.mark.parametrize("codec", ["utf-16-le", "utf-16-be", "utf-16", "utf-8-sig"])
def test_wide_characters_with_and_without_a_mark(tmp_path, codec):
    assert set(planned(read(tmp_path, message(order("N1"), patient=PATIENT, visit=VISIT).encode(codec)))) == {"N1"}


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"f6": "EDTK^Potassium EDTA^HL70371"}, "additive: Potassium EDTA"),
        ({"f7": "LNV^Line, venous^HL70488"}, "method: Line, venous"),
        ({"f8": "LA^Left arm^HL70163"}, "site: Left arm"),
        ({"f15": "PSA^Protected from light^HL70376"}, "handling: Protected from light"),
        ({"f26": "3"}, "containers: 3"),
    ],
)
def test_how_a_specimen_is_to_be_taken_is_shown_and_not_acted_upon(tmp_path, fields, words):
    # HL7 tables 0371, 0488, 0163 and 0376; SPM-26, number of specimen containers
    loaded = read(tmp_path, message(order(more=[segment("SPM", f1="1", f4="BLD", **fields)])))
    assert words in planned(loaded)["N1"].note
    assert "specimen-detail" in codes(loaded)


def test_a_venipuncture_into_one_container_goes_without_saying(tmp_path):
    # HL7 table 0488, VENIP
    specimen = segment("SPM", f1="1", f4="BLD", f7="VENIP^Venipuncture^HL70488", f26="1")
    loaded = read(tmp_path, message(order(more=[specimen])))
    assert planned(loaded)["N1"].note == ""
    assert "specimen-detail" not in codes(loaded)


def test_the_reason_is_shown(tmp_path):
    # OBR-31, reason for study
    assert planned(read(tmp_path, message(order(obr={"f31": "^anaemia"}))))["N1"].note == "reason: anaemia"


def test_a_second_test_in_one_request_needs_a_decision(tmp_path):
    # OBR-4 does not repeat (HL7 v2.5.1, 4.5.3.4)
    loaded = read(tmp_path, message(order("N1", test="CBC^Full blood count^L~BMP^Metabolic panel^L"), order("N2")))
    assert set(planned(loaded)) == {"N1", "N2"}
    assert "test-repeated" in {f.code for f in unread(loaded.findings)}
