"""Measures reading of messages: 2,000 HL7 v2 order messages, a Bundle of 20,000 entries, and half and twice of both.

Run by name: ``python tests/benchmark/messages.py``. It prints processor time (best of three) and judges nothing.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).parents[2]))

from planner.domain.policy import Policy
from planner.findings import Report
from planner.loaders import LoadOptions, load
from planner.loaders.build.frame import read_frame
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.tables.records import RawRound

TESTS = ("58410-2", "24321-2", "3016-3", "2777-1", "1988-5")


def hl7_file(num_messages: int) -> bytes:
    """Return order messages of three orders each, four beds a room."""
    lines = []
    for i in range(num_messages):
        lines += [
            f"MSH|^~\\&|WARDS|HILL|LAB|HILL|20260309{i % 24:02d}{i % 60:02d}00+0100||OML^O21^OML_O21|M{i:06d}|P|2.5.1",
            f"PID|1||{i:07d}^^^HILL^MR||PATIENT{i}^GIVEN{i}^^^^^L||19{i % 90 + 10}0{i % 9 + 1}17|F",
            f"PV1|1|I|W{i // 40:03d}^{i // 4 % 10:02d}^{'ABCD'[i % 4]}^HILL",
        ]
        for k in range(3):
            number = f"N{i:06d}{k}"
            lines += [
                f"ORC|NW|{number}^WARDS||G{i:06d}|||||20260309180000+0100",
                "TQ1|1||||||20260310060000+0100|20260310073000+0100|R",
                f"OBR|{k + 1}|{number}^WARDS||{TESTS[(i + k) % 5]}^Some test name^LN|||||||L",
                "NTE|1||left arm only \\T\\ light",
            ]
    return "\r".join(lines).encode()


def fhir_file(num_entries: int) -> bytes:
    """Return a Bundle: for every patient an Encounter, a bed and seven requests."""
    entries: list[dict[str, object]] = []
    entry = entries.append
    ward = {"resourceType": "Location", "id": "w", "name": "Ward 3", "physicalType": {"coding": [{"code": "wa"}]}}
    entry({"resource": ward})
    i = 0
    while len(entries) < num_entries:
        i += 1
        identifier = [{"type": {"coding": [{"code": "MR"}]}, "system": "urn:hill", "value": f"{i:07d}"}]
        name = [{"use": "official", "family": f"Family{i}", "given": [f"Given{i}"]}]
        entry({"resource": {"resourceType": "Patient", "id": f"p{i}", "identifier": identifier, "name": name}})
        bed = {"resourceType": "Location", "id": f"b{i}", "name": f"Bed {i}", "partOf": {"reference": "Location/w"}}
        entry({"resource": {**bed, "physicalType": {"coding": [{"code": "bd"}]}}})
        stay = {"resourceType": "Encounter", "id": f"e{i}", "status": "in-progress"}
        place = [{"location": {"reference": f"Location/b{i}"}, "status": "active"}]
        entry({"resource": {**stay, "subject": {"reference": f"Patient/p{i}"}, "location": place}})
        for k in range(7):
            request = {
                "resourceType": "ServiceRequest",
                "id": f"s{i}-{k}",
                "identifier": [{"system": "urn:orders", "value": f"F{i:06d}{k}"}],
                "status": "active",
                "intent": "order",
                "priority": "routine",
                "code": {"coding": [{"system": "http://loinc.org", "code": TESTS[k % 5]}], "text": "Some test"},
                "subject": {"reference": f"Patient/p{i}"},
                "encounter": {"reference": f"Encounter/e{i}"},
                "occurrenceDateTime": "2026-03-10T06:00:00+01:00",
                "authoredOn": "2026-03-09T18:00:00+01:00",
            }
            entry({"resource": request})
    return json.dumps({"resourceType": "Bundle", "type": "collection", "entry": entries[:num_entries]}).encode()


def best_ms(work: Callable[[], object], times: int = 3) -> float:
    """Return the shortest of several runs in milliseconds."""
    found = []
    for _ in range(times):
        start = time.process_time()
        work()
        found.append(1000 * (time.process_time() - start))
    return min(found)


def main() -> None:
    from planner.loaders.catalogue.load import load_catalogue

    catalogue, _ = load_catalogue()
    print(f"{'what':<34}{'size':>9}{'to rows, ms':>13}{'to problem, ms':>16}")
    for kind, make, sizes in (
        ("HL7 messages", hl7_file, (1000, 2000, 4000)),
        ("FHIR entries", fhir_file, (10_000, 20_000, 40_000)),
    ):
        for size in sizes:
            data = make(size)
            name = "orders.hl7" if make is hl7_file else "orders.json"

            def to_rows(name: str = name, data: bytes = data) -> None:
                raw = RawRound("benchmark", messages=[(name, data)])
                read_frame(raw, Policy(), TestLookup(catalogue), LoadOptions(), Report())

            with TemporaryDirectory() as folder:
                file = Path(folder) / name
                file.write_bytes(data)
                whole = best_ms(lambda file=file: load(file), 1)
            print(f"{size:>7} {kind:<26}{len(data) / 1e6:>7.1f}MB{best_ms(to_rows):>13.0f}{whole:>16.0f}")
    print(f"measured on {date.today().isoformat()}")


if __name__ == "__main__":
    main()
