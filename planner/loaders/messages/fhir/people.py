"""Who and where: Patient, Encounter and Location to the patient's columns and the parts of the bedside."""

from __future__ import annotations

from dataclasses import dataclass, field

from planner.domain.plan import Reason
from planner.findings import Severity
from planner.loaders.messages.common.precautions import SHOWN, is_precaution, speaks_of_precautions
from planner.loaders.messages.common.request import Bedside, Ident, Request
from planner.loaders.messages.fhir.json_text import Json
from planner.loaders.messages.fhir.store import Kept, Store
from planner.loaders.messages.fhir.values import (
    codes_of,
    concept,
    has_any,
    is_true,
    object_of,
    objects_of,
    text_of,
    texts_of,
    words_of,
)

_MAX_TEXT = 200
_GONE = frozenset({"finished", "cancelled", "entered-in-error", "completed", "discharged", "discontinued"})
"""FHIR encounter-status, R4 and R5, that say that the patient is not there any more."""
_NOT_STAYING = frozenset({"AMB", "HH", "VR", "PRENC", "FLD"})
"""Codes of v3-ActCode, ActEncounterCode: ambulatory, home health, virtual, pre-admission, field."""
_BED_CODES = frozenset({"bd"})
_ROOM_CODES = frozenset({"ro"})
_WARD_CODES = frozenset({"wa", "lvl", "wi", "bu", "si", "area"})
"""FHIR location-physical-type: bed, room, ward, level, wing, building, site, area."""


def patient_ident(patient: Json) -> Ident:
    """Return the patient's number: type MR, then the first identifier in use; its system is the authority."""
    listed = [i for i in objects_of(patient, "identifier") if text_of(i, "value")]
    usable = [i for i in listed if text_of(i, "use") != "old" and not text_of(object_of(i, "period"), "end")] or listed
    for kind in ("MR", "PI"):
        for identifier in usable:
            if kind in codes_of(object_of(identifier, "type")):
                return Ident(text_of(identifier, "value"), text_of(identifier, "system"))
    for identifier in usable[:1]:
        return Ident(text_of(identifier, "value"), text_of(identifier, "system"))
    return Ident()


def put_patient(request: Request, patient: Json) -> None:
    """Set the patient's columns of a request."""
    name = _name(patient)
    request.put("family_name", text_of(name, "family"), "Patient.name")
    request.put("given_name", " ".join(texts_of(name, "given")), "Patient.name")
    if not text_of(name, "family"):
        request.put("patient_name", text_of(name, "text"), "Patient.name")
    request.put("birth_date", text_of(patient, "birthDate")[:10], "Patient.birthDate")
    request.put("sex", text_of(patient, "gender"), "Patient.gender")
    if is_true(patient, "deceasedBoolean") or has_any(patient, "deceasedDateTime"):
        request.set_aside(Reason.PATIENT_GONE, "the patient has died (Patient.deceased)")
    if patient.get("active") is False or any(text_of(x, "type") == "replaced-by" for x in objects_of(patient, "link")):
        detail = (
            "the patient's record is out of use or replaced by another (Patient.active, Patient.link); ask whose it is"
        )
        request.set_aside(Reason.IDENTITY_CONFLICT, detail)
    if has_any(patient, "modifierExtension"):
        detail = "an extension that is not known here may change what the patient's record says; ask the sender"
        request.set_aside(Reason.UNREADABLE, detail)


def _name(patient: Json) -> Json:
    """Return the official name, then the usual one, then the first; names of the past only where there is no other."""
    names = objects_of(patient, "name")
    current = [n for n in names if not text_of(object_of(n, "period"), "end") and text_of(n, "use") != "old"] or names
    for use in ("official", "usual"):
        for name in current:
            if text_of(name, "use") == use and (text_of(name, "family") or text_of(name, "text")):
                return name
    return current[0] if current else {}


def put_place(request: Request, encounter: Json, kept: Kept, store: Store) -> None:
    """Set the bedside from the encounter's present location, and set a request aside when the stay is over."""
    status = text_of(encounter, "status").lower()
    if status in _GONE:
        request.set_aside(Reason.PATIENT_GONE, f"the stay is over (Encounter.status = {status})")
    _report_class(encounter, kept, store)
    chosen = _present(objects_of(encounter, "location"))
    if not chosen:
        return
    target = store.follow(object_of(chosen, "location"), encounter)
    if target.is_missing and not target.display:
        message = "the encounter names a location that is not in the file; the bed is not known. Send it along"
        source = kept.source("Encounter.location")
        store.report.add("reference-missing", Severity.WARNING, message, source=source)
    elif not target.resource:
        request.place = Bedside(text=target.display)
        message = "the bed is known by its words alone; they are shown as they stand"
        store.report.add("place-by-text", Severity.NOTE, message, source=kept.source("Encounter.location"))
    else:
        request.place = bedside_of(target.resource, store)
        if "I" in codes_of(target.resource.get("operationalStatus")):
            request.put("alerts", "the bed is marked as isolated", "Location.operationalStatus")


def _report_class(encounter: Json, kept: Kept, store: Store) -> None:
    """Say where the patient may not lie in the bed: a stay that is planned, or one that is none of a ward's."""
    status, kinds = text_of(encounter, "status").lower(), codes_of(encounter.get("class"))
    for item in objects_of(encounter, "class"):
        kinds |= codes_of(item)
    if status == "planned":
        message = "the stay is only planned (Encounter.status), so the patient may not be there yet. Ask the ward"
        store.report.add("visit-class", Severity.WARNING, message, source=kept.source("Encounter.status"))
    elif kinds & _NOT_STAYING:
        shown = ", ".join(sorted(kinds & _NOT_STAYING))
        message = f"the stay is none of a ward's (Encounter.class = {shown}); planned at the bed named. Ask the ward"
        store.report.add("visit-class", Severity.WARNING, message, source=kept.source("Encounter.class"))


def _present(locations: list[Json]) -> Json:
    """Return where the patient is: no end of the period and active, else no end, else the latest start."""
    open_ones = [loc for loc in locations if not text_of(object_of(loc, "period"), "end")]
    there = [loc for loc in open_ones if text_of(loc, "status") not in ("planned", "reserved", "completed")]
    choices = there or [loc for loc in open_ones if text_of(loc, "status") != "planned"] or locations
    return max(choices, key=lambda loc: text_of(object_of(loc, "period"), "start"), default={})


def bedside_of(location: Json, store: Store) -> Bedside:
    """Return ward, room and bed by walking partOf outwards; a loop ends the walk."""
    ward = room = bed = ""
    seen: set[int] = set()
    while location and id(location) not in seen:
        seen.add(id(location))
        name = text_of(location, "name") or next(iter(texts_of(location, "alias")), "")
        name = name or text_of(object_of(location, "identifier"), "value")
        codes = codes_of(location.get("physicalType")) | codes_of(location.get("form"))
        if codes & _BED_CODES:
            bed = bed or name
        elif codes & _ROOM_CODES:
            room = room or name
        elif codes & _WARD_CODES:
            ward = ward or name
        elif not bed and not room and len(seen) == 1:
            bed = name
        else:
            ward = ward or name
        location = store.follow(object_of(location, "partOf"), location).resource
    return Bedside(ward, room, bed)


@dataclass(slots=True)
class Flags:
    """What the flags on one patient say: precautions by their terms, and everything else in words."""

    precautions: list[str] = field(default_factory=list)
    alerts: list[str] = field(default_factory=list)


def flags(store: Store) -> dict[int, Flags]:
    """Return the active flags of each patient, by the identity of the Patient resource.

    A flag that as a whole is a term of the list of precautions is one; any other is shown and not interpreted.
    """
    found: dict[int, Flags] = {}
    for kept in store.of("Flag"):
        patient = store.follow(object_of(kept.resource, "subject"), kept.resource).resource
        text = words_of(object_of(kept.resource, "code"))
        is_over = text_of(object_of(kept.resource, "period"), "end") != ""
        if not patient or not text or is_over or text_of(kept.resource, "status").lower() not in ("active", ""):
            continue
        own = found.setdefault(id(patient), Flags())
        if is_precaution(text):
            own.precautions.append(text)
            message = "a flag on the patient names a precaution; it was taken. Look at the sign on the door"
            store.report.add("precaution-by-flag", Severity.NOTE, message, source=kept.source("Flag.code"))
            continue
        own.alerts.append(f"flag: {text[:_MAX_TEXT]}")
        if speaks_of_precautions(text):
            store.report.add("precaution-in-text", Severity.WARNING, SHOWN, source=kept.source("Flag.code"))
    return found


def allergies(store: Store) -> dict[int, list[str]]:
    """Return the allergies of each patient, by the identity of the Patient resource, in words."""
    found: dict[int, list[str]] = {}
    for kept in store.of("AllergyIntolerance"):
        patient = store.follow(object_of(kept.resource, "patient"), kept.resource).resource
        text = words_of(concept(object_of(kept.resource, "code")))
        status = codes_of(object_of(kept.resource, "clinicalStatus"))
        if patient and text and not status & {"resolved", "inactive"}:
            found.setdefault(id(patient), []).append(f"allergy: {text}")
    return found
