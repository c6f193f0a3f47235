"""Public sample files (names and what they exercise: their README): each is read with the outcome that this implies."""

from __future__ import annotations

import pytest

from planner.loaders import load
from tests.unit.loaders.hl7.ward import codes, planned, reasons
from tests.unit.loaders.public_samples import sample

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
