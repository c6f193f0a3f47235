"""Who and where: PID, PV1, AL1 and patient notes to the patient's columns and the parts of the bedside."""

from __future__ import annotations

from planner.domain.plan import Reason
from planner.findings import Severity
from planner.loaders.messages.common.precautions import SHOWN, speaks_of_precautions
from planner.loaders.messages.common.request import Bedside, Ident, Request
from planner.loaders.messages.hl7.codes import (
    AMBULATORY,
    AMBULATORY_SILENT,
    AMBULATORY_TO_HEED,
    VISIT_CLASSES,
    WEIGHT_LOINCS,
)
from planner.loaders.messages.hl7.context import Context
from planner.loaders.messages.hl7.fasting import words_of
from planner.loaders.messages.hl7.grouping import Group
from planner.loaders.messages.hl7.segments import Segment
from planner.loaders.messages.hl7.times import birth_day

_ID_TYPES = ("MR", "PI")
"""HL7 table 0203: the medical record number first, then the patient's internal identifier."""
_MAX_TEXT = 200


def patient_ident(patient: Segment | None) -> tuple[Ident, str]:
    """Return the patient's identifier and its field: PID-3 by type MR, PI or the first; else PID-2, PID-4."""
    if patient is None:
        return Ident(), "PID-3"
    listed = [(patient.part(r), patient.part(r, 4), patient.part(r, 5).upper()) for r in patient.repetitions(3)]
    for wanted in _ID_TYPES:
        for number, authority, kind in listed:
            if number and kind == wanted:
                return Ident(number, authority), "PID-3"
    for field in (3, 2, 4):
        for repetition in patient.repetitions(field):
            if number := patient.part(repetition):
                return Ident(number, patient.part(repetition, 4)), f"PID-{field}"
    return Ident(), "PID-3"


def put_patient(request: Request, group: Group, context: Context) -> None:
    """Set the patient's columns of a request, and set it aside for a patient who has died or left."""
    shared = (group.allergies, group.patient_notes, group.patient_observations)
    key = (id(group.patient), id(group.visit), *map(len, shared))
    person = context.people.get(key)
    if person is None:
        person = context.people[key] = _person(request, group, context)
    request.patient = person.patient
    request.take_from(person)
    _report_visit(request, group, context)
    if not (group.patient_observations or group.observations):
        return
    for observation in (*group.patient_observations, *group.observations):
        if observation.text(3) in WEIGHT_LOINCS and observation.text(5):
            value = f"{observation.text(5)} {observation.text(6)}".strip()
            request.put("weight_kg", value, "OBX-5")


def _person(request: Request, group: Group, context: Context) -> Request:
    """Return what holds for all requests of a patient in one message, as a request that has nothing else."""
    ident, heading = patient_ident(group.patient)
    person = Request(number=request.number, patient=ident, source=request.source)
    person.headings["patient_number"] = heading
    if group.patient is not None:
        _put_person(person, group.patient)
    alerts = [f"allergy: {text}" for a in group.allergies if (text := a.text(3, 2) or a.text(3))]
    alerts += [text for note in group.patient_notes if (text := note.words(3)[:_MAX_TEXT])]
    alerts += [text[:_MAX_TEXT] for observation in group.patient_observations if (text := words_of(observation))]
    states = _ambulatory(group.visit)
    alerts += [text for _, text in states]
    heading = "AL1-3" if group.allergies else "NTE-3" if group.patient_notes else "PV1-15" if states else "OBX-5"
    person.put("alerts", "; ".join(dict.fromkeys(alerts)), heading)
    if any(map(speaks_of_precautions, alerts)):
        context.add("precaution-in-text", Severity.WARNING, SHOWN, group.patient, heading, [request.number.number])
    person.headings["bed"] = person.headings["ward"] = "PV1-3"
    if group.visit is not None:
        _put_visit(person, group.visit)
    return person


def _ambulatory(visit: Segment | None) -> list[tuple[str, str]]:
    """Return the codes of PV1-15 (HL7 table 0009) that tell anything, each with its words for the sheet."""
    if visit is None:
        return []
    found = []
    for repetition in visit.repetitions(15):
        code = visit.part(repetition).upper()
        if code and code not in AMBULATORY_SILENT:
            found.append((code, f"ambulatory status {code[:20]}: {AMBULATORY.get(code, 'no code of HL7 table 0009')}"))
    return found


def _report_visit(request: Request, group: Group, context: Context) -> None:
    """Say what of PV1 and PV2 a person should know who is sent to the bed for an order."""
    visit, ids = group.visit, [request.number.number]
    if visit is None or request.fault is not None:
        return
    kind = visit.text(2).upper()
    if kind in VISIT_CLASSES:
        message = f"the visit is that of {VISIT_CLASSES[kind]} (PV1-2 = {kind}); planned at the bed named. Ask the ward"
        context.add("visit-class", Severity.WARNING, message, visit, "PV1-2", ids)
    if group.is_to_move:
        message = "the patient is to move (PV2-1); the orders are planned at the present bed. Ask the ward"
        context.add("visit-class", Severity.WARNING, message, visit, "PV2-1", ids)
    if len(visit.fields) <= 15:
        return
    to_heed = [text for code, text in _ambulatory(visit) if code in AMBULATORY_TO_HEED or code not in AMBULATORY]
    if to_heed:
        message = f"{'; '.join(to_heed)}; it is shown as an alert and nothing was planned differently. Look at it"
        context.add("ambulatory-status", Severity.WARNING, message, visit, "PV1-15", ids)


def _put_person(request: Request, patient: Segment) -> None:
    names = [r for r in patient.repetitions(5) if patient.part(r)]
    legal = [r for r in names if patient.part(r, 7).upper() == "L"] if len(names) > 1 else names
    if chosen := (legal or names)[:1]:
        request.put("family_name", patient.part(chosen[0]), "PID-5")
        request.put("given_name", patient.part(chosen[0], 2), "PID-5")
    request.put("birth_date", birth_day(patient.text(7)), "PID-7")
    request.put("sex", patient.text(8), "PID-8")
    if patient.text(30).upper() in ("Y", "YES"):
        request.set_aside(Reason.PATIENT_GONE, "the message says that the patient has died (PID-30)")


def _put_visit(request: Request, visit: Segment) -> None:
    """Set the place: the temporary one (PV1-11) wins while it is filled."""
    request.place = _bedside(visit, 3)
    if visit.has(11) and (temporary := _bedside(visit, 11)) != Bedside():
        request.place = temporary
        request.headings["bed"] = request.headings["ward"] = "PV1-11"
    if visit.has(45):
        request.set_aside(Reason.PATIENT_GONE, "the message says that the patient is discharged (PV1-45)")


def _bedside(visit: Segment, number: int) -> Bedside:
    """Return the parts of a place: PL.1 point of care, PL.2 room, PL.3 bed; PL.9 in words where all are empty."""
    ward, room, bed = (visit.text(number, part) for part in (1, 2, 3))
    text = visit.text(number, 9) if not (ward or room or bed) else ""
    return Bedside(ward, room, bed, text)
