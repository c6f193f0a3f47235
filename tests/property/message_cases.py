"""Good messages, and ways to damage some of them: bits, cuts, separators, nesting, shuffled pieces."""

from __future__ import annotations

import json
from random import Random

from tests.unit.loaders.messages.fhir.ward import bundle, location, request
from tests.unit.loaders.messages.hl7.ward import message, order

TESTS = ("CBC", "CREA", "TSH", "58410-2^CBC panel^LN", "X9^Unknown^L^2160-0^Creatinine^LN")
ENDS = ("\r", "\n", "\r\n")


def hl7_messages(number: int, rng: Random) -> list[bytes]:
    """Return good messages, each of a patient of its own with orders of its own.

    Their numbers differ in many letters, so that damage to one does not make another's of it.
    """
    found = []
    for i in range(number):
        own = chr(ord("A") + 5 * i) * 6
        patient = f"PID|1||{own}^^^HILL^MR||Family{i}^Given{i}||19{i % 80 + 10}0317|F"
        orders = [
            order(f"{own}{k}", test=rng.choice(TESTS), tq1={"f9": rng.choice("RSAT"), "f11": "before breakfast"})
            for k in range(rng.randint(1, 3))
        ]
        visit = f"PV1|1|I|W{i // 9}^{i}^A"
        text = message(*orders, control=f"C{own}", patient=patient, visit=visit)
        found.append(text.replace("\r", rng.choice(ENDS)).encode())
    return found


def bundle_text(number: int) -> str:
    """Return a good Bundle: a patient, a bed, a stay and a request each."""
    resources = [location("w", "Birch", "wa")]
    for i in range(number):
        resources.append(
            {"resourceType": "Patient", "id": f"p{i}", "identifier": [{"system": "urn:hill", "value": f"{i:05d}"}]}
        )
        resources.append(location(f"b{i}", f"Bed {i}", "bd", "w"))
        stay = {"resourceType": "Encounter", "id": f"e{i}", "status": "in-progress"}
        resources.append({**stay, "location": [{"location": {"reference": f"Location/b{i}"}}]})
        subject, encounter = {"reference": f"Patient/p{i}"}, {"reference": f"Encounter/e{i}"}
        resources.append(request(f"K{i}", subject=subject, encounter=encounter))
    return json.dumps(bundle(*resources))


def damage(data: bytes, rng: Random) -> bytes:
    """Return bytes damaged in one of many ways."""
    return rng.choice(_WAYS)(bytearray(data), rng)


def _flip(data: bytearray, rng: Random) -> bytes:
    for _ in range(rng.randint(1, 8)):
        data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
    return bytes(data)


def _cut(data: bytearray, rng: Random) -> bytes:
    return bytes(data[: rng.randrange(len(data))])


def _behead(data: bytearray, rng: Random) -> bytes:
    return bytes(data[rng.randrange(len(data)) :])


def _swap(data: bytearray, rng: Random) -> bytes:
    marks = b'|^~\\&\r\n"{}[]:,0123456789'
    one, other = rng.choice(marks), rng.choice(marks)
    return bytes(other if b == one else one if b == other else b for b in data)


def _drop(data: bytearray, rng: Random) -> bytes:
    start = rng.randrange(len(data))
    del data[start : start + rng.randint(1, 60)]
    return bytes(data)


def _repeat(data: bytearray, rng: Random) -> bytes:
    start = rng.randrange(len(data))
    piece = bytes(data[start : start + rng.randint(1, 40)])
    return bytes(data[:start]) + piece * rng.randint(2, 30) + bytes(data[start:])


def _nest(data: bytearray, rng: Random) -> bytes:
    at = rng.randrange(len(data))
    depth = rng.choice((5, 50, 500, 5000))
    left, right = rng.choice(((b'{"a":', b"}"), (b"[", b"]"), (b"&", b"^"), (b"\\", b"")))
    return bytes(data[:at]) + left * depth + right * rng.choice((0, depth)) + bytes(data[at:])


_ODD = (
    b"\x00", b"\x0b", b"\x1c\r", b"\xff\xfe", b"\xed\xa0\x80", b"\\u0000", b"\\ud800", b'""', b"1e999", b"NaN",
    b"99999999999999999999", b"00000000", b"+9999", b"Q1S", b"ORC|", b"PID|", b"MSH|", b"OBR|1|", b"\\X", b"\\",
)  # fmt: skip


def _insert(data: bytearray, rng: Random) -> bytes:
    at = rng.randrange(len(data))
    return bytes(data[:at]) + rng.choice(_ODD) * rng.randint(1, 4) + bytes(data[at:])


def _shuffle(data: bytearray, rng: Random) -> bytes:
    mark = rng.choice((b"\r", b"\n", b"|", b",", b"}"))
    pieces = bytes(data).split(mark)
    rng.shuffle(pieces)
    return mark.join(pieces)


_WAYS = (_flip, _flip, _flip, _cut, _behead, _swap, _drop, _repeat, _nest, _insert, _insert, _shuffle)
