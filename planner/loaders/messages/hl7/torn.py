"""Where a part of a message may be lost: what may have been an order there needs a decision, never silence."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator

from planner.loaders.messages.hl7.codes import (
    ANSWER_MESSAGES,
    HARMLESS_MESSAGES,
    ORDER_MESSAGES,
    OTHER_ORDER_MESSAGES,
    SEGMENTS,
)
from planner.loaders.messages.hl7.segments import Message, Segment

_OF_ORDERS = frozenset({"NTE", "TQ1", "OBX", "SPM"})
_READ = _OF_ORDERS | {"ORC", "OBR", "PID", "PV1", "PV2", "AL1"}
"""Segments that bear on a draw."""
_CODE_SYSTEM = re.compile(r"^(L|LN|SCT|99\w{1,10})$")
"""Coding systems of HL7 table 0396 that tests are stated in: local, LOINC, SNOMED CT, local ones with a name."""
_SITES_OWN = re.compile(r"^Z\w\w$")


def should_hold_orders(kind: str) -> bool:
    """Return whether a message of a type (first part of MSH-9, in capitals) cannot be whole without ORC and OBR.

    HL7 v2.5.1, chapters 4 and 7. A type that nobody knows, or none, is what is left of a damaged one.
    """
    if kind in ORDER_MESSAGES or kind in OTHER_ORDER_MESSAGES or kind == "ORU":
        return True
    return kind not in ANSWER_MESSAGES and kind not in HARMLESS_MESSAGES and not _SITES_OWN.match(kind)


def torn_lines(message: Message) -> Iterator[tuple[str, list[int]]]:
    """Yield what is wrong with lines that may have been an order or a part of one, and their numbers.

    Of a visit that holds a code with its system, as orders do, and is followed by part of an order: either alone may be
    a sender's habit.
    """
    pairs = itertools.pairwise(message.segments)
    visits = [v.line for v, after in pairs if v.name == "PV1" and after.name in _OF_ORDERS and _holds_code(v, 4)]
    yield "begin as a visit and go on as an order, so an order between may be lost", visits
    # The first is the header, with or without its name.
    unknown = [s for s in message.segments[1:] if s.name[:1].isalpha() and s.name[0] != "Z" and s.name not in SEGMENTS]
    strange = [s.line for s in unknown if _holds_code(s, 1) or any(_is_near(s.name, name) for name in _READ)]
    yield "have a name that no segment has, and may be part of an order; they were not read", strange


def _holds_code(segment: Segment, first: int) -> bool:
    return any(_CODE_SYSTEM.match(segment.text(number, 3)) for number in range(first, len(segment.fields)))


def _is_near(name: str, known: str) -> bool:
    return sum(a != b for a, b in zip(name, known, strict=True)) == 1
