"""Isolation, hazards and what stands before the orders: shown on the sheet, and never taken in silence."""

from __future__ import annotations

import pytest

from planner.domain.orders import Precaution
from tests.helpers import codes
from tests.unit.loaders.messages.hl7.ward import PATIENT, VISIT, message, order, planned, read


def patient(loaded):
    """Return the only patient."""
    (found,) = loaded.problem.patients.values()
    return found


@pytest.mark.parametrize("text", ["Contact isolation, gown and gloves", "MRSA positive", "airborne precautions"])
def test_isolation_in_a_note_of_the_patient_is_shown_and_counts_as_not_clear(tmp_path, text):
    loaded = read(tmp_path, message(order(), visit=f"NTE|1||{text}\r{VISIT}"))
    assert text in patient(loaded).alerts
    assert patient(loaded).precautions == {Precaution.UNCLEAR}
    assert "precaution-in-text" in codes(loaded)


def test_isolation_in_a_note_of_the_order_is_shown_and_not_interpreted(tmp_path):
    loaded = read(tmp_path, message(order(more=["NTE|1||droplet isolation"])))
    assert planned(loaded)["N1"].note == "droplet isolation"
    assert "precaution-in-text" in codes(loaded)


def test_the_danger_code_is_an_alert(tmp_path):
    # OBR-12, danger code (CE): a suspected hazard in the hospital's own words; HL7 has no table of values for it
    loaded = read(tmp_path, message(order(obr={"f12": "TB^open tuberculosis^L"})))
    assert patient(loaded).alerts == ("danger code: TB open tuberculosis L",)
    assert "precaution-in-text" in codes(loaded)


@pytest.mark.parametrize("code", ["N", "None", "NO"])
def test_a_danger_code_that_says_none_is_no_alert(tmp_path, code):
    loaded = read(tmp_path, message(order(obr={"f12": code})))
    assert patient(loaded).alerts == ()


def test_observations_before_the_orders_are_alerts(tmp_path):
    visit = f"{VISIT}\rOBX|1|ST|ISO^Isolation^L||contact||||||F"
    loaded = read(tmp_path, message(order(), order("N2"), visit=visit))
    assert patient(loaded).alerts == ("Isolation: contact",)
    assert "precaution-in-text" in codes(loaded)


def test_fasting_observed_before_the_orders_holds_for_all_of_them(tmp_path):
    # LOINC 49541-6, answered by HL7 table 0136 (Y)
    visit = f"{VISIT}\rOBX|1|ST|49541-6^Fasting status^LN||Y"
    loaded = read(tmp_path, message(order(), order("N2"), visit=visit))
    assert [o.fasting for o in planned(loaded).values()] == [True, True]


def test_a_fasting_answer_that_is_no_code_is_shown(tmp_path):
    loaded = read(tmp_path, message(order(more=["OBX|1|ST|49541-6^Fasting status^LN||since 22:00"])))
    order_read = planned(loaded)["N1"]
    assert (order_read.fasting, order_read.note) == (None, "Fasting status: since 22:00")
    assert "fasting-in-text" in codes(loaded)


@pytest.mark.parametrize("place", [{"orc": {"f7": "1^ONCE^^^^R^{}"}}, {"obr": {"f27": "^^^^^R^^{}"}}])
def test_the_condition_and_text_of_older_versions_are_shown(tmp_path, place):
    # TQ.7 condition and TQ.8 text of the quantity/timing data type, v2.2 to v2.4
    ((name, fields),) = place.items()
    filled = {key: value.format("only if pain free") for key, value in fields.items()}
    loaded = read(tmp_path, message(order(**{name: filled})))
    assert planned(loaded)["N1"].note == "only if pain free"


def test_an_unescaped_and_in_a_note_costs_no_text(tmp_path):
    loaded = read(tmp_path, message(order(more=["NTE|1||left & right arm: no cuff"])))
    assert planned(loaded)["N1"].note == "left & right arm: no cuff"


def test_a_message_without_any_of_it_says_nothing(tmp_path):
    loaded = read(tmp_path, message(order(), patient=PATIENT))
    assert "precaution-in-text" not in codes(loaded)
    assert patient(loaded).alerts == ()
