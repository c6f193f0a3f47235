"""An element of a JSON type that FHIR does not give it is never taken as not there.

FHIR R4, datatypes and the definitions of the resources (hl7.org/fhir/R4): the JSON type of each element.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from planner.findings import unread
from tests.unit.loaders.messages.fhir.ward import PATIENT, STAY, WARD, bundle, on_ward, read, request
from tests.unit.loaders.messages.hl7.ward import planned, reasons

WRONG: dict[str, Any] = {
    "occurrenceDateTime": [["2026-03-10T06:00:00+01:00"], {"value": "2026-03-10"}, True, 20260310, 1.5, []],
    "occurrencePeriod": ["2026-03-10", 5, {"start": 5}, {"start": ["2026-03-10T06:00:00Z"]}, {"end": {}}],
    "occurrenceTiming": [
        "2026-03-10",
        {"event": [5]},
        {"event": {"a": 1}},
        {"repeat": "daily"},
        {"repeat": {"boundsPeriod": 5}},
    ],
    "occurrenceInstant": ["2026-03-10T06:00:00Z"],
    "priority": [{"code": "stat"}, ["stat"], 5],
    "status": [["active"], {"value": "active"}],
    "code": ["CBC", [], 5],
    "subject": ["Patient/p1", 5],
    "encounter": ["Encounter/e1", 5],
    "asNeededBoolean": [["true"], "perhaps", 5],
    "specimen": ["Specimen/s1", [5]],
    "note": ["left arm only", [5]],
    "replaces": ["ServiceRequest/id-N0"],
}


@pytest.mark.parametrize(("name", "value"), [(n, v) for n, values in WRONG.items() for v in values])
def test_request_with_an_element_of_a_wrong_type_is_set_aside(name: str, value: Any, tmp_path: Path) -> None:
    wrong = {**request("N1"), name: value}
    loaded = read(tmp_path, on_ward(wrong, request("N2")))
    assert planned(loaded).keys() == {"N2"}
    assert reasons(loaded)["N1"] == "unreadable"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "name", "value"),
    [
        ("Patient", "birthDate", {"value": "1952-03-09"}),
        ("Patient", "birthDate", 19520309),
        ("Patient", "deceasedBoolean", ["true"]),
        ("Patient", "identifier", "0000417"),
        ("Encounter", "status", ["finished"]),
        ("Encounter", "location", "Location/b"),
        ("Flag", "code", "contact"),
        ("AllergyIntolerance", "code", 5),
        ("AllergyIntolerance", "patient", "Patient/p1"),
        ("Specimen", "collection", "2026-03-10"),
        ("Specimen", "request", "ServiceRequest/id-N1"),
    ],
)
def test_other_resource_with_an_element_of_a_wrong_type_needs_a_decision(
    kind: str, name: str, value: Any, tmp_path: Path
) -> None:
    own = {
        "Flag": {"resourceType": "Flag", "id": "g", "status": "active", "subject": {"reference": "Patient/p1"}},
        "AllergyIntolerance": {"resourceType": "AllergyIntolerance", "id": "a", "patient": {"reference": "Patient/p1"}},
        "Specimen": {"resourceType": "Specimen", "id": "s"},
        "Patient": PATIENT,
        "Encounter": STAY,
    }[kind]
    others = [r for r in WARD if r["resourceType"] != kind]
    loaded = read(tmp_path, bundle(*others, {**own, name: value}, request("N1")))
    assert "element-type" in {f.code for f in unread(loaded.findings)}


def test_tolerated_forms_stay_tolerated(tmp_path: Path) -> None:
    """One object for a list, a number for an id, a null: common slips of senders that leave nothing open."""
    good = request("N1", note={"text": "left arm only"}, doNotPerform="false", priority=None)
    good["occurrencePeriod"] = None
    loaded = read(tmp_path, on_ward(good))
    assert planned(loaded)["N1"].note == "left arm only"
    assert not unread(loaded.findings)


@pytest.mark.parametrize("time", ["2026", "2026-03", "2026-03-10T06", "2026-03-10T"])
def test_part_of_a_time_that_is_not_there_is_not_invented(time: str, tmp_path: Path) -> None:
    assert reasons(read(tmp_path, on_ward(request("N1", occurrenceDateTime=time)))) == {"N1": "unreadable"}
