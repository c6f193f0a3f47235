"""Other people's readers as oracles: the package `hl7` on well-formed messages, `fhir.resources` on our example."""

from __future__ import annotations

import json
import warnings
from pathlib import Path
from random import Random

import pytest

from planner.findings import Report, Severity, Source
from planner.loaders import load
from planner.loaders.hl7.framing import split_messages
from planner.loaders.hl7.segments import parse_message
from tests.property.message_cases import hl7_messages
from tests.unit.loaders.hl7.ward import message, order, planned, reasons

DEMO = Path(__file__).parents[3] / "inputs" / "rowan-messages"


def our_fields(text: str) -> list[list[str]]:
    """Return the raw fields of every segment as we split them."""
    (raw,) = split_messages(text.encode(), Report(), Source(file="m.hl7"))
    return [[s.raw(i) for i in range(1, len(s.fields))] for s in parse_message(raw).segments]


def their_fields(text: str) -> list[list[str]]:
    """Return the raw fields of every segment as the package `hl7` splits them."""
    hl7 = pytest.importorskip("hl7")
    found = []
    for segment in hl7.parse(text):
        found.append([str(segment(i)) for i in range(1, len(segment))])
    return found


@pytest.mark.parametrize("seed", range(50))
def test_fields_are_split_as_another_reader_splits_them(seed):
    text = hl7_messages(1, Random(seed))[0].decode().replace("\r\n", "\r").replace("\n", "\r")
    assert our_fields(text) == their_fields(text)


@pytest.mark.parametrize(
    "note", [r"left \T\ right", r"a \F\ b \S\ c \R\ d \E\ e", r"caf\XE9\ ", "plain", "x^y&z~w", r"one\.br\two"]
)
def test_known_escapes_mean_what_another_reader_says(note):
    hl7 = pytest.importorskip("hl7")
    text = message(order(more=[f"NTE|1|L|{note}"]))
    their = hl7.parse(text)
    expected = their.unescape(str(their.segment("NTE")(3)))
    (raw,) = split_messages(text.encode("latin-1"), Report(), Source(file="m.hl7"))
    ours = parse_message(raw).segments[-1]
    if "^" in note:
        assert [ours.part(r) for r in ours.repetitions(3)] == ["x", "w"]
        return
    if ".br" in note or r"\X" in note:
        # that package writes \.br\ as CR and bytes as Latin-1; we write a line end and the message's characters
        expected = expected.replace("\r", "\n")
        if r"\X" in note:
            assert ours.text(3).startswith("caf")
            return
    assert ours.text(3) == expected.strip()


def test_our_example_bundle_is_valid_r4b():
    # R4B equals R4 for these resource types; the package has no R4 module
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        module = pytest.importorskip("fhir.resources.R4B.bundle")
        bundle = module.Bundle.model_validate(json.loads((DEMO / "requests.json").read_text(encoding="utf-8")))
    assert len(bundle.entry) == 14


def test_our_example_messages_are_read_by_another_reader():
    hl7 = pytest.importorskip("hl7")
    text = (DEMO / "night.hl7").read_bytes().decode()
    file = hl7.parse_file(text)
    # one batch of eight messages
    assert [len(batch) for batch in file] == [8]


def test_our_example_round_needs_no_other_file():
    loaded = load(DEMO)
    # 12 orders in the messages and 5 requests, one of which is two draws; set aside: add-on, drawn by others,
    # cancelled by a later message, revoked
    assert loaded.num_orders_read == 18
    assert len(planned(loaded)) == 14
    assert sorted(reasons(loaded).values()) == ["add-on", "cancelled", "cancelled", "drawn-by-others"]
    assert not [f for f in loaded.findings if f.severity is Severity.ERROR]
