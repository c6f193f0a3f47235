"""One group of segments to one mention of an order: what it asks for, what it does, and what speaks against a draw."""

from __future__ import annotations

from dataclasses import dataclass

from planner.domain.plan import Reason
from planner.findings import Severity
from planner.loaders.messages.common.precautions import SHOWN
from planner.loaders.messages.common.request import Ident, Request
from planner.loaders.messages.hl7.codes import (
    COLLECTION_ADD_ON,
    COLLECTION_ASSUMED,
    COLLECTION_BY_OTHERS,
    COLLECTION_BY_US,
    COLLECTION_CANCELLED,
    KNOWN_STATES,
    LOINC_MODALITIES,
    ORDER_CONTROL,
    OTHER_ORDER_MESSAGES,
    OTHER_SECTIONS,
    Action,
)
from planner.loaders.messages.hl7.context import Context
from planner.loaders.messages.hl7.fasting import put_fasting_and_notes
from planner.loaders.messages.hl7.grouping import Group
from planner.loaders.messages.hl7.people import put_patient
from planner.loaders.messages.hl7.segments import Segment
from planner.loaders.messages.hl7.specimens import judge_specimens
from planner.loaders.messages.hl7.times import parse_time
from planner.loaders.messages.hl7.when import put_when
from planner.loaders.values.fields import word
from planner.loaders.values.words import NO_PRECAUTION

_NO_PARTS = [""] * 6
"""Components of OBR-4 that are not there: three of each triplet."""
_SETTLED = COLLECTION_BY_US | COLLECTION_BY_OTHERS | COLLECTION_CANCELLED


@dataclass(slots=True)
class Mention:
    """One time that a message speaks of an order.

    ``control`` is ORC-1 and ``state`` ORC-5 as written; ``filler`` the laboratory's number. ``has_number`` is False
    when the number was made up here; ``shares_control`` when the request goes by the ORC of the one before.
    """

    action: Action
    control: str
    state: str
    request: Request
    filler: Ident
    has_number: bool
    has_test: bool
    sent: float
    context: Context
    segment: Segment
    shares_control: bool
    is_refused: bool = False
    """True when nobody can tell whether the message means this: it then changes no other order."""


def read_group(group: Group, position: int, context: Context) -> Mention:
    """Return what a group says; ``position`` is its place in the message, from 1."""
    orc, obr = group.orc, group.obr
    number, heading = _ident(group, 2)
    filler, _ = _ident(group, 3)
    has_number = bool(number.number or filler.number)
    if not number.number:
        number, heading = (filler, "ORC-3") if filler.number else (_made_number(position, context), "ORC-2")
    source = context.source(group.first, heading)
    request = Request(number=number, patient=Ident(), source=source, sent=context.sent, ordered=context.stamp)
    request.headings.update(order_number=heading, test="OBR-4")
    control = orc.text(1).upper() if orc is not None else ""
    mention = Mention(
        action=ORDER_CONTROL.get(control, Action.UNKNOWN) if control else Action.NEW,
        control=control,
        state=orc.text(5).upper() if orc is not None else "",
        request=request,
        filler=filler,
        has_number=has_number,
        has_test=obr is not None,
        sent=context.sent,
        context=context,
        segment=group.first,
        shares_control=not group.has_own_control,
    )
    service = [*obr.components(4), *_NO_PARTS] if obr is not None else _NO_PARTS
    _read_test(request, service)
    if obr is not None and len(obr.repetitions(4)) > 1:
        text = "the request names several tests where HL7 has one; the first was read. Have each sent as an order"
        context.add("test-repeated", Severity.ERROR, text, obr, "OBR-4")
    _judge_kind(request, group, service, context)
    action = obr.text(11).upper() if obr is not None else ""
    _judge_collection(request, action)
    judge_specimens(request, group, context)
    _put_danger(request, group, context)
    put_patient(request, group, context)
    _assume_collection(request, obr, action, context)
    _report_state(mention)
    put_when(request, group, context)
    put_fasting_and_notes(request, group, context)
    if orc is not None:
        request.group = orc.text(4)
        request.parent = Ident(*orc.pair(8)) if orc.has(8) or obr is None else Ident(*obr.pair(29))
        request.ordered = parse_time(orc.text(9), context.sender, "ORC-9") or context.stamp
    return mention


def _ident(group: Group, number: int) -> tuple[Ident, str]:
    """Return an order number (2 placer, 3 filler): the request's own before that of an ORC which it shares."""
    segments = (group.orc, group.obr) if group.has_own_control else (group.obr, group.orc)
    for segment in segments:
        if segment is not None:
            value, authority = segment.pair(number)
            if value:
                return Ident(value, authority), f"{segment.name}-{number}"
    return Ident(), f"ORC-{number}"


def _made_number(position: int, context: Context) -> Ident:
    """Return a number for an order that has none: the message's control id and the order's place in it."""
    return Ident(
        f"{context.control_id or context.label.replace(' ', '-')}.{position}", f"{context.file} {context.label}"
    )


def _read_test(request: Request, service: list[str]) -> None:
    """Collect the codes of OBR-4: the site's own first, then LOINC; a code repeated without a system counts once."""
    own: list[str] = []
    loinc: list[str] = []
    words: list[str] = []
    for code, text, system in (service[0:3], service[3:6]):
        if code:
            (loinc if system.upper() in ("LN", "LOINC") else own).append(code)
        if text:
            words.append(text)
    request.tests = tuple(dict.fromkeys([*own, *loinc]))
    request.test_words = words[0] if words else ""


def _judge_kind(request: Request, group: Group, service: list[str], context: Context) -> None:
    """Set aside what is no laboratory order: by its message, its segments, its section or an imaging LOINC."""
    kind = OTHER_ORDER_MESSAGES.get(context.kind) or group.other_kind
    obr = group.obr
    if not kind and obr is not None:
        kind = OTHER_SECTIONS.get(obr.text(24).upper(), "")
        first = service[1].split(" ", 1)[0]
        if not kind and service[2].upper() == "LN" and first in LOINC_MODALITIES:
            kind = f"imaging, as the LOINC name says ({first})"
    if kind:
        request.set_aside(Reason.NOT_LABORATORY, f"no order of the laboratory: {kind}")


def _judge_collection(request: Request, code: str) -> None:
    """Set aside what OBR-11 (HL7 table 0065) says that nobody, or somebody else, draws."""
    if code in COLLECTION_ADD_ON:
        request.set_aside(Reason.ADD_ON, f"no draw: {COLLECTION_ADD_ON[code]}")
    elif code in COLLECTION_BY_OTHERS:
        request.set_aside(Reason.DRAWN_BY_OTHERS, f"somebody else draws it (OBR-11 = {code})")
    elif code in COLLECTION_CANCELLED:
        request.set_aside(Reason.CANCELLED, f"the order is withdrawn (OBR-11 = {code})")


def _assume_collection(request: Request, obr: Segment | None, code: str, context: Context) -> None:
    """Say where OBR-11 leaves open who draws: S, P, R and unknown codes are drawn on the round."""
    if code not in _SETTLED and request.fault is None:
        known = COLLECTION_ASSUMED.get(code, f"OBR-11 = {code[:20]!r} is not a code of table 0065")
        message = f"{known}; it is planned as a draw of this round. Look whether the ward draws it"
        ids = [request.number.number]
        context.add("collection-assumed", Severity.WARNING, message, obr, "OBR-11", ids)


def _report_state(mention: Mention) -> None:
    """Say where ORC-5 is no code of HL7 table 0038: nobody can tell what the order's state is."""
    request = mention.request
    if mention.state not in KNOWN_STATES and request.fault is None:
        message = (
            f"the order's state {mention.state[:20]!r} is no code of HL7 table 0038; it changes nothing. Look at it"
        )
        ids = [request.number.number]
        mention.context.add("order-state-unknown", Severity.WARNING, message, mention.segment, "ORC-5", ids)


def _put_danger(request: Request, group: Group, context: Context) -> None:
    """Show OBR-12, the danger code: a hazard of the patient or the specimen, in the hospital's own words."""
    if group.obr is None or not (words := group.obr.words(12)) or word(words) in NO_PRECAUTION:
        return
    request.put("alerts", f"danger code: {words[:200]}", "OBR-12")
    if request.fault is None:
        context.add("precaution-in-text", Severity.WARNING, SHOWN, group.obr, "OBR-12", [request.number.number])
