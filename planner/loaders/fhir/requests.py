"""ServiceRequests to requests: status and intent, relations, who draws, specimens, fasting and notes."""

from __future__ import annotations

from planner.domain.plan import Reason
from planner.findings import Severity
from planner.loaders.fhir.documents import Json, twice
from planner.loaders.fhir.people import bedside_of, patient_ident, put_patient, put_place
from planner.loaders.fhir.specimens import Specimens
from planner.loaders.fhir.store import Kept, Store, display_of
from planner.loaders.fhir.timing import timings_of
from planner.loaders.fhir.values import (
    LOINC,
    codes_of,
    codings,
    concept,
    is_true,
    object_of,
    objects_of,
    parse_time,
    text_of,
    texts_of,
    words_of,
)
from planner.loaders.fields import word
from planner.loaders.hl7.codes import FASTING_LOINC, LOINC_MODALITIES, OTHER_SECTIONS, WEIGHT_LOINCS, YES_NO
from planner.loaders.messages.request import Bedside, Fault, Ident, Request
from planner.loaders.messages.texts import joined, speaks_of_fasting
from planner.loaders.words import PERFORMERS

STATUS: dict[str, Fault] = {
    "draft": (Reason.NOT_AN_ORDER, "the request is a draft, not signed (status = draft)"),
    "on-hold": (Reason.ON_HOLD, "the order is on hold (status = on-hold); release it if it is to be drawn"),
    "revoked": (Reason.CANCELLED, "the order is cancelled (status = revoked)"),
    "entered-in-error": (Reason.CANCELLED, "the order was entered in error (status = entered-in-error)"),
    "completed": (Reason.ALREADY_DRAWN, "the order is completed (status = completed)"),
}
"""FHIR request-status without active; unknown and whatever is not a code needs a decision."""
PLANNED_INTENTS = frozenset({"order", "original-order", "instance-order", "filler-order"})
INTENT: dict[str, Fault] = {
    "reflex-order": (Reason.ADD_ON, "made by the laboratory itself after another result (intent = reflex-order)"),
    "proposal": (Reason.NOT_AN_ORDER, "a proposal, no order (intent = proposal)"),
    "plan": (Reason.NOT_AN_ORDER, "a plan, no order (intent = plan)"),
    "directive": (Reason.NOT_AN_ORDER, "a directive, no order (intent = directive)"),
    "option": (Reason.NOT_AN_ORDER, "an option, no order (intent = option)"),
}
"""FHIR request-intent: reflex orders are add-ons, the rest asks for no draw."""
PRIORITIES = frozenset({"routine", "urgent", "asap", "stat"})
"""FHIR request-priority."""
_OTHER_CATEGORIES = {
    "363679005": "imaging", "409063005": "counselling", "409073007": "education", "387713003": "surgery",
    "103693007": "a diagnostic procedure", "46947000": "chiropractic", "410606002": "social services",
}  # fmt: skip
"""SNOMED CT categories of service requests that are not a laboratory's."""
_LAB_CATEGORIES = frozenset({"108252007", "LAB", "laboratory"})


class RequestReader:
    """Reads ServiceRequests one by one, with all resources at hand."""

    def __init__(self, store: Store, specimens: Specimens, allergies: dict[int, list[str]]) -> None:
        self.store = store
        self.specimens = specimens
        self._allergies = allergies
        self._encounters = self._current_encounters()
        self._weights = self._patient_weights()
        self._people: dict[int, Request] = {}
        self._stays: dict[int, Request] = {}

    def read(self, kept: Kept) -> Request:
        """Return the request of a ServiceRequest."""
        resource = kept.resource
        number, heading = _number(resource, kept)
        subject = self.store.follow(object_of(resource, "subject"), resource)
        request = Request(number=number, patient=Ident(), source=kept.source(heading))
        request.headings.update(
            order_number=heading,
            patient_number="subject",
            test="code",
            bed="Encounter.location",
            ward="Encounter.location",
        )
        self._judge_itself(request, resource, kept)
        self._judge_performer(request, resource)
        self._judge_specimens(request, kept)
        self._put_subject(request, subject.resource, subject.identifier, kept)
        self._put_encounter(request, resource, subject.resource, kept)
        _read_test(request, resource)
        _put_priority(request, resource)
        request.timings = timings_of(resource)
        request.ordered = parse_time(text_of(resource, "authoredOn"), "authoredOn")
        request.group = text_of(object_of(resource, "requisition"), "value")
        self._put_fasting_and_notes(request, resource, kept)
        return request

    def _person(self, patient: Json, kept: Kept) -> Request:
        """Return what holds for all requests of a patient, read once."""
        person = self._people.get(id(patient))
        if person is None:
            person = Request(Ident(), patient_ident(patient), kept.source("subject"))
            put_patient(person, patient, kept, self.store)
            self._people[id(patient)] = person
        return person

    def _stay(self, encounter: Json, kept: Kept) -> Request:
        """Return what holds for all requests of a stay, read once."""
        stay = self._stays.get(id(encounter))
        if stay is None:
            stay = Request(Ident(), Ident(), kept.source("encounter"))
            put_place(stay, encounter, kept, self.store)
            self._stays[id(encounter)] = stay
        return stay

    def _judge_specimens(self, request: Request, kept: Kept) -> None:
        if fault := self.specimens.fault(kept):
            request.set_aside(*fault)
        elif words := self.specimens.unknown_kind(kept):
            request.put("specimen", words, "specimen")

    def _judge_itself(self, request: Request, resource: Json, kept: Kept) -> None:
        if names := twice(resource):
            message = f"an element stands twice ({', '.join(names)[:80]}), so what is meant is open. Have it sent again"
            ids = [request.number.number]
            self.store.report.add("duplicate-key", Severity.ERROR, message, source=kept.source(names[0]), order_ids=ids)
            request.set_aside(Reason.UNREADABLE, message)
        if is_true(resource, "doNotPerform"):
            request.set_aside(Reason.NOT_AN_ORDER, "it says that something must not be done (doNotPerform)")
        if kept.is_deleted:
            request.set_aside(Reason.CANCELLED, "the request was deleted (Bundle.entry.request)")
        status, intent = text_of(resource, "status").lower(), text_of(resource, "intent").lower()
        if status in STATUS:
            request.set_aside(*STATUS[status])
        elif status != "active":
            self._unknown_code(request, kept, "status", status)
        if intent in INTENT:
            request.set_aside(*INTENT[intent])
        elif intent not in PLANNED_INTENTS:
            self._unknown_code(request, kept, "intent", intent)
        if kind := _other_kind(resource):
            request.set_aside(Reason.NOT_LABORATORY, f"no order of the laboratory: {kind}")

    def _unknown_code(self, request: Request, kept: Kept, name: str, code: str) -> None:
        shown = repr(code[:30]) if code else "nothing"
        message = (
            f"{name} is {shown}, from which nobody can tell whether this is an order; it is set aside. Ask the sender"
        )
        ids = [request.number.number]
        self.store.report.add("request-state-unknown", Severity.ERROR, message, source=kept.source(name), order_ids=ids)
        request.set_aside(Reason.UNREADABLE, message)

    def _put_subject(self, request: Request, patient: Json, identifier: Json, kept: Kept) -> None:
        ids = [request.number.number]
        kind = text_of(patient, "resourceType")
        if kind == "Patient":
            person = self._person(patient, kept)
            request.patient = person.patient
            request.take_from(person)
            if not request.patient.number:
                request.patient = Ident(text_of(patient, "id"), "resource id")
                message = "the patient has no identifier; the resource's own id stands in. Have the number sent along"
                self.store.report.add(
                    "reference-missing", Severity.WARNING, message, source=kept.source("subject"), order_ids=ids
                )
            if texts := self._allergies.get(id(patient)):
                request.put("alerts", "; ".join(texts), "AllergyIntolerance.code")
            request.put("weight_kg", self._weights.get(id(patient), ""), "Observation.valueQuantity")
        elif kind:
            request.set_aside(Reason.NOT_AN_ORDER, f"the request is about a {kind[:30]}, not about a patient")
        elif number := text_of(identifier, "value"):
            request.patient = Ident(number, text_of(identifier, "system"))
        elif request.fault is None:
            message = "the patient of the request is not in the file; it is set aside. Have the Patient sent along"
            self.store.report.add(
                "reference-missing", Severity.ERROR, message, source=kept.source("subject"), order_ids=ids
            )
            request.set_aside(Reason.UNKNOWN_PATIENT, message)

    def _put_encounter(self, request: Request, resource: Json, patient: Json, kept: Kept) -> None:
        target = self.store.follow(object_of(resource, "encounter"), resource)
        encounter = target.resource
        if not encounter and patient:
            open_stays = self._encounters.get(id(patient), [])
            encounter = open_stays[0] if len(open_stays) == 1 else {}
        if target.is_missing and not encounter and request.fault is None:
            message = "the encounter of the request is not in the file, so the bed is not known. Have it sent along"
            ids = [request.number.number]
            self.store.report.add(
                "reference-missing", Severity.WARNING, message, source=kept.source("encounter"), order_ids=ids
            )
        if encounter:
            request.take_from(self._stay(encounter, kept))
        if not request.place.is_bed:
            for name in ("locationReference", "location"):
                for place in self.store.all_of(resource, name):
                    if place.resource and (bedside := bedside_of(place.resource, self.store)) != Bedside():
                        request.place = bedside
                        request.headings["bed"] = name

    def _judge_performer(self, request: Request, resource: Json) -> None:
        """Look who draws: a performer type that is the ward's, or the patient, makes no visit of ours."""
        texts = [words_of(object_of(resource, "performerType")), *codes_of(object_of(resource, "performerType"))]
        for target in self.store.all_of(resource, "performer"):
            if text_of(target.resource, "resourceType") == "Patient":
                texts.append("patient")
            elif text_of(target.resource, "resourceType") == "PractitionerRole":
                texts += [words_of(role) for role in objects_of(target.resource, "code")]
        for text in texts:
            reason = PERFORMERS.get(word(text)) if text else None
            if reason is not None:
                request.set_aside(reason, f"somebody else draws it (performer: {text[:40]})")
        shown = texts[0] if texts and texts[0] and word(texts[0]) not in PERFORMERS else ""
        if shown and request.fault is None:
            request.put("performer", shown, "performerType")

    def _put_fasting_and_notes(self, request: Request, resource: Json, kept: Kept) -> None:
        stated = self.specimens.fasting(kept)
        texts = [("patientInstruction", text) for text in _instructions(resource, self.store)]
        texts += [("note", text_of(note, "text")) for note in objects_of(resource, "note")]
        texts += [("orderDetail", words_of(detail)) for detail in objects_of(resource, "orderDetail")]
        for target in self.store.all_of(resource, "supportingInfo"):
            if FASTING_LOINC in codes_of(target.resource.get("code")):
                value = _yes_no(target.resource)
                stated += [(value, "supportingInfo")] if value is not None else []
            elif text := display_of(target) if not target.resource else "":
                texts.append(("supportingInfo", text))
        texts = [(name, text) for name, text in texts if text]
        request.put("note", joined([text for _, text in texts]), texts[0][0] if texts else "note")
        ids = [request.number.number]
        if stated:
            fasting = any(value for value, _ in stated)
            request.put("fasting", "yes" if fasting else "no", stated[0][1])
            if len({value for value, _ in stated}) > 1:
                message = "one place asks for a fasting draw and another says that it need not be; planned as fasting"
                source = kept.source(stated[0][1])
                self.store.report.add("fasting-conflict", Severity.WARNING, message, source=source, order_ids=ids)
            return
        said = next((name for name, text in texts if speaks_of_fasting(text)), "")
        if said and request.fault is None:
            message = (
                "the free text speaks of fasting; it is shown on the sheet and was not taken as an instruction. Enter "
                "fasting as a code where it is meant"
            )
            source = kept.source(said)
            self.store.report.add("fasting-in-text", Severity.WARNING, message, source=source, order_ids=ids)

    def _current_encounters(self) -> dict[int, list[Json]]:
        """Return the open stays of each patient, by the identity of the Patient resource."""
        found: dict[int, list[Json]] = {}
        for kept in self.store.of("Encounter"):
            patient = self.store.follow(object_of(kept.resource, "subject"), kept.resource).resource
            if patient and text_of(kept.resource, "status").lower() in ("in-progress", "arrived", "triaged", "onleave"):
                found.setdefault(id(patient), []).append(kept.resource)
        return found

    def _patient_weights(self) -> dict[int, str]:
        found: dict[int, str] = {}
        for kept in self.store.of("Observation"):
            if codes_of(kept.resource.get("code")) & WEIGHT_LOINCS:
                patient = self.store.follow(object_of(kept.resource, "subject"), kept.resource).resource
                quantity = object_of(kept.resource, "valueQuantity")
                number, unit = quantity.get("value"), text_of(quantity, "code") or text_of(quantity, "unit")
                if patient and isinstance(number, int | float) and not isinstance(number, bool):
                    found[id(patient)] = f"{number:g} {unit}".strip()
        return found


def drop_replaced(pairs: list[tuple[Kept, Request]], store: Store) -> None:
    """Set aside requests that another replaces, and filler orders whose parent is planned itself."""
    by_resource = {id(kept.resource): request for kept, request in pairs}
    for kept, request in pairs:
        if request.fault is None or request.fault[0] is not Reason.UNREADABLE:
            for target in store.all_of(kept.resource, "replaces"):
                if target.resource and (old := by_resource.get(id(target.resource))) and old is not request:
                    old.fault = (Reason.REPLACED, f"replaced by {request.number.number}")
    for kept, request in pairs:
        if text_of(kept.resource, "intent").lower() != "filler-order":
            continue
        for target in store.all_of(kept.resource, "basedOn"):
            parent = by_resource.get(id(target.resource)) if target.resource else None
            if parent is not None and parent is not request and parent.fault is None:
                detail = f"the laboratory's copy (intent = filler-order) of order {parent.number.number}"
                request.set_aside(Reason.NOT_AN_ORDER, detail)


def _number(resource: Json, kept: Kept) -> tuple[Ident, str]:
    """Return the order's number: the placer's, then the filler's, then any identifier, then the resource's id."""
    listed = [i for i in objects_of(resource, "identifier") if text_of(i, "value")]
    for kind in ("PLAC", "FILL"):
        for identifier in listed:
            if kind in codes_of(object_of(identifier, "type")):
                return Ident(text_of(identifier, "value"), text_of(identifier, "system")), "identifier"
    if listed:
        return Ident(text_of(listed[0], "value"), text_of(listed[0], "system")), "identifier"
    own = text_of(resource, "id") or kept.label.split(",")[0].replace(" ", "-")
    return Ident(own, f"{kept.file} {kept.label}"), "id"


def _read_test(request: Request, resource: Json) -> None:
    code = concept(object_of(resource, "code"))
    own: list[str] = []
    loinc: list[str] = []
    for system, value, _ in codings(code):
        (loinc if system == LOINC else own).append(value)
    request.tests = tuple(dict.fromkeys([*own, *loinc]))
    request.test_words = words_of(code)


def _other_kind(resource: Json) -> str:
    """Return what kind of order it is, where it is none of the laboratory's."""
    categories = {code for item in objects_of(resource, "category") for code in codes_of(item)}
    if categories & _LAB_CATEGORIES:
        return ""
    for code in sorted(categories):
        if kind := _OTHER_CATEGORIES.get(code) or OTHER_SECTIONS.get(code.upper()):
            return kind
    for system, _, display in codings(concept(object_of(resource, "code"))):
        first = display.split(" ", 1)[0]
        if system == LOINC and first in LOINC_MODALITIES:
            return f"imaging, as the LOINC name says ({first})"
    return ""


def _put_priority(request: Request, resource: Json) -> None:
    request.put("priority", text_of(resource, "priority").lower(), "priority")


def _instructions(resource: Json, store: Store) -> list[str]:
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
