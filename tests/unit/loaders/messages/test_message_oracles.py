"""Other people's readers as oracles: the package `hl7` on well-formed messages, `fhir.resources` on our example."""

from __future__ import annotations

import json
import warnings
from pathlib import Path
from random import Random

import pytest

from planner.findings import Report, Severity, Source
from planner.loaders import load
from planner.loaders.messages.hl7.framing import split_messages
from planner.loaders.messages.hl7.segments import parse_message
from tests.property.message_cases import hl7_messages
from tests.unit.loaders.messages.fhir.ward import on_ward, request
from tests.unit.loaders.messages.hl7.ward import message, order, planned, reasons

DEMO = Path(__file__).parents[4] / "inputs" / "rowan-messages"


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


@pytest.mark.parametrize("seed", range(20))
def test_components_are_read_as_another_reader_reads_them(seed):
    hl7 = pytest.importorskip("hl7")
    text = hl7_messages(1, Random(seed))[0].decode().replace("\r\n", "\r").replace("\n", "\r")
    theirs = hl7.parse(text)
    (raw,) = split_messages(text.encode(), Report(), Source(file="m.hl7"))
    ours = parse_message(raw).segments
    for name, field, most in (("PID", 3, 5), ("PID", 5, 2), ("PV1", 3, 3), ("OBR", 4, 6), ("ORC", 2, 2), ("TQ1", 9, 1)):
        own = [s for s in ours if s.name == name]
        for number, segment in enumerate(own, start=1):
            for component in range(1, most + 1):
                # segment, its number, field, repetition, component, sub-component: all from 1
                if component > segment.raw(field).count("^") + 1:
                    assert segment.text(field, component) == ""
                    continue
                assert segment.text(field, component) == theirs.extract_field(name, number, field, 1, component, 1)


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
    # what is planned is active, by the status that the package reads; what is not active is set aside
    listed = [e.resource for e in bundle.entry if e.resource.get_resource_type() == "ServiceRequest"]
    loaded = load(DEMO)
    found = {*planned(loaded), *reasons(loaded)}
    for resource in listed:
        number = resource.identifier[0].value
        own = {n for n in found if n == number or n.startswith(f"{number}.")}
        assert own, number
        assert (own <= set(planned(loaded))) == (resource.status == "active" and own.isdisjoint(reasons(loaded)))
        assert resource.status == "active" or own <= set(reasons(loaded))


def test_the_bundles_that_tests_are_made_of_are_valid_r4b():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        module = pytest.importorskip("fhir.resources.R4B.bundle")
        module.Bundle.model_validate(on_ward(request("N1"), request("N2", priority="stat")))


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
