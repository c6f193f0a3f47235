"""ServiceRequests to requests: status and intent, relations, who draws, specimens, fasting and notes."""

from __future__ import annotations

from planner.domain.plan import Reason, SetAside
from planner.findings import Severity
from planner.loaders.messages.common.request import Bedside, Ident, Quantity, Request
from planner.loaders.messages.fhir.json_text import Json
from planner.loaders.messages.fhir.notes import put_fasting_and_notes
from planner.loaders.messages.fhir.people import Flags, bedside_of, flags, patient_ident, put_patient, put_place
from planner.loaders.messages.fhir.specimens import Specimens
from planner.loaders.messages.fhir.states import judge_state
from planner.loaders.messages.fhir.store import Kept, Store
from planner.loaders.messages.fhir.timing import timings_of
from planner.loaders.messages.fhir.values import (
    LOINC,
    codes_of,
    codings,
    concept,
    has_any,
    object_of,
    objects_of,
    parse_time,
    text_of,
    words_of,
)
from planner.loaders.messages.hl7.codes import WEIGHT_LOINCS
from planner.loaders.values.fields import word
from planner.loaders.values.words import PERFORMERS

_NO_ORDERS = frozenset({Reason.UNREADABLE, Reason.NOT_AN_ORDER})
"""A request set aside for one of these takes no other's place."""


class RequestReader:
    """Reads ServiceRequests one by one, with all resources at hand."""

    def __init__(self, store: Store, specimens: Specimens, allergies: dict[int, list[str]]) -> None:
        self.store = store
        self.specimens = specimens
        self._allergies = allergies
        self._flags = flags(store)
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
        if heading == "id" and not text_of(resource, "id"):
            message = "the order has no number; it is identified by its place in the file. Give every order its number"
            ids = [number.number]
            self.store.report.add("number-missing", Severity.WARNING, message, source=kept.source(), order_ids=ids)
        judge_state(request, kept, self.store)
        self._judge_performer(request, resource)
        self._judge_specimens(request, kept)
        self._put_subject(request, subject.resource, subject.identifier, kept)
        self._put_encounter(request, resource, subject.resource, kept)
        _read_test(request, resource)
        _put_priority(request, resource)
        request.timings = timings_of(resource)
        request.quantity = _quantity(resource)
        request.ordered = parse_time(text_of(resource, "authoredOn"), "authoredOn")
        request.group = text_of(object_of(resource, "requisition"), "value")
        put_fasting_and_notes(request, kept, self.store, self.specimens)
        return request

    def _person(self, patient: Json, kept: Kept) -> Request:
        """Return what holds for all requests of a patient, read once."""
        person = self._people.get(id(patient))
        if person is None:
            person = Request(Ident(), patient_ident(patient), kept.source("subject"))
            put_patient(person, patient)
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
            own = self._flags.get(id(patient), Flags())
            texts = [*own.alerts, *self._allergies.get(id(patient), ())]
            request.put("alerts", "; ".join(texts), "Flag.code" if own.alerts else "AllergyIntolerance.code")
            request.put("precautions", "; ".join(own.precautions), "Flag.code")
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
        if request.fault is None or request.fault.reason not in _NO_ORDERS:
            for target in store.all_of(kept.resource, "replaces"):
                if target.resource and (old := by_resource.get(id(target.resource))) and old is not request:
                    old.fault = SetAside(Reason.REPLACED, f"replaced by {request.number.number}")
    _report_rings(pairs, store)
    for kept, request in pairs:
        if text_of(kept.resource, "intent").lower() != "filler-order":
            continue
        for target in store.all_of(kept.resource, "basedOn"):
            parent = by_resource.get(id(target.resource)) if target.resource else None
            if parent is not None and parent is not request and parent.fault is None:
                detail = f"the laboratory's copy (intent = filler-order) of order {parent.number.number}"
                request.set_aside(Reason.NOT_AN_ORDER, detail)


def _report_rings(pairs: list[tuple[Kept, Request]], store: Store) -> None:
    """Find the requests that replace one another in a ring: nobody can tell which of them counts."""
    olds = {
        id(kept.resource): [id(t.resource) for t in store.all_of(kept.resource, "replaces") if t.resource]
        for kept, request in pairs
        if request.fault and request.fault.reason is Reason.REPLACED
    }
    for kept, request in pairs:
        start, seen = id(kept.resource), set()
        waiting = list(olds.get(start, ()))
        while waiting:
            if (other := waiting.pop()) not in seen:
                seen.add(other)
                waiting += olds.get(other, ())
        if start in seen and olds.get(start) != [start]:
            message = "requests replace one another in a ring, so nobody can tell which counts; ask the sender"
            ids = [request.number.number]
            store.report.add(
                "requests-in-a-ring", Severity.ERROR, message, source=kept.source("replaces"), order_ids=ids
            )
            request.fault = SetAside(Reason.UNREADABLE, message)


def _number(resource: Json, kept: Kept) -> tuple[Ident, str]:
    """Return the order's number: the placer's, then the filler's, then any identifier, then the resource's id."""
    listed = [i for i in objects_of(resource, "identifier") if text_of(i, "value")]
    typed = [(i, codes_of(i["type"])) for i in listed if isinstance(i.get("type"), dict)]
    for kind in ("PLAC", "FILL"):
        for identifier, kinds in typed:
            if kind in kinds:
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


def _quantity(resource: Json) -> Quantity:
    """Return how much is asked for (quantity[x]); a ratio or a range is no number of draws."""
    if has_any(resource, "quantityRatio", "quantityRange"):
        return Quantity("a ratio or range", "", "quantity")
    quantity = object_of(resource, "quantityQuantity")
    number = quantity.get("value")
    if not isinstance(number, int | float) or isinstance(number, bool):
        return Quantity()
    return Quantity(f"{number:g}", text_of(quantity, "code") or text_of(quantity, "unit"), "quantityQuantity")


def _put_priority(request: Request, resource: Json) -> None:
    request.put("priority", text_of(resource, "priority").lower(), "priority")
