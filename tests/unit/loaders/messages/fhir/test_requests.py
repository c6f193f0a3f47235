"""ServiceRequests: status, intent, relations, who draws, specimens, fasting; code systems named beside each check."""

from __future__ import annotations

from datetime import date

import pytest

from planner.loaders import LoadOptions
from tests.helpers import codes
from tests.unit.loaders.messages.fhir.ward import LOINC, PATIENT, STAY, WARD, bundle, on_ward, read, request
from tests.unit.loaders.messages.hl7.ward import planned, reasons

H = 3600
DAY = LoadOptions(round_date=date(2026, 3, 10))
FASTING = {
    "resourceType": "Observation",
    "id": "f",
    "status": "final",
    "code": {"coding": [{"system": LOINC, "code": "49541-6"}]},
}


def specimen(**elements):
    return {
        "resourceType": "Specimen",
        "id": "s1",
        "type": {"coding": [{"system": "http://snomed.info/sct", "code": "122555007"}]},
        **elements,
    }


@pytest.mark.parametrize(
    ("status", "reason"),
    [
        # http://hl7.org/fhir/request-status (R4), whole: draft, active, on-hold, revoked, completed, entered-in-error,
        # unknown; then what is no code of it
        ("active", None), ("ACTIVE", None), ("draft", "not-an-order"), ("on-hold", "on-hold"), ("revoked", "cancelled"),
        ("completed", "already-drawn"), ("entered-in-error", "cancelled"), ("unknown", "unreadable"),
        ("signed-off", "unreadable"), (None, "unreadable"), ("", "unreadable"), ({}, "unreadable"),
    ],
)  # fmt: skip
def test_only_active_requests_are_planned(tmp_path, status, reason):
    loaded = read(tmp_path, on_ward(request(status=status)))
    assert reasons(loaded) == ({"N1": reason} if reason else {})
    assert ("request-state-unknown" in codes(loaded)) == (reason == "unreadable")


@pytest.mark.parametrize(
    ("intent", "reason"),
    [
        # http://hl7.org/fhir/request-intent (R4), whole: proposal, plan, directive, order, original-order,
        # reflex-order, filler-order, instance-order, option; then what is no code of it
        ("order", None), ("original-order", None), ("instance-order", None), ("filler-order", None),
        ("reflex-order", "add-on"), ("proposal", "not-an-order"), ("plan", "not-an-order"),
        ("directive", "not-an-order"), ("option", "not-an-order"), ("wish", "unreadable"), (None, "unreadable"),
    ],
)  # fmt: skip
def test_only_orders_are_planned(tmp_path, intent, reason):
    loaded = read(tmp_path, on_ward(request(intent=intent)))
    assert reasons(loaded) == ({"N1": reason} if reason else {})


def test_what_must_not_be_done_is_never_a_visit_however_urgent(tmp_path):
    loaded = read(tmp_path, on_ward(request(doNotPerform=True, priority="stat")))
    assert reasons(loaded) == {"N1": "not-an-order"}


@pytest.mark.parametrize(
    ("written", "priority"),
    [
        ("routine", "routine"),
        ("urgent", "urgent"),
        ("asap", "asap"),
        ("stat", "stat"),
        ("STAT", "stat"),
        (None, "routine"),
    ],
)
def test_priorities(tmp_path, written, priority):
    # http://hl7.org/fhir/request-priority (R4), whole: routine, urgent, asap, stat; absent counts as routine, as the
    # definition of ServiceRequest.priority says
    assert planned(read(tmp_path, on_ward(request(priority=written))))["N1"].priority.value == priority


def test_a_replaced_request_is_dropped(tmp_path):
    new = request("N2", replaces=[{"reference": "ServiceRequest/id-N1"}])
    loaded = read(tmp_path, on_ward(request("N1"), new))
    assert set(planned(loaded)) == {"N2"}
    assert reasons(loaded) == {"N1": "replaced"}


def test_a_filler_order_gives_way_to_its_parent(tmp_path):
    filler = request("F1", intent="filler-order", basedOn=[{"reference": "ServiceRequest/id-N1"}])
    loaded = read(tmp_path, on_ward(request("N1"), filler))
    assert set(planned(loaded)) == {"N1"}
    assert reasons(loaded) == {"F1": "not-an-order"}


@pytest.mark.parametrize(
    ("code", "reason"), [("108252007", None), ("363679005", "not-laboratory"), ("387713003", "not-laboratory")]
)
def test_the_category_tells_other_departments(tmp_path, code, reason):
    # SNOMED CT, value set servicerequest-category
    category = [{"coding": [{"system": "http://snomed.info/sct", "code": code}]}]
    assert reasons(read(tmp_path, on_ward(request(category=category)))) == ({"N1": reason} if reason else {})


@pytest.mark.parametrize(
    ("words", "reason"), [("phlebotomist", None), ("nurse", "drawn-by-others"), ("patient", "drawn-by-others")]
)
def test_the_performer_decides_whether_there_is_a_visit(tmp_path, words, reason):
    loaded = read(tmp_path, on_ward(request(performerType={"text": words})))
    assert reasons(loaded) == ({"N1": reason} if reason else {})


@pytest.mark.parametrize(
    "elements",
    [{"collection": {"collectedDateTime": "2026-03-09T17:00:00Z"}}, {"receivedTime": "2026-03-09T17:00:00Z"}],
)
@pytest.mark.parametrize("way", ["named", "contained", "from the specimen"])
def test_a_specimen_that_is_there_makes_no_visit(tmp_path, elements, way):
    found = specimen(**elements)
    if way == "named":
        content = on_ward(found, request(specimen=[{"reference": "Specimen/s1"}]))
    elif way == "contained":
        content = on_ward(request(contained=[found], specimen=[{"reference": "#s1"}]))
    else:
        content = on_ward({**found, "request": [{"reference": "ServiceRequest/id-N1"}]}, request())
    assert reasons(read(tmp_path, content)) == {"N1": "already-drawn"}


def test_a_specimen_that_is_of_no_use_is_drawn_again(tmp_path):
    found = specimen(status="unsatisfactory", receivedTime="2026-03-09T17:00:00Z")
    assert set(planned(read(tmp_path, on_ward(found, request(specimen=[{"reference": "Specimen/s1"}]))))) == {"N1"}


@pytest.mark.parametrize(
    ("code", "reason"), [("122555007", None), ("122552005", "arterial"), ("119339001", "not-blood")]
)
def test_the_kind_of_specimen_decides(tmp_path, code, reason):
    display = {"119339001": "Stool specimen"}.get(code, "")
    found = specimen(type={"coding": [{"system": "http://snomed.info/sct", "code": code, "display": display}]})
    loaded = read(tmp_path, on_ward(found, request(specimen=[{"reference": "Specimen/s1"}])))
    assert reasons(loaded) == ({"N1": reason} if reason else {})


@pytest.mark.parametrize(
    ("value", "fasting"),
    [
        ({"valueCodeableConcept": {"coding": [{"code": "Y"}]}}, True),
        ({"valueBoolean": False}, False),
        ({"valueCodeableConcept": {"coding": [{"code": "LA33-6"}]}}, True),
    ],
)
def test_fasting_by_observation(tmp_path, value, fasting):
    info = [{"reference": "#f"}]
    loaded = read(tmp_path, on_ward(request(contained=[{**FASTING, **value}], supportingInfo=info)))
    assert planned(loaded)["N1"].fasting is fasting


def test_fasting_by_specimen(tmp_path):
    # HL7 table 0916
    found = specimen(collection={"fastingStatusCodeableConcept": {"coding": [{"code": "F"}]}})
    loaded = read(tmp_path, on_ward(found, request(specimen=[{"reference": "Specimen/s1"}])))
    assert planned(loaded)["N1"].fasting is True


def test_fasting_both_ways_is_said(tmp_path):
    found = specimen(collection={"fastingStatusCodeableConcept": {"coding": [{"code": "F"}]}})
    no = {**FASTING, "valueBoolean": False}
    content = on_ward(
        found, request(specimen=[{"reference": "Specimen/s1"}], contained=[no], supportingInfo=[{"reference": "#f"}])
    )
    loaded = read(tmp_path, content)
    assert planned(loaded)["N1"].fasting is True
    assert "fasting-conflict" in codes(loaded)


@pytest.mark.parametrize(
    "elements",
    [{"patientInstruction": "Nothing to eat from midnight"}, {"note": [{"text": "Nothing to eat from midnight"}]}],
)
def test_free_text_is_shown_and_never_acted_upon(tmp_path, elements):
    loaded = read(tmp_path, on_ward(request(**elements)))
    assert planned(loaded)["N1"].note == "Nothing to eat from midnight"
    assert planned(loaded)["N1"].fasting is None
    assert "fasting-in-text" in codes(loaded)


def test_times(tmp_path):
    def one(**elements):
        return planned(read(tmp_path, on_ward(request(**elements)), options=DAY))["N1"]

    assert one().collect_at_s == 6 * H
    assert not one(occurrenceDateTime="2026-03-10").is_timed
    assert one(occurrenceDateTime="2026-03-10T06:00").collect_at_s == 6 * H
    window = one(occurrencePeriod={"start": "2026-03-10T06:00:00+01:00", "end": "2026-03-10T07:00:00+01:00"})
    assert (window.collect_from_s, window.collect_to_s) == (6 * H, 7 * H)
    assert not one(occurrenceDateTime=None, authoredOn="2026-03-09T18:00:00+01:00").is_timed


def draws(loaded):
    return sorted(o.collect_at_s for o in planned(loaded).values())


def test_timings_are_taken_apart_within_the_round(tmp_path):
    # without tables the round is 05:00 to 09:00; the file's other times are at +01:00
    def of(**repeat):
        content = on_ward(
            request(occurrenceTiming={"repeat": repeat}), request("N2", occurrenceDateTime="2026-03-10T05:00:00+01:00")
        )
        return draws(read(tmp_path, content, options=DAY))[1:]

    day = {"start": "2026-03-10", "end": "2026-03-10"}
    assert of(boundsPeriod=day, timeOfDay=["06:00:00", "08:00:00", "20:00:00"]) == [6 * H, 8 * H]
    begun = {"start": "2026-03-09T06:30:00+01:00"}
    assert of(boundsPeriod=begun, frequency=1, period=1, periodUnit="d") == [6.5 * H]
    # every 8 h from 06:30 the day before: 22:30, 06:30
    assert of(boundsPeriod=begun, frequency=1, period=8, periodUnit="h") == [6.5 * H]
    # 2026-03-10 is a Tuesday
    assert of(dayOfWeek=["tue", "thu"], timeOfDay=["07:00"]) == [7 * H]
    assert of(dayOfWeek=["wed"], timeOfDay=["07:00"]) == []
    # the first of two draws was the day before
    assert of(boundsPeriod=begun, count=2, frequency=1, period=1, periodUnit="d") == [6.5 * H]
    assert of(boundsPeriod=begun, count=1, frequency=1, period=1, periodUnit="d") == []


def test_events_are_separate_draws(tmp_path):
    event = ["2026-03-10T06:00:00+01:00", "2026-03-10T08:00:00+01:00"]
    loaded = read(tmp_path, on_ward(request(occurrenceTiming={"event": event})))
    assert draws(loaded) == [6 * H, 8 * H]
    assert len({o.series for o in planned(loaded).values()}) == 1


@pytest.mark.parametrize(
    "elements",
    [
        {"asNeededBoolean": True},
        {"occurrenceTiming": {"repeat": {"frequency": 3, "period": 1, "periodUnit": "d"}}},
        {"occurrenceTiming": {"repeat": {"frequency": 1, "period": 4, "periodUnit": "h"}}},
        {"occurrenceTiming": {"repeat": {"frequency": 1, "period": 1, "periodUnit": "mo"}}},
        {"occurrenceTiming": {"code": {"coding": [{"code": "BID"}]}}},
        {"occurrenceTiming": {"repeat": {"when": ["ACM", "ACV"]}}},
    ],
)
def test_times_that_nobody_can_work_out_need_a_decision(tmp_path, elements):
    loaded = read(tmp_path, on_ward(request(**elements)))
    assert reasons(loaded) == {"N1": "time-missing"}


def test_the_site_code_if_known_else_loinc(tmp_path):
    both = {"coding": [{"system": LOINC, "code": "58410-2"}, {"system": "urn:x", "code": "NOPE"}]}
    assert planned(read(tmp_path, on_ward(request(code=None) | {"code": both})))["N1"].test == "CBC"
    words = {"text": "Creatinine"}
    loaded = read(tmp_path, on_ward(request() | {"code": words}))
    assert planned(loaded)["N1"].test == "CREA"
    assert "test-by-text" in codes(loaded)


def test_the_shape_of_r5_is_read(tmp_path):
    # R5: code is a CodeableReference, class a list, Location has form instead of physicalType
    r5 = request() | {"code": {"concept": {"coding": [{"system": LOINC, "code": "58410-2"}]}}}
    stay = {**STAY, "class": [{"coding": [{"code": "IMP"}]}]}
    loaded = read(tmp_path, bundle(*[r for r in WARD if r is not STAY], stay, r5))
    assert planned(loaded)["N1"].test == "CBC"


def test_orders_before_r4_are_refused_by_name(tmp_path):
    old = {"resourceType": "ProcedureRequest", "id": "old", "status": "active", "subject": {"reference": "Patient/p1"}}
    loaded = read(tmp_path, on_ward(old, request()))
    assert set(planned(loaded)) == {"N1"}
    assert reasons(loaded) == {"old": "unreadable"}
    assert "old-release" in codes(loaded)


def test_pharmacy_orders_are_set_aside(tmp_path):
    other = {"resourceType": "MedicationRequest", "id": "m1", "subject": {"reference": "Patient/p1"}}
    assert reasons(read(tmp_path, on_ward(other, request()))) == {"m1": "not-laboratory"}


def test_a_request_about_a_group_is_no_order_for_a_patient(tmp_path):
    group = {"resourceType": "Group", "id": "g"}
    assert reasons(read(tmp_path, on_ward(group, request(subject={"reference": "Group/g"})))) == {"N1": "not-an-order"}


def test_the_dead_and_the_discharged_are_not_visited(tmp_path):
    rest = [r for r in WARD if r is not PATIENT and r is not STAY]
    dead = bundle(*rest, STAY, {**PATIENT, "deceasedBoolean": True}, request())
    assert reasons(read(tmp_path, dead)) == {"N1": "patient-gone"}
    gone = bundle(*rest, {**STAY, "status": "finished"}, PATIENT, request())
    assert reasons(read(tmp_path, gone)) == {"N1": "patient-gone"}


def test_a_draft_takes_no_orders_place(tmp_path):
    draft = request("N2", status="draft", replaces=[{"reference": "ServiceRequest/id-N1"}])
    assert set(planned(read(tmp_path, on_ward(request("N1"), draft)))) == {"N1"}
