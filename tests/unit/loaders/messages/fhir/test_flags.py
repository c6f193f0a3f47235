"""Flags, quantities, resources of kinds that are not used, odd times of FHIR: taken by the list, or shown and said."""

from __future__ import annotations

from datetime import date

import pytest

from planner.domain.orders import Precaution
from planner.loaders import LoadOptions
from tests.helpers import codes
from tests.unit.loaders.messages.fhir.ward import on_ward, read, request
from tests.unit.loaders.messages.hl7.ward import planned, reasons


def flag(text, **elements):
    """Return a Flag on the ward's patient."""
    return {
        "resourceType": "Flag",
        "status": "active",
        "code": {"text": text},
        "subject": {"reference": "Patient/p1"},
        **elements,
    }


def patient(loaded):
    """Return the only patient."""
    (found,) = loaded.problem.patients.values()
    return found


@pytest.mark.parametrize(
    ("text", "precaution"),
    [
        ("Contact precautions", Precaution.CONTACT),
        ("airborne", Precaution.AIRBORNE),
        ("Protective isolation", Precaution.PROTECTIVE),
    ],
)
def test_a_flag_that_is_a_term_of_the_list_is_a_precaution(tmp_path, text, precaution):
    loaded = read(tmp_path, on_ward(request(), flag(text)))
    assert patient(loaded).precautions == {precaution}
    assert "precaution-by-flag" in codes(loaded)


def test_any_other_flag_is_shown_and_not_interpreted(tmp_path):
    loaded = read(tmp_path, on_ward(request(), flag("isolate until two swabs are clear"), flag("Falls risk")))
    assert patient(loaded).precautions == frozenset()
    assert patient(loaded).alerts == ("flag: isolate until two swabs are clear", "flag: Falls risk")
    assert "precaution-in-text" in codes(loaded)


@pytest.mark.parametrize(
    "elements", [{"status": "inactive"}, {"status": "entered-in-error"}, {"period": {"end": "2025"}}]
)
def test_flags_of_the_past_say_nothing(tmp_path, elements):
    # FHIR flag-status
    loaded = read(tmp_path, on_ward(request(), flag("Contact precautions", **elements)))
    assert (patient(loaded).precautions, patient(loaded).alerts) == (frozenset(), ())


def test_flags_and_allergies_stand_side_by_side(tmp_path):
    allergy = {"resourceType": "AllergyIntolerance", "patient": {"reference": "Patient/p1"}, "code": {"text": "Latex"}}
    loaded = read(tmp_path, on_ward(request(), flag("Falls risk"), allergy))
    assert patient(loaded).alerts == ("flag: Falls risk", "allergy: Latex")


def test_isolation_in_a_note_is_shown_and_not_interpreted(tmp_path):
    loaded = read(tmp_path, on_ward(request(note=[{"text": "MRSA, gown"}])))
    assert planned(loaded)["N1"].note == "MRSA, gown"
    assert patient(loaded).precautions == frozenset()
    assert "precaution-in-text" in codes(loaded)


def test_a_specimen_definition_is_not_used_and_said(tmp_path):
    definition = {"resourceType": "SpecimenDefinition", "patientPreparation": [{"text": "12 hour fasting"}]}
    loaded = read(tmp_path, on_ward(request(), definition))
    (found,) = [f for f in loaded.findings if f.code == "resource-not-used"]
    assert "1 SpecimenDefinition" in found.message
    assert planned(loaded)["N1"].fasting is None


def test_two_culture_sets_are_two_orders_of_one_series(tmp_path):
    loaded = read(tmp_path, on_ward(request(code="BC", quantityQuantity={"value": 2})))
    assert sorted(planned(loaded)) == ["N1.1", "N1.2"]
    assert len({o.series for o in planned(loaded).values()}) == 1


@pytest.mark.parametrize(
    "elements",
    [
        {"quantityQuantity": {"value": 3}},
        {"quantityQuantity": {"value": 5, "unit": "mL"}},
        {"quantityRange": {"low": {}}},
    ],
)
def test_a_quantity_of_any_other_test_is_one_draw_and_said(tmp_path, elements):
    loaded = read(tmp_path, on_ward(request(**elements)))
    assert sorted(planned(loaded)) == ["N1"]
    assert "count-not-used" in codes(loaded)


@pytest.mark.parametrize(
    "repeat",
    [
        {"frequency": 1, "period": 1, "periodUnit": "mo"},  # FHIR units-of-time: month
        {"frequency": 1, "period": 1, "periodUnit": "a"},
        {"frequency": 1, "period": 1, "periodUnit": "d", "when": ["HS"]},  # FHIR event-timing: bedtime
        {"when": ["PCV"]},
    ],
)
def test_months_years_and_events_of_the_evening_need_a_decision(tmp_path, repeat):
    loaded = read(tmp_path, on_ward(request(occurrenceTiming={"repeat": repeat})))
    assert (planned(loaded), reasons(loaded)) == ({}, {"N1": "time-missing"})
    assert "repeat-open" in codes(loaded)


@pytest.mark.parametrize("event", ["MORN", "WAKE", "ACM"])
def test_events_of_the_morning_are_this_rounds(tmp_path, event):
    rules = {"frequency": 1, "period": 1, "periodUnit": "d", "when": [event]}
    loaded = read(tmp_path, on_ward(request(occurrenceTiming={"repeat": rules})))
    assert sorted(planned(loaded)) == ["N1"]


@pytest.mark.parametrize(
    ("written", "day", "clock_s"),
    [
        # Europe/Berlin: on 29 March 02:00 becomes 03:00, so 06:00 is 5 h after midnight; on 25 October it is 7 h
        ("2026-03-29T06:00:00+02:00", date(2026, 3, 29), 5 * 3600),
        ("2026-03-29T06:00:00", date(2026, 3, 29), 5 * 3600),
        ("2026-03-29T05:00:00+01:00", date(2026, 3, 29), 5 * 3600),
        ("2026-10-25T06:00:00+01:00", date(2026, 10, 25), 7 * 3600),
        ("2026-10-25T04:00:00Z", date(2026, 10, 25), 6 * 3600),
    ],
)
def test_the_two_odd_nights(tmp_path, written, day, clock_s):
    resources = on_ward(request(occurrenceDateTime=written))
    loaded = read(tmp_path, resources, options=LoadOptions(round_date=day), policy_toml='time_zone = "Europe/Berlin"\n')
    assert planned(loaded)["N1"].collect_at_s == clock_s


@pytest.mark.parametrize("offset", ["+99:00", "+02:15", "-12:30"])
def test_odd_offsets_are_said(tmp_path, offset):
    loaded = read(tmp_path, on_ward(request(occurrenceDateTime=f"2026-03-10T06:00:00{offset}")))
    assert [f.source.column for f in loaded.findings if f.code == "offset-odd"] == ["occurrenceDateTime"]
