"""Public sample files (names and what they exercise: their README): each is read with the outcome that this implies."""

from __future__ import annotations

import json

import pytest

from planner.loaders import load
from tests.helpers import codes
from tests.unit.loaders.messages.fhir.ward import bundle, request
from tests.unit.loaders.messages.hl7.ward import message, order, planned, read, reasons
from tests.unit.loaders.messages.public_samples import sample

HL7 = {
    "fc_oml_body_labelled_orm": ([], {"1101": "already-drawn", "2203": "not-laboratory"}),
    "fc_oml_o21_v251_missing_break_fasting": ([], {"ORD723222": "add-on"}),
    "fc_oml_o21_v251_two_obr_one_orc": ([], {"ORD723222": "add-on", "ORD723222#2": "add-on"}),
    "fc_oml_o21_v26_full": ([], {"1101": "already-drawn"}),
    "fc_oml_o21_v28_two_visits_and_cancel": (
        [],
        {
            "MSG00019.1": "already-drawn",
            "MSG00019.2": "already-drawn",
            "1101": "already-drawn",
            "MSG00019.4": "already-drawn",
            "NI-2": "cancelled",
        },
    ),
    "fc_orm_o01_v23_lab_bom_lf": ([], {"88502218": "unknown-test"}),
    "fc_orm_o01_v26_status_cancelled": ([], {"RQ101": "cancelled"}),
    "fc_orm_o01_v26_two_orders_tz": ([], {"1101": "not-laboratory", "2203": "not-laboratory"}),
    "hl7apy_oml_o33_v25_specimen_centred": ([], dict.fromkeys(("83428", "83425", "83426", "83427"), "already-drawn")),
    "lfh_oml_o21_v26_orc_without_obr": ([], {"8125550e-04db-11ec-a9a8-086d41d421ca": "unknown-test"}),
    "lfh_oml_o21_v26_specimen": ([], {"8125550e-04db-11ec-a9a8-086d41d421ca": "already-drawn"}),
    "lfh_oml_o21_v26_two_orders": (
        [],
        {"8125550e-04db-11ec-a9a8-086d41d421ca": "no-bed", "8125550e-04db-11ec-a9a8-086d41d421cb": "unknown-test"},
    ),
    "own_batch_fhs_bhs_three_orders": (["PL9200", "PL9210"], {"PL9220": "no-bed"}),
    "own_oml_o21_v251_local_loinc_escapes": (["PL9001", "PL9002"], {}),
    "own_oml_o21_v251_timed_series_three_draws": ([], dict.fromkeys(("PL9501", "PL9502", "PL9503"), "unknown-test")),
    "pyhl7_batch_fhs_bhs_adt_not_orders": ([], {}),
}
FHIR = {
    "own_bundle_transaction_uuid_refs": (["PL9001", "PL9002", "PL9003.01-14T06:00", "PL9003.01-14T08:00"], {}),
    "r4_Encounter-emerg": ([], {}),
    "r4_Location-1": ([], {}),
    "r4_Patient-example": ([], {}),
    "r4_ServiceRequest-do-not-turn": ([], {"20170201-0002": "not-an-order"}),
    "r4_ServiceRequest-ft4": ([], {"ft4": "add-on"}),
    "r4_ServiceRequest-lipid": ([], {"2345234234234": "already-drawn"}),
    "r4_Specimen-101": ([], {}),
    "r4_SpecimenDefinition-2364": ([], {}),
}


@pytest.mark.parametrize("name", HL7)
def test_public_messages(name):
    loaded = load(sample("hl7", f"{name}.hl7"))
    expected, set_aside = HL7[name]
    assert (sorted(planned(loaded)), reasons(loaded)) == (expected, set_aside)


@pytest.mark.parametrize("name", FHIR)
def test_public_resources(name):
    loaded = load(sample("fhir", f"{name}.json"))
    expected, set_aside = FHIR[name]
    assert (sorted(planned(loaded)), reasons(loaded)) == (expected, set_aside)


def test_the_lost_segment_end_is_said():
    loaded = load(sample("hl7", "fc_oml_o21_v251_missing_break_fasting.hl7"))
    assert "message-damaged" in codes(loaded)


def test_admissions_are_counted_and_called_no_orders():
    loaded = load(sample("hl7", "pyhl7_batch_fhs_bhs_adt_not_orders.hl7"))
    assert {"message-not-orders", "no-orders"} <= codes(loaded)
    assert "unreadable" not in " ".join(codes(loaded))


def test_times_of_one_sample_by_hand():
    orders = planned(load(sample("hl7", "own_oml_o21_v251_local_loinc_escapes.hl7")))
    # window 06:00 to 07:00 at +01:00, which is the clock of the round; fasting by code F of table 0916
    assert (orders["PL9001"].collect_from_s, orders["PL9001"].collect_to_s) == (21_600, 25_200)
    assert orders["PL9001"].fasting is True
    shown = "Before breakfast; Patient is hard of hearing / use left arm only \\ no right arm"
    assert orders["PL9001"].note == f"{shown}; additive: Sodium Fluoride"


def test_a_series_is_not_merged_once_the_site_knows_the_test(tmp_path):
    data = sample("hl7", "own_oml_o21_v251_timed_series_three_draws.hl7").read_bytes()
    (tmp_path / "series.hl7").write_bytes(data.replace(b"TROP^", b"TNI^"))
    orders = planned(load(tmp_path))
    # 05:00, 06:00 and 08:00 in one group number
    assert [o.collect_at_s for o in orders.values()] == [18_000, 21_600, 28_800]
    assert {o.series for o in orders.values()} == {"GRP95"}


def resource(name):
    """Return a sample resource."""
    return json.loads(sample("fhir", name).read_text(encoding="utf-8-sig"))


def on_example(*resources, **elements):
    """Return a Bundle of the sample patient and stay, a request of ours for them, and these resources."""
    own = request(subject={"reference": "Patient/example"}, encounter={"reference": "Encounter/emerg"}, **elements)
    return json.dumps(bundle(resource("r4_Patient-example.json"), resource("r4_Encounter-emerg.json"), own, *resources))


def only_patient(loaded):
    (patient,) = loaded.problem.patients.values()
    return patient


def test_of_five_locations_the_open_period_and_of_three_names_the_official(tmp_path):
    (tmp_path / "b.json").write_text(on_example())
    loaded = load(tmp_path)
    patient = only_patient(loaded)
    # the last of the five has no end; of the names one is official, one usual, one of the past
    assert patient.bed.rpartition("/")[2] == "Ward 1, Room 42, Bed 1"
    assert (patient.family_name, patient.given_name, patient.id) == ("Chalmers", "Peter James", "12345")
    assert set(planned(loaded)) == {"N1"}
    assert "place-by-text" in codes(loaded)


def test_a_wing_is_no_bed(tmp_path):
    stay = resource("r4_Encounter-emerg.json") | {"id": "here", "location": [{"location": {"reference": "Location/1"}}]}
    own = request(subject={"reference": "Patient/example"}, encounter={"reference": "Encounter/here"})
    content = bundle(resource("r4_Patient-example.json"), resource("r4_Location-1.json"), stay, own)
    (tmp_path / "b.json").write_text(json.dumps(content))
    assert reasons(load(tmp_path)) == {"N1": "no-bed"}


def test_a_specimen_already_collected_makes_no_visit_and_a_definition_no_tube(tmp_path):
    (tmp_path / "b.json").write_text(
        on_example(resource("r4_Specimen-101.json"), specimen=[{"reference": "Specimen/101"}])
    )
    assert reasons(load(tmp_path)) == {"N1": "already-drawn"}
    (tmp_path / "b.json").write_text(on_example(resource("r4_SpecimenDefinition-2364.json")))
    loaded = load(tmp_path)
    assert set(planned(loaded)) == {"N1"}
    assert "resource-not-used" in codes(loaded)


def test_the_lipid_order_would_be_a_fasting_draw_were_it_not_drawn(tmp_path):
    lipid = resource("r4_ServiceRequest-lipid.json") | {"encounter": {"reference": "Encounter/emerg"}}
    lipid.pop("specimen")
    (tmp_path / "b.json").write_text(
        json.dumps(bundle(resource("r4_Patient-example.json"), resource("r4_Encounter-emerg.json"), lipid))
    )
    found = planned(load(tmp_path))["2345234234234"]
    # fasting: the contained Observation of LOINC 49541-6 says Y (HL7 table 0136); the note is shown
    assert (found.test, found.fasting, found.note) == ("LIPID", True, "patient is afraid of needles")


def test_the_batch_keeps_a_surname_null_and_its_priorities():
    loaded = load(sample("hl7", "own_batch_fhs_bhs_three_orders.hl7"))
    orders = planned(loaded)
    # TQ1-9 R and A (HL7 table 0485); the third, T, has no bed
    assert {number: o.priority.value for number, o in orders.items()} == {"PL9200": "routine", "PL9210": "asap"}
    assert loaded.problem.patients[orders["PL9210"].patient_id].family_name == "NULL"
    # BTS-1 = 3 and FTS-1 = 1 agree with what was found
    assert "batch-count" not in codes(loaded)


def test_the_bed_of_the_bundle_is_found_by_part_of():
    loaded = load(sample("fhir", "own_bundle_transaction_uuid_refs.json"))
    patient = only_patient(loaded)
    assert (patient.ward, patient.bed.rpartition("/")[2]) == ("Ward 3", "0312-A")


def test_the_old_message_would_be_drawn_at_its_time_were_its_test_known(tmp_path):
    data = sample("hl7", "fc_orm_o01_v23_lab_bom_lf.hl7").read_bytes()
    loaded = read(tmp_path, data.replace(b"24317-0^", b"58410-2^"))
    # OBR-6 states 06:44; OBR-11 = P leaves open who draws, and ORC-5 = NW is no state: both are said
    assert {number: o.collect_at_s for number, o in planned(loaded).items()} == {"88502218": 6 * 3600 + 44 * 60}
    assert {"order-state-unknown", "collection-assumed"} <= codes(loaded)


def test_a_damaged_sample_costs_no_other_message(tmp_path):
    data = sample("hl7", "fc_oml_o21_v251_missing_break_fasting.hl7").read_bytes()
    loaded = read(tmp_path, data, message(order("N1")))
    assert set(planned(loaded)) == {"N1"}
    assert "ORD723222" in reasons(loaded)
