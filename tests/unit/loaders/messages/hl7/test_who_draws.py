"""Who draws, and whether there is anything to draw: HL7 tables 0065, 0487, 0369, 0074, and specimens that are there."""

from __future__ import annotations

import pytest

from tests.helpers import codes
from tests.unit.loaders.messages.hl7.ward import PATIENT, VISIT, message, order, planned, read, reasons, segment


@pytest.mark.parametrize("code", ["", "L", "S", "P", "R"])
def test_what_the_laboratory_or_nobody_else_draws_makes_a_visit(tmp_path, code):
    loaded = read(tmp_path, message(order(obr={"f11": code})))
    assert set(planned(loaded)) == {"N1"}
    assert ("collection-assumed" in codes(loaded)) == (code not in ("", "L"))


@pytest.mark.parametrize(
    ("code", "reason"), [("A", "add-on"), ("G", "add-on"), ("O", "drawn-by-others"), ("C", "cancelled")]
)
def test_specimen_action_codes_that_make_no_visit(tmp_path, code, reason):
    assert reasons(read(tmp_path, message(order(obr={"f11": code})))) == {"N1": reason}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "reason"),
    [
        ("BLDV^Blood venous^HL70487", None),
        ("SER^Serum^HL70487", None),
        ("119364003^Serum specimen^SCT", None),
        ("BLDA^Blood arterial^HL70487", "arterial"),
        ("122552005^Arterial blood^SCT", "arterial"),
        ("SKBP^Biopsy, skin^HL70487", "not-blood"),
        ("119339001^Stool specimen^SCT", "not-blood"),
        ("UR^Urine", "not-blood"),
    ],
)
def test_the_specimen_type_decides(tmp_path, kind, reason):
    loaded = read(tmp_path, message(order(more=[segment("SPM", f1="1", f4=kind)])))
    assert reasons(loaded) == ({"N1": reason} if reason else {})


def test_a_specimen_type_that_nobody_knows_is_taken_as_blood_and_said(tmp_path):
    loaded = read(tmp_path, message(order(more=[segment("SPM", f1="1", f4="Q9^Something else")])))
    assert set(planned(loaded)) == {"N1"}
    assert "unknown-specimen" in codes(loaded)


@pytest.mark.parametrize("number", ["f17", "f18"])
def test_a_specimen_collected_or_received_makes_no_visit(tmp_path, number):
    loaded = read(tmp_path, message(order(more=[segment("SPM", f1="1", f4="BLD", **{number: "20260309170000"})])))
    assert reasons(loaded) == {"N1": "already-drawn"}


def test_a_specimen_received_by_the_old_field_makes_no_visit(tmp_path):
    assert reasons(read(tmp_path, message(order(obr={"f14": "20260309170000"})))) == {"N1": "already-drawn"}


def test_one_specimen_of_two_still_to_come_makes_a_visit(tmp_path):
    drawn, open_ = segment("SPM", f1="1", f4="BLD", f17="20260309170000"), segment("SPM", f1="2", f4="BLD")
    assert set(planned(read(tmp_path, message(order(more=[drawn, open_]))))) == {"N1"}


def test_control_material_is_no_order(tmp_path):
    loaded = read(tmp_path, message(order(more=[segment("SPM", f1="1", f4="SER", f11="Q")])))
    assert reasons(loaded) == {"N1": "not-an-order"}


def test_before_v25_the_specimen_stands_in_obr15(tmp_path):
    text = message(order(obr={"f15": "UR^^^RT"}), kind="ORM^O01").replace("|P|2.5.1", "|P|2.3")
    assert reasons(read(tmp_path, text)) == {"N1": "not-blood"}
    assert set(planned(read(tmp_path, text.replace("UR^", "BLDV^")))) == {"N1"}


def test_a_specimen_before_its_orders_holds_until_the_next(tmp_path):
    # OML^O33: SPM, its orders, SPM, its orders; the first specimen is drawn, the second is not
    first = segment("SPM", f1="1", f4="BLD", f17="20260309170000")
    second = segment("SPM", f1="2", f4="BLD")
    text = message(
        first, order("N1"), order("N2", test="CREA"), second, order("N3", test="TSH"), kind="OML^O33^OML_O33"
    )
    loaded = read(tmp_path, text)
    assert reasons(loaded) == {"N1": "already-drawn", "N2": "already-drawn"}
    assert set(planned(loaded)) == {"N3"}


def test_a_specimen_after_its_order_belongs_to_that_order_alone(tmp_path):
    drawn = segment("SPM", f1="1", f4="BLD", f17="20260309170000")
    loaded = read(tmp_path, message(order("N1", more=[drawn]), order("N2", test="CREA")))
    assert reasons(loaded) == {"N1": "already-drawn"}
    assert set(planned(loaded)) == {"N2"}


@pytest.mark.parametrize("section", ["RAD", "CT", "NMR", "PHR", "EC"])
def test_orders_of_other_departments_are_set_aside(tmp_path, section):
    assert reasons(read(tmp_path, message(order(obr={"f24": section})))) == {"N1": "not-laboratory"}


@pytest.mark.parametrize("section", ["LAB", "CH", "HM", "MB", "BLB"])
def test_sections_of_the_laboratory_are_planned(tmp_path, section):
    assert set(planned(read(tmp_path, message(order(obr={"f24": section}))))) == {"N1"}


def test_loinc_names_of_imaging_are_set_aside_and_of_blood_are_not(tmp_path):
    loaded = read(tmp_path, message(order("N1", test="24590-2^MR Brain^LN"), order("N2", test="34528-0^PT panel^LN")))
    assert reasons(loaded) == {"N1": "not-laboratory"}
    assert planned(loaded)["N2"].test == "PT"


def test_pharmacy_segments_and_messages_are_set_aside(tmp_path):
    loaded = read(tmp_path, message(segment("ORC", f1="NW", f2="N1"), segment("RXO", f1="D1^Drug")))
    assert reasons(loaded) == {"N1": "not-laboratory"}
    loaded = read(tmp_path, message(order("N1"), kind="OMI^O23"))
    assert reasons(loaded) == {"N1": "not-laboratory"}


def test_nobody_is_sent_to_a_patient_who_has_died_or_left(tmp_path):
    dead = segment("PID", f3="0000417^^^HILL^MR", f5="Moss^Ada", f30="Y")
    gone = VISIT + "|" * 42 + "20260309120000"
    assert gone.split("|")[45] == "20260309120000"
    assert reasons(read(tmp_path, message(order(), patient=dead))) == {"N1": "patient-gone"}
    assert reasons(read(tmp_path, message(order(), visit=gone))) == {"N1": "patient-gone"}
    assert reasons(read(tmp_path, message(order(), patient=PATIENT))) == {}
