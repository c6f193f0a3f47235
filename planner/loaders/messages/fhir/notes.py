"""Fasting from its coded places, and the free texts of a request, which are shown and never interpreted."""

from __future__ import annotations

from planner.findings import Severity
from planner.loaders.messages.common.precautions import SHOWN, speaks_of_precautions
from planner.loaders.messages.common.request import Request
from planner.loaders.messages.common.texts import joined, speaks_of_fasting
from planner.loaders.messages.fhir.json_text import Json
from planner.loaders.messages.fhir.specimens import Specimens
from planner.loaders.messages.fhir.store import Kept, Store, display_of
from planner.loaders.messages.fhir.values import codes_of, objects_of, text_of, texts_of, words_of
from planner.loaders.messages.hl7.codes import FASTING_LOINC, YES_NO


def put_fasting_and_notes(request: Request, kept: Kept, store: Store, specimens: Specimens) -> None:
    """Set the fasting column and the note."""
    resource = kept.resource
    stated = specimens.fasting(kept)
    texts = [("patientInstruction", text) for text in _instructions(resource)]
    texts += [("note", text_of(note, "text")) for note in objects_of(resource, "note")]
    texts += [("orderDetail", words_of(detail)) for detail in objects_of(resource, "orderDetail")]
    texts += [
        ("locationCode", f"place: {words}") for c in objects_of(resource, "locationCode") if (words := words_of(c))
    ]
    texts += [("Specimen.collection.fastingStatus", text) for text in specimens.fasting_spans(kept)]
    for target in store.all_of(resource, "supportingInfo"):
        if FASTING_LOINC in codes_of(target.resource.get("code")):
            value = _yes_no(target.resource)
            stated += [(value, "supportingInfo")] if value is not None else []
        elif text := display_of(target) if not target.resource else "":
            texts.append(("supportingInfo", text))
    texts = [(name, text) for name, text in texts if text]
    if texts:
        request.put("note", joined([text for _, text in texts]), texts[0][0])
    if not (stated or texts):
        return
    ids = [request.number.number]
    heading = next((name for name, text in texts if speaks_of_precautions(text)), "")
    if heading and request.fault is None:
        store.report.add("precaution-in-text", Severity.WARNING, SHOWN, source=kept.source(heading), order_ids=ids)
    if stated:
        fasting = any(value for value, _ in stated)
        request.put("fasting", "yes" if fasting else "no", stated[0][1])
        if len({value for value, _ in stated}) > 1:
            message = "one place asks for a fasting draw and another says that it need not be; planned as fasting"
            source = kept.source(stated[0][1])
            store.report.add("fasting-conflict", Severity.WARNING, message, source=source, order_ids=ids)
        return
    said = next((name for name, text in texts if speaks_of_fasting(text)), "")
    if said and request.fault is None:
        message = (
            "the free text speaks of fasting; it is shown on the sheet and was not taken as an instruction. Enter "
            "fasting as a code where it is meant"
        )
        source = kept.source(said)
        store.report.add("fasting-in-text", Severity.WARNING, message, source=source, order_ids=ids)


def _instructions(resource: Json) -> list[str]:
    """Return the patient instructions: text in R4, in R5 a list of markdown or of references."""
    texts = texts_of(resource, "patientInstruction")
    for item in objects_of(resource, "patientInstruction"):
        texts.append(text_of(item, "instructionMarkdown"))
    return texts


def _yes_no(observation: Json) -> bool | None:
    if isinstance(observation.get("valueBoolean"), bool):
        return bool(observation["valueBoolean"])
    for code in sorted(codes_of(observation.get("valueCodeableConcept"))):
        if (value := YES_NO.get(code.upper())) is not None:
            return value
    return None
