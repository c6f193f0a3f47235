"""Damaged messages and resources: no traceback, no hang, and no good message or resource lost with the bad one.

The suite runs a share of the cases; ``MESSAGE_FUZZ_CASES=10000 pytest tests/property/test_messages_fuzz.py`` runs all,
``python tests/property/test_messages_fuzz.py 10000 1`` as many from another seed, with the time.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from random import Random

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from planner.domain.policy import Policy
from planner.findings import Report
from planner.loaders.build.frame import read_frame
from planner.loaders.build.options import LoadOptions
from planner.loaders.build.problem import build_problem
from planner.loaders.catalogue.load import load_catalogue
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.tables.records import RawRound
from tests.property.message_cases import bundle_text, damage, hl7_messages

CASES = int(os.environ.get("MESSAGE_FUZZ_CASES", "2000"))
WHOLE_EVERY = 40
"""One case in so many goes on to the `Problem`, where orders read must equal those planned and set aside."""
SLOWEST_S = 5.0
CATALOGUE = load_catalogue()[0]
LOOKUP = TestLookup(CATALOGUE)


def rows_of(data: bytes, name: str) -> dict[str, dict[str, str]]:
    """Return the rows read of one file, by order number, the reason to set one aside among its cells."""
    raw = RawRound("fuzz", messages=[(name, data)])
    report = Report()
    if len(data) % WHOLE_EVERY:
        read_frame(raw, Policy(time_zone="Europe/Dublin"), LOOKUP, LoadOptions(), report)
    else:
        raw.policy_text = 'time_zone = "Europe/Dublin"'
        problem, count = build_problem(raw, LoadOptions(), report)
        assert (0 if problem is None else len(problem.orders) + len(problem.set_aside)) == count
    found = {r.text("order_number"): {**r.values, "fault": str(r.fault)} for r in raw.records("orders")}
    for text in (value for row in found.values() for value in row.values()):
        text.encode()
    for finding in report:
        str(finding).encode("utf-8", "replace")
    return found


def check_hl7(seed: int) -> None:
    """Damage the middle one of three messages: the orders of the other two are read as if it were not there."""
    rng = Random(seed)
    good = hl7_messages(3, rng)
    bad = damage(good[1], rng)
    begin, end = (b"\x0b", b"\x1c\r") if rng.random() < 0.5 else (b"", b"\r")
    before = rows_of(begin + good[0] + end + begin + good[2] + end, "m.hl7")
    after = rows_of(begin + good[0] + end + begin + bad + end + begin + good[2] + end, "m.hl7")
    if not begin and not bad.startswith(b"MSH|^~\\&|"):
        # Without frames, what has lost its header goes on with the message before it, by any reader's rule.
        before = {number: row for number, row in before.items() if number[:1] != "A"}
    for number, row in before.items():
        assert number in after, f"seed {seed}: order {number} of an undamaged message is lost"
        assert row == after[number], f"seed {seed}: order {number} of an undamaged message changed"


def check_fhir(seed: int) -> None:
    """Damage one line of resources one a line, or a whole Bundle."""
    rng = Random(seed)
    if rng.random() < 0.5:
        rows_of(damage(bundle_text(3).encode(), rng), "b.json")
        return
    import json

    lines = [json.dumps(entry["resource"]).encode() for entry in json.loads(bundle_text(3))["entry"]]
    # lines: the ward, then for each patient Patient, Location, Encounter, ServiceRequest; damage the second request
    bad = damage(lines[8], rng).replace(b"\n", b" ").replace(b"\r", b" ")
    after = rows_of(b"\n".join([*lines[:8], bad, *lines[9:]]), "b.ndjson")
    for number in ("K0", "K2"):
        assert number in after, f"seed {seed}: request {number} on an undamaged line is lost"


def run(cases: int, seed: int) -> float:
    """Run cases; return the longest time that one took, in seconds of processor time."""
    slowest = 0.0
    for i in range(cases):
        start = time.process_time()
        (check_hl7 if i % 2 else check_fhir)(seed * 1_000_003 + i)
        slowest = max(slowest, time.process_time() - start)
    return slowest


@pytest.mark.parametrize("part", range(4))
def test_damaged_messages_cost_no_other_and_never_break_the_reader(part: int) -> None:
    assert run(CASES // 4, 100 + part) < SLOWEST_S


if __name__ == "__main__":
    began = time.perf_counter()
    longest = run(int(sys.argv[1]), int(sys.argv[2]))
    print(f"{sys.argv[1]} cases in {time.perf_counter() - began:.1f} s, the longest {1000 * longest:.0f} ms")
