"""Forms of a JSON file, references, and where the patient lies."""

from __future__ import annotations

import json

import pytest

from planner.findings import Report
from planner.loaders.messages.fhir.documents import read_document
from tests.helpers import codes
from tests.unit.loaders.messages.fhir.ward import PATIENT, PLACES, STAY, WARD, bundle, location, on_ward, read, request
from tests.unit.loaders.messages.hl7.ward import message, order, planned, reasons


def lines(*resources):
    return "\n".join(json.dumps(r) for r in resources)


def test_a_bundle_lines_and_single_resources_read_the_same(tmp_path):
    for name in ("a", "b", "c"):
        (tmp_path / name).mkdir()
    found = [
        read(tmp_path / "a", on_ward(request())),
        read(tmp_path / "b", lines(*WARD, request())),
        read(tmp_path / "c", *WARD, request()),
    ]
    assert [planned(loaded).keys() for loaded in found] == [{"N1"}] * 3


@pytest.mark.parametrize("kind", ["collection", "transaction", "batch", "searchset", "message", "document"])
def test_every_kind_of_bundle_is_read(tmp_path, kind):
    assert set(planned(read(tmp_path, bundle(*WARD, request(), kind=kind)))) == {"N1"}


def test_a_byte_order_mark_and_utf16_change_nothing(tmp_path):
    text = json.dumps(on_ward(request()))
    assert set(planned(read(tmp_path, b"\xef\xbb\xbf" + text.encode()))) == {"N1"}
    assert set(planned(read(tmp_path, text.encode("utf-16")))) == {"N1"}


def test_bytes_that_are_no_utf8_are_said(tmp_path):
    text = json.dumps(on_ward(request(note=[{"text": "left"}]))).encode().replace(b"left", b"l\xe9ft")
    loaded = read(tmp_path, text)
    assert set(planned(loaded)) == {"N1"}
    assert "text-undecodable" in codes(loaded)


def test_a_bad_line_costs_no_other(tmp_path):
    loaded = read(tmp_path, lines(*WARD, request("N1")) + '\n{"resourceType": "Serv\n' + lines(request("N2")))
    assert set(planned(loaded)) == {"N1", "N2"}
    assert "resource-unreadable" in codes(loaded)


def test_a_bundle_cut_short_still_gives_what_is_whole(tmp_path):
    text = json.dumps(on_ward(request("N1"), request("N2")))
    loaded = read(tmp_path, text[: text.rindex("urn:codes")])
    assert set(planned(loaded)) == {"N1"}
    assert "resource-unreadable" in codes(loaded)


def test_a_bundle_whose_only_entry_is_no_list_loses_no_order(tmp_path):
    alone = bundle()
    alone["entry"] = {"resource": request()}
    loaded = read(tmp_path, alone, bundle(*WARD))
    assert sorted(planned(loaded)) == ["N1"]


def test_a_bad_entry_costs_no_other(tmp_path):
    content = on_ward(request())
    content["entry"] += [
        None,
        7,
        {"resource": "text"},
        {"resource": {"id": "no type"}},
        {"resource": request("N2", status=["x"])},
    ]
    loaded = read(tmp_path, content)
    assert set(planned(loaded)) == {"N1"}
    assert reasons(loaded) == {"N2": "unreadable"}
    assert "resource-unreadable" in codes(loaded)


@pytest.mark.slow
@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", "7", "null", '"text"', "[" * 100_000, '{"a":' * 100_000, "{}", '{"resourceType": 7}', "9" * 5000],
)
def test_files_that_are_nothing_are_said(tmp_path, text):
    loaded = read(tmp_path, text)
    assert loaded.problem is None
    assert "no-orders" in codes(loaded)


def test_deep_nesting_costs_its_own_resource_only(tmp_path):
    deep = '{"a":' * 500 + "1" + "}" * 500
    text = json.dumps(on_ward(request("N1"))).replace(
        "]}", ', {"resource": {"resourceType": "Basic", "x": ' + deep + "}}]}", 1
    )
    assert "resource-unreadable" in codes(read(tmp_path, text))


def test_duplicate_keys_are_never_settled_in_silence(tmp_path):
    # plain JSON reading keeps the last: active would become revoked
    text = json.dumps(on_ward(request("N1"), request("N2"))).replace(
        '"status": "active", "intent"', '"status": "active", "status": "revoked", "intent"', 1
    )
    loaded = read(tmp_path, text)
    assert reasons(loaded) == {"N1": "unreadable"}
    assert set(planned(loaded)) == {"N2"}
    assert "duplicate-key" in codes(loaded)


def test_a_page_of_several_is_said(tmp_path):
    assert "bundle-incomplete" in codes(
        read(tmp_path, bundle(*WARD, request(), link=[{"relation": "next", "url": "x"}]))
    )


def test_outcomes_and_deletions_are_no_orders(tmp_path):
    content = on_ward(request("N1"), request("N2"))
    content["entry"] += [
        {"search": {"mode": "outcome"}, "resource": {"resourceType": "OperationOutcome"}},
        {"request": {"method": "DELETE", "url": "ServiceRequest/id-N2"}},
    ]
    loaded = read(tmp_path, content)
    assert set(planned(loaded)) == {"N1"}
    assert reasons(loaded) == {"N2": "cancelled"}


def test_of_a_history_the_newest_version_counts(tmp_path):
    new = request("N1", status="revoked") | {"meta": {"versionId": "2"}}
    old = request("N1") | {"meta": {"versionId": "1"}}
    for versions in ((new, old), (old, new)):
        loaded = read(tmp_path, bundle(*WARD, *versions, kind="history"))
        assert reasons(loaded) == {"N1": "cancelled"}
        assert loaded.num_orders_read == 1


def test_a_resource_twice_with_other_contents_is_said(tmp_path):
    assert "resource-twice" in codes(read(tmp_path, on_ward(request("N1"), request("N1", priority="stat"))))


def test_references_by_urn_url_identifier_and_version(tmp_path):
    urn = "urn:uuid:00000000-0000-4000-8000-000000000001"
    plain = {k: v for k, v in PATIENT.items() if k != "id"}
    entries = [{"fullUrl": urn, "resource": plain}] + [
        {"resource": r} for r in (*PLACES, {**STAY, "subject": {"reference": urn}})
    ]
    whole = {
        "resourceType": "Bundle",
        "type": "transaction",
        "entry": [*entries, {"resource": request(subject={"reference": urn})}],
    }
    assert planned(read(tmp_path, whole))["N1"].patient_id == "0000417"
    for subject in (
        {"reference": "https://hill.example/fhir/Patient/p1"},
        {"reference": "Patient/p1/_history/3"},
        {"type": "Patient", "identifier": {"system": "urn:hill", "value": "0000417"}},
    ):
        assert planned(read(tmp_path, on_ward(request(subject=subject))))["N1"].patient_id == "0000417"


def test_a_patient_who_is_not_sent_along_needs_a_decision(tmp_path):
    loaded = read(tmp_path, bundle(*PLACES, STAY, request()))
    assert reasons(loaded) == {"N1": "unknown-patient"}
    assert "reference-missing" in codes(loaded)


def test_a_patient_known_by_number_only_is_found_in_the_table(tmp_path):
    patients = "patient_number,family_name,birth_date,ward,bed\n0000417,Moss,1952-03-09,Birch,04-A\n"
    subject = {"identifier": {"system": "urn:hill", "value": "0000417"}}
    loaded = read(tmp_path, request(subject=subject, encounter=None), patients_csv=patients)
    assert planned(loaded)["N1"].patient_id == "0000417"


@pytest.mark.parametrize("missing", ["Encounter", "Location"])
def test_a_place_that_is_not_sent_along_needs_a_decision(tmp_path, missing):
    rest = [r for r in WARD if r["resourceType"] != missing]
    loaded = read(tmp_path, bundle(*rest, request()))
    assert reasons(loaded) == {"N1": "no-bed"}
    assert "reference-missing" in codes(loaded)


def bed_of(loaded):
    (patient,) = loaded.problem.patients.values()
    return patient.ward, patient.bed.rpartition("/")[2]


def test_the_bed_is_found_by_walking_outwards(tmp_path):
    assert bed_of(read(tmp_path, on_ward(request()))) == ("Birch", "04-A")


def test_a_loop_of_places_ends(tmp_path):
    loop = (location("w", "Birch", "wa", "b"), location("r", "Room 04", "ro", "w"), location("b", "Bed A", "bd", "r"))
    assert bed_of(read(tmp_path, bundle(PATIENT, STAY, *loop, request()))) == ("Birch", "04-A")


def test_a_ward_alone_is_no_bed(tmp_path):
    stay = {**STAY, "location": [{"location": {"reference": "Location/w"}}]}
    assert reasons(read(tmp_path, bundle(PATIENT, *PLACES, stay, request()))) == {"N1": "no-bed"}


def test_the_open_period_decides_where_the_patient_is(tmp_path):
    other = location("b2", "Bed Z", "bd", "r")

    def stay(*places):
        listed = [
            {"location": {"reference": f"Location/{p}"}, "status": s, "period": period} for p, s, period in places
        ]
        return bed_of(read(tmp_path, bundle(PATIENT, *PLACES, other, {**STAY, "location": listed}, request())))[1]

    past = {"start": "2026-03-01", "end": "2026-03-05"}
    assert stay(("b2", "active", past), ("b", "active", {"start": "2026-03-05"})) == "04-A"
    assert stay(("b2", "planned", {"start": "2026-03-09"}), ("b", "active", {"start": "2026-03-05"})) == "04-A"
    assert stay(("b2", "active", {"start": "2026-03-05"}), ("b", "active", {"start": "2026-03-07"})) == "04-A"


def test_a_place_known_by_words_alone_is_shown_as_it_stands(tmp_path):
    stay = {**STAY, "location": [{"location": {"display": "Birch, fourth bed"}}]}
    loaded = read(tmp_path, bundle(PATIENT, stay, request()))
    assert bed_of(loaded)[1] == "Birch, fourth bed"
    assert "place-by-text" in codes(loaded)


def test_names_of_the_past_are_not_printed(tmp_path):
    names = [
        {"use": "maiden", "family": "Fern", "period": {"end": "1980"}},
        {"use": "usual", "given": ["Addie"]},
        {"use": "official", "family": "Moss", "given": ["Ada"]},
    ]
    loaded = read(tmp_path, bundle({**PATIENT, "name": names}, *PLACES, STAY, request()))
    (patient,) = loaded.problem.patients.values()
    assert (patient.family_name, patient.given_name) == ("Moss", "Ada")


def test_messages_resources_and_tables_may_mix(tmp_path):
    (tmp_path / "m.hl7").write_text(
        message(order("H1"), patient="PID|1||0000555^^^HILL^MR||Fern^Ivo||19600101|M", visit="PV1|1|I|Birch^05^B")
    )
    staff = "name,initials,from,until,starts_at\nAnna Holm,AH,05:00,08:00,\n"
    orders = "order_number,patient_number,test,ward,bed\nT1,0000777,CREA,Birch,06-A\n"
    loaded = read(tmp_path, on_ward(request("N1")), staff_csv=staff, orders_csv=orders)
    assert set(planned(loaded)) == {"H1", "N1", "T1"}
    assert [p.name for p in loaded.problem.staff] == ["Anna Holm"]
    assert set(loaded.sources) == {"m.hl7", "f1.json", "staff.csv", "orders.csv"}


def test_text_files_are_known_by_how_they_begin(tmp_path):
    (tmp_path / "export.txt").write_text("\x0b" + message(order("H1")))
    (tmp_path / "other.txt").write_text(json.dumps(on_ward(request("N1"))))
    assert set(planned(read(tmp_path))) == {"H1", "N1"}


def test_halves_of_characters_never_reach_the_plan(tmp_path):
    text = json.dumps(on_ward(request(note=[{"text": "x"}]))).replace('"x"', '"a\\ud800b\\u0000c\\u200b"')
    note = planned(read(tmp_path, text))["N1"].note
    assert note.encode() == b"a?bc"


def test_every_entry_is_counted():
    report = Report()
    document = read_document("f.json", json.dumps(on_ward(request("N1"), request("N2"))).encode(), report)
    # Patient, three places, Encounter, two requests
    assert len(document.entries) == 7
    assert len(report) == 0


def test_two_orders_under_one_resource_id_are_both_read(tmp_path):
    loaded = read(tmp_path, on_ward(request("N1"), request("N2", id="id-N1")))
    assert set(planned(loaded)) == {"N1", "N2"}
    assert "resource-twice" in codes(loaded)


@pytest.mark.parametrize("text", ["2025-11", "2025"])
def test_a_birth_date_without_a_day_is_used_as_far_as_it_goes(tmp_path, text):
    # FHIR R4 date: YYYY, YYYY-MM or YYYY-MM-DD.
    loaded = read(tmp_path, bundle({**PATIENT, "birthDate": text}, *PLACES, STAY, request()))
    (patient,) = loaded.problem.patients.values()
    assert patient.birth_date.isoformat() == text
    assert "birth-date-partial" in codes(loaded)
