"""What the specimen segments say against a draw: already collected, none of the patient's, no blood from a vein."""

from __future__ import annotations

from planner.domain.plan import Reason, SetAside
from planner.loaders.messages.common.request import Request
from planner.loaders.messages.hl7.codes import ARTERIAL, ARTERIAL_SNOMED, BLOOD, BLOOD_SNOMED, FOREIGN_ROLES
from planner.loaders.messages.hl7.context import Context
from planner.loaders.messages.hl7.grouping import Group
from planner.loaders.messages.hl7.segments import Segment
from planner.loaders.values.words import SPECIMENS

UNKNOWN = "unknown"
_TABLES = frozenset({"HL70487", "HL70070", "0487", "0070"})


def judge_specimens(request: Request, group: Group, context: Context) -> None:
    """Set a request aside when every specimen that it names speaks against a draw."""
    if group.obr is not None and group.obr.has(14):
        request.set_aside(Reason.ALREADY_DRAWN, "the specimen was received (OBR-14)")
    faults = [_fault(specimen) for specimen in group.specimens]
    if faults and all(faults) and faults[0] is not None:
        request.set_aside(*faults[0])
    if group.specimens:
        specimen = next((s for s, fault in zip(group.specimens, faults, strict=True) if fault is None), None)
        if specimen is not None and kind_fault(specimen.text(4), specimen.text(4, 2), specimen.text(4, 3)) == UNKNOWN:
            request.put("specimen", specimen.text(4, 2) or specimen.text(4), "SPM-4")
    elif group.obr is not None and _is_old(context.version):
        _judge_source(request, group.obr)


def _is_old(version: str) -> bool:
    """Return whether the specimen stands in OBR-15: before v2.5, or where the version is not stated."""
    return version[:3] in ("", "2.0", "2.1", "2.2", "2.3", "2.4")


def _judge_source(request: Request, obr: Segment) -> None:
    code, text = obr.text(15, 1, 1), obr.text(15, 1, 2)
    if not code:
        return
    found = kind_fault(code, text, obr.text(15, 1, 3) or "HL70070")
    if found == UNKNOWN:
        request.put("specimen", text or code, "OBR-15")
    elif isinstance(found, SetAside):
        request.set_aside(found.reason, f"{found.detail} (OBR-15)")


def _fault(specimen: Segment) -> SetAside | None:
    role = specimen.text(11).upper()
    if role in FOREIGN_ROLES:
        return SetAside(
            Reason.NOT_AN_ORDER, f"the specimen is no patient's but a {FOREIGN_ROLES[role]} (SPM-11 = {role})"
        )
    found = kind_fault(specimen.text(4), specimen.text(4, 2), specimen.text(4, 3))
    if isinstance(found, SetAside):
        return SetAside(found.reason, f"{found.detail} (SPM-4)")
    for number, what in ((17, "collected"), (18, "received")):
        if specimen.has(number):
            return SetAside(Reason.ALREADY_DRAWN, f"the specimen was {what} (SPM-{number})")
    return None


def kind_fault(code: str, text: str, system: str) -> SetAside | str | None:
    """Return why a specimen type is not for a phlebotomist; None for blood, `UNKNOWN` when the code is not known.

    The words are looked up only where no coding system tells what the code means.
    """
    plain = code.upper()
    if not code and not text:
        return None
    shown = text or code
    if plain in ARTERIAL or code in ARTERIAL_SNOMED:
        return SetAside(Reason.ARTERIAL, f"the specimen is arterial blood: {shown}")
    if plain in BLOOD or code in BLOOD_SNOMED:
        return None
    if system.upper() in _TABLES and (len(plain) <= 7 and plain.isalpha()):
        return SetAside(Reason.NOT_BLOOD, f"the specimen is not blood: {shown}")
    for words in (code, text):
        if words and (key := " ".join(words.casefold().split())) in SPECIMENS:
            reason = SPECIMENS[key]
            return None if reason is None else SetAside(reason, f"the specimen is not venous blood: {shown}")
    for part in " ".join((code, text)).casefold().replace(",", " ").replace("(", " ").split():
        if part not in ("", "specimen", "sample") and SPECIMENS.get(part):
            return SetAside(SPECIMENS[part] or Reason.NOT_BLOOD, f"the specimen is not venous blood: {shown}")
    return UNKNOWN
