"""Resources of an invented ward: every test states only what it is about."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from planner.loaders import Loaded, LoadOptions, load

Json = dict[str, Any]
V2 = "http://terminology.hl7.org/CodeSystem/v2-0203"
LOINC = "http://loinc.org"
PATIENT: Json = {
    "resourceType": "Patient",
    "id": "p1",
    "identifier": [{"type": {"coding": [{"system": V2, "code": "MR"}]}, "system": "urn:hill", "value": "0000417"}],
    "name": [{"use": "official", "family": "Moss", "given": ["Ada"]}],
    "gender": "female",
    "birthDate": "1952-03-09",
}


def location(number: str, name: str, code: str, part_of: str = "") -> Json:
    """Return a Location of a physical type (bd bed, ro room, wa ward)."""
    found: Json = {"resourceType": "Location", "id": number, "name": name, "status": "active"}
    found["physicalType"] = {"coding": [{"code": code}]}
    if part_of:
        found["partOf"] = {"reference": f"Location/{part_of}"}
    return found


PLACES = (location("w", "Birch", "wa"), location("r", "Room 04", "ro", "w"), location("b", "Bed A", "bd", "r"))
STAY: Json = {
    "resourceType": "Encounter",
    "id": "e1",
    "status": "in-progress",
    "class": {"code": "IMP"},
    "subject": {"reference": "Patient/p1"},
    "location": [{"location": {"reference": "Location/b"}, "status": "active"}],
}
WARD = (PATIENT, *PLACES, STAY)


def request(number: str = "N1", *, code: str = "CBC", **elements: Any) -> Json:
    """Return a ServiceRequest; an element that is None is left out."""
    found: Json = {
        "resourceType": "ServiceRequest",
        "id": f"id-{number}",
        "identifier": [{"type": {"coding": [{"system": V2, "code": "PLAC"}]}, "system": "urn:placer", "value": number}],
        "status": "active",
        "intent": "order",
        "code": {"coding": [{"system": "urn:codes", "code": code}]},
        "subject": {"reference": "Patient/p1"},
        "encounter": {"reference": "Encounter/e1"},
        "occurrenceDateTime": "2026-03-10T06:00:00+01:00",
    }
    found.update(elements)
    if any(name.startswith("occurrence") and name != "occurrenceDateTime" for name in elements):
        found.pop("occurrenceDateTime")
    return {name: value for name, value in found.items() if value is not None}


def bundle(*resources: Json, kind: str = "collection", **elements: Any) -> Json:
    """Return a Bundle of these resources."""
    return {"resourceType": "Bundle", "type": kind, "entry": [{"resource": r} for r in resources], **elements}


def read(folder: Path, *contents: Json | str | bytes, options: LoadOptions | None = None, **files: str) -> Loaded:
    """Return what is read of a folder with these JSON files and these other files."""
    for i, content in enumerate(contents, start=1):
        text = json.dumps(content) if isinstance(content, dict) else content
        (folder / f"f{i}.json").write_bytes(text if isinstance(text, bytes) else text.encode())
    for name, text in files.items():
        (folder / name.replace("_toml", ".toml").replace("_csv", ".csv")).write_text(text, encoding="utf-8")
    return load(folder, options)


def on_ward(*requests: Json) -> Json:
    """Return a Bundle of the ward and these resources."""
    return bundle(*WARD, *requests)
