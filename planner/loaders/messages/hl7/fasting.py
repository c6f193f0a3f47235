"""Fasting from its several coded places, and the free texts of an order, which are shown and never interpreted."""

from __future__ import annotations

from planner.findings import Severity
from planner.loaders.messages.common.precautions import SHOWN, speaks_of_precautions
from planner.loaders.messages.common.request import Request
from planner.loaders.messages.common.texts import joined, speaks_of_fasting
from planner.loaders.messages.hl7.codes import FASTING, FASTING_LOINC, WEIGHT_LOINCS, YES_NO
from planner.loaders.messages.hl7.context import Context
from planner.loaders.messages.hl7.grouping import Group
from planner.loaders.messages.hl7.segments import Segment

_TEXT_TYPES = frozenset({"ST", "TX", "FT", "NM", "CE", "CWE", "CNE", "DT", "SN"})
"""HL7 table 0125: value types that a person can read."""
_SPECIMEN_DETAILS = (
    (5, "specimen"), (6, "additive"), (7, "method"), (8, "site"), (10, "site"), (15, "handling"), (26, "containers"),
    (27, "container"),
)  # fmt: skip
"""Fields of SPM that say how a specimen is to be taken, each with the word for the sheet."""
_USUAL = frozenset({"VENIP", "1"})
"""What goes without saying: a venipuncture (HL7 table 0488), one container."""
_RESULT_STATES = frozenset({"F", "C", "P", "R"})


def put_fasting_and_notes(request: Request, group: Group, context: Context) -> None:
    """Set the fasting column from OBR-13 and OBX 49541-6, and the note from every free text."""
    stated: list[tuple[bool, str]] = []
    texts: list[tuple[str, str]] = []
    if group.obr is not None:
        _from_obr(group.obr, stated, texts)
    for observation in group.patient_observations:
        _from_observation(observation, stated, [])
    for observation in group.observations:
        _from_observation(observation, stated, texts)
    for segment in group.timings:
        if len(segment.fields) > 10:
            texts += [(segment.words(number), f"TQ1-{number}") for number in (10, 11)]
    for owner, number in ((group.orc, 7), (group.obr, 27)):
        if owner is not None and owner.has(number):
            texts += [(owner.text(number, part), f"{owner.name}-{number}.{part}") for part in (7, 8)]
    texts += [(note.words(3), "NTE-3") for note in group.notes]
    texts += _details(request, group, context)
    texts = [(text, heading) for text, heading in texts if text]
    if texts:
        request.put("note", joined([text for text, _ in texts]), texts[0][1])
        _point_out_precautions(request, texts, group, context)
    if stated:
        _settle(request, stated, group, context)
    elif request.fault is None:
        _point_out(request, texts, group, context)


def _details(request: Request, group: Group, context: Context) -> list[tuple[str, str]]:
    """Return in words how the specimen is to be taken and why; where a field says how, that it is only shown."""
    found = [
        (f"{what}: {text}", f"SPM-{number}")
        for specimen in group.specimens
        for number, what in _SPECIMEN_DETAILS
        if (text := specimen.text(number, 2) or specimen.text(number)) and specimen.text(number).upper() not in _USUAL
    ]
    if found and request.fault is None:
        message = (
            "the message says how the specimen is to be taken; it is shown on the sheet, and tubes and handling are "
            "those of the catalogue. Look whether they agree"
        )
        context.add("specimen-detail", Severity.WARNING, message, group.first, found[0][1], [request.number.number])
    if group.obr is not None and len(group.obr.fields) > 31 and (reason := group.obr.words(31)):
        found.append((f"reason: {reason}", "OBR-31"))
    return found


def _from_obr(obr: Segment, stated: list[tuple[bool, str]], texts: list[tuple[str, str]]) -> None:
    """Read OBR-13: a code of table 0916, alone or run together with its text, else free text."""
    if not obr.has(13):
        return
    first = obr.text(13)
    code, _, rest = first.partition(" ")
    if code in FASTING and (obr.text(13, 3).upper() in ("", "HL70916") or rest):
        value = FASTING[code]
        if value is not None:
            stated.append((value, "OBR-13"))
        if rest:
            texts.append((rest, "OBR-13"))
    else:
        texts.append((obr.words(13), "OBR-13"))


def _from_observation(observation: Segment, stated: list[tuple[bool, str]], texts: list[tuple[str, str]]) -> None:
    code = observation.text(3)
    if code == FASTING_LOINC or observation.text(3, 4) == FASTING_LOINC:
        value = YES_NO.get(observation.text(5).upper())
        if value is not None:
            stated.append((value, "OBX-5"))
            return
    if observation.text(11) not in _RESULT_STATES and (text := words_of(observation)):
        texts.append((text, "OBX-5"))


def words_of(observation: Segment) -> str:
    """Return what an observation says to a person; empty for weight and fasting, which have columns of their own."""
    code = observation.text(3)
    is_fasting = FASTING_LOINC in (code, observation.text(3, 4)) and observation.text(5).upper() in YES_NO
    if is_fasting or code in WEIGHT_LOINCS or observation.text(2) not in _TEXT_TYPES:
        return ""
    value = " ".join(part for part in (observation.text(5, 2) or observation.text(5), observation.text(6)) if part)
    return f"{observation.text(3, 2) or code}: {value}" if value else ""


def _settle(request: Request, stated: list[tuple[bool, str]], group: Group, context: Context) -> None:
    """Take the coded statements; where they disagree, fasting is the safe side."""
    values = {value for value, _ in stated}
    fasting = True in values
    request.put("fasting", "yes" if fasting else "no", next(h for v, h in stated if v == fasting))
    if len(values) > 1:
        message = "one place asks for a fasting draw and another says that it need not be; it is planned as fasting"
        context.add("fasting-conflict", Severity.WARNING, message, group.first, stated[0][1], [request.number.number])


def _point_out_precautions(request: Request, texts: list[tuple[str, str]], group: Group, context: Context) -> None:
    heading = next((heading for text, heading in texts if speaks_of_precautions(text)), "")
    if heading and request.fault is None:
        ids = [request.number.number]
        context.add("precaution-in-text", Severity.WARNING, SHOWN, group.first, heading, ids)


def _point_out(request: Request, texts: list[tuple[str, str]], group: Group, context: Context) -> None:
    for text, heading in texts:
        if speaks_of_fasting(text):
            message = (
                "the free text speaks of fasting; it is shown on the sheet and was not taken as an instruction. Enter "
                "fasting as a code where it is meant"
            )
            context.add("fasting-in-text", Severity.WARNING, message, group.first, heading, [request.number.number])
            return
