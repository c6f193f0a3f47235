"""What is odd in resources and must not be passed over: nesting, rings, texts for numbers, times unreadable."""

from __future__ import annotations

import copy
import json
from datetime import date

import pytest

from planner.findings import unread
from planner.loaders import LoadOptions
from tests.helpers import codes
from tests.unit.loaders.messages.fhir.ward import PATIENT, PLACES, STAY, WARD, bundle, location, on_ward, read, request
from tests.unit.loaders.messages.hl7.ward import planned, reasons

DAY = LoadOptions(round_date=date(2026, 3, 10))


def replaces(number: str):
    """Return the reference of a request that takes another's place."""
    return [{"reference": f"ServiceRequest/id-{number}"}]


@pytest.mark.parametrize(
    "repeat",
    [
        {"frequency": 0, "period": 1, "periodUnit": "d"},
        {"frequency": 1, "period": 0, "periodUnit": "h"},
        {"frequency": 1, "period": -1, "periodUnit": "d"},
        {"frequency": 1, "period": 1e300, "periodUnit": "wk"},
        {"frequency": "2", "period": "1", "periodUnit": "d"},  # twice a day, but when?
        {"frequency": "often", "period": 1, "periodUnit": "d"},
        {"count": 0, "timeOfDay": ["06:00:00"]},
        {"timeOfDay": ["6 am"]},
        {"timeOfDay": ["06:00:00", "25:00:00"]},
        {"timeOfDay": [600]},
        {"timeOfDay": ["06:00:00"], "dayOfWeek": ["funday"]},
        {"timeOfDay": ["06:00:00"], "when": ["ACV"]},
        {"timeOfDay": ["06:00:00"], "boundsRange": {"low": {"value": 1}}},
        {"timeOfDay": ["06:00:00"], "boundsDuration": {"value": 3, "unit": "d"}},  # from when on?
        {"timeOfDay": ["06:00:00"], "boundsPeriod": {"end": "soon"}},
        {"timeOfDay": ["06:00:00"], "boundsPeriod": {"start": "1013-01-01"}},
    ],
)
def test_a_run_of_which_a_part_cannot_be_read_needs_a_decision(tmp_path, repeat):
    loaded = read(tmp_path, on_ward(request(occurrenceTiming={"repeat": repeat})), options=DAY)
    assert reasons(loaded) == {"N1": "time-missing"}
    assert "repeat-open" in codes(loaded)


def test_numbers_written_as_texts_are_numbers(tmp_path):
    repeat = {
        "boundsPeriod": {"start": "2026-03-09T06:30:00+01:00"},
        "frequency": "1",
        "period": "8",
        "periodUnit": "h",
    }
    orders = planned(read(tmp_path, on_ward(request(occurrenceTiming={"repeat": repeat})), options=DAY))
    # every 8 h from 06:30 at +01:00 the day before: 22:30, 06:30; the round's clocks keep the file's +01:00
    assert [o.collect_at_s for o in orders.values()] == [6.5 * 3600]


def test_a_time_stated_in_two_ways_needs_a_decision(tmp_path):
    # occurrence[x] is one of dateTime, Period and Timing
    both = request() | {"occurrencePeriod": {"start": "2026-03-10T07:00:00+01:00"}}
    assert reasons(read(tmp_path, on_ward(both))) == {"N1": "time-missing"}


@pytest.mark.parametrize("value", [1, "yes", ["true"], {"value": True}])
def test_a_prohibition_that_cannot_be_read_is_no_permission(tmp_path, value):
    loaded = read(tmp_path, on_ward(request(doNotPerform=value)))
    assert reasons(loaded) == {"N1": "unreadable"}
    assert "request-state-unknown" in codes(loaded)


def test_a_bundle_inside_a_bundle_is_read(tmp_path):
    inner = bundle(request("N1"), bundle(request("N2", code="CREA")))
    loaded = read(tmp_path, bundle(*WARD, inner))
    assert set(planned(loaded)) == {"N1", "N2"}


def test_requests_without_any_number_in_several_bundles_are_several(tmp_path):
    bare = {name: value for name, value in request(code="CREA").items() if name not in ("id", "identifier")}
    loaded = read(tmp_path, json.dumps([bundle(bare), bundle(bare | {"priority": "stat"}), bundle(*WARD)]))
    assert set(planned(loaded)) == {"entry-1", "entry-1-of-Bundle-2"}
    assert "number-missing" in codes(loaded)


@pytest.mark.parametrize("kind", ["CarePlan", "DiagnosticReport"])
def test_a_request_inside_another_resource_is_listed_and_said(tmp_path, kind):
    outer = {"resourceType": kind, "id": "c", "contained": [request("N7")], "subject": {"reference": "Patient/p1"}}
    loaded = read(tmp_path, on_ward(outer, request("N1")))
    assert set(planned(loaded)) == {"N1"}
    assert reasons(loaded) == {"N7": "not-an-order"}
    assert "request-contained" in codes(loaded)


def test_requests_that_replace_one_another_need_a_decision(tmp_path):
    ring = [request(f"N{i}", replaces=replaces(f"N{(i + 1) % 3}")) for i in range(3)]
    loaded = read(tmp_path, on_ward(*ring))
    assert reasons(loaded) == {"N0": "unreadable", "N1": "unreadable", "N2": "unreadable"}
    assert "requests-in-a-ring" in codes(loaded)


def test_a_chain_of_replacements_keeps_its_last(tmp_path):
    loaded = read(
        tmp_path, on_ward(request("N1"), request("N2", replaces=replaces("N1")), request("N3", replaces=replaces("N2")))
    )
    assert set(planned(loaded)) == {"N3"}
    assert reasons(loaded) == {"N1": "replaced", "N2": "replaced"}


def test_a_request_that_replaces_itself_is_an_order(tmp_path):
    assert set(planned(read(tmp_path, on_ward(request("N1", replaces=replaces("N1")))))) == {"N1"}


def test_copies_of_one_another_keep_one(tmp_path):
    one = request("F1", intent="filler-order", basedOn=replaces("F2"))
    other = request("F2", intent="filler-order", basedOn=replaces("F1"))
    loaded = read(tmp_path, on_ward(one, other))
    assert len(planned(loaded)) == 1
    assert len(reasons(loaded)) == 1


def test_a_place_that_is_part_of_itself_ends_the_walk(tmp_path):
    loaded = read(tmp_path, bundle(PATIENT, location("b", "Bed A", "bd", "b"), STAY, request()))
    (patient,) = loaded.problem.patients.values()
    assert patient.bed.endswith("A")


def test_a_patient_inside_the_request_is_the_patient(tmp_path):
    own = request(contained=[{**PATIENT, "id": "inner"}], subject={"reference": "#inner"})
    (found,) = planned(read(tmp_path, bundle(*PLACES, STAY, own))).values()
    assert found.patient_id == "0000417"


def test_offsets_at_the_ends_of_the_world_are_instants(tmp_path):
    # 06:00 at +01:00 is 19:00 at +14:00 the same day, and 17:00 at -12:00 the day before
    east = request("N1", occurrenceDateTime="2026-03-10T19:00:00+14:00")
    west = request("N3", occurrenceDateTime="2026-03-09T17:00:00-12:00")
    orders = planned(read(tmp_path, on_ward(east, request("N2"), west)))
    assert {o.collect_at_s for o in orders.values()} == {orders["N2"].collect_at_s}


def test_lines_with_nothing_on_them_cost_nothing(tmp_path):
    text = "\r\n\r\n \r\n".join(json.dumps(r) for r in [*WARD, request("N1")]) + "\r\n\r\n"
    (tmp_path / "f.ndjson").write_text(text)
    assert set(planned(read(tmp_path))) == {"N1"}


@pytest.mark.parametrize(
    ("elements", "is_said"),
    [
        ({"status": "planned"}, True),
        ({"class": {"code": "AMB"}}, True),  # v3-ActCode; R5 has a list of concepts
        ({"class": [{"coding": [{"code": "PRENC"}]}]}, True),
        ({"class": {"code": "IMP"}}, False),
        ({"class": {"code": "EMER"}}, False),
    ],
)
def test_a_stay_in_which_nobody_may_lie_in_the_bed_is_said(tmp_path, elements, is_said):
    loaded = read(tmp_path, bundle(PATIENT, *PLACES, {**STAY, **elements}, request()))
    assert set(planned(loaded)) == {"N1"}
    assert ("visit-class" in codes(loaded)) == is_said


def test_where_it_is_to_be_done_and_how_long_the_fast_is_are_shown(tmp_path):
    specimen = {
        "resourceType": "Specimen",
        "id": "s",
        "collection": {"fastingStatusDuration": {"value": 12, "unit": "h"}},
    }
    own = request(specimen=[{"reference": "Specimen/s"}], locationCode=[{"text": "at home"}])
    loaded = read(tmp_path, on_ward(specimen, own))
    assert planned(loaded)["N1"].note == "place: at home; fasting for 12 h"
    assert planned(loaded)["N1"].fasting is None
    assert "fasting-in-text" in codes(loaded)


@pytest.mark.parametrize(
    "patient", [{"active": False}, {"link": [{"other": {"reference": "Patient/p2"}, "type": "replaced-by"}]}]
)
def test_a_patient_record_out_of_use_needs_a_decision(tmp_path, patient):
    # FHIR R4, Patient.active and table link-type: replaced-by
    ward = copy.deepcopy(on_ward(request("N1")))  # the ward is that of all tests
    for entry in ward["entry"]:
        if entry["resource"]["resourceType"] == "Patient":
            entry["resource"].update(patient)
    assert reasons(read(tmp_path, ward)) == {"N1": "identity-conflict"}


def test_a_patient_record_in_use_needs_none(tmp_path):
    ward = copy.deepcopy(on_ward(request("N1")))  # the ward is that of all tests
    for entry in ward["entry"]:
        if entry["resource"]["resourceType"] == "Patient":
            entry["resource"].update(active=True, link=[{"other": {"reference": "Patient/p2"}, "type": "replaces"}])
    assert reasons(read(tmp_path, ward)) == {}


@pytest.mark.parametrize("kind", ["ServiceRequest", "Patient"])
def test_what_an_extension_may_turn_round_needs_a_decision(tmp_path, kind):
    # FHIR R4, 2.4.1: a resource with a modifier extension that is not known must not be processed
    ward = copy.deepcopy(on_ward(request("N1")))  # the ward is that of all tests
    for entry in ward["entry"]:
        if entry["resource"]["resourceType"] == kind:
            entry["resource"]["modifierExtension"] = [{"url": "urn:x", "valueBoolean": True}]
    assert reasons(read(tmp_path, ward)) == {"N1": "unreadable"}


@pytest.mark.parametrize("severity", ["fatal", "error", "warning", "information"])
@pytest.mark.parametrize("mode", ["outcome", "match"])
def test_a_search_that_went_wrong_may_lack_orders(tmp_path, severity, mode):
    # FHIR R4, search outcome: an OperationOutcome tells what went wrong
    ward = copy.deepcopy(on_ward(request("N1")))  # the ward is that of all tests
    outcome = {"resourceType": "OperationOutcome", "issue": [{"severity": severity, "code": "incomplete"}]}
    ward["entry"].append({"resource": outcome, "search": {"mode": mode}})
    is_wrong = severity in ("fatal", "error")
    assert ("bundle-incomplete" in {f.code for f in unread(read(tmp_path, ward).findings)}) == is_wrong
