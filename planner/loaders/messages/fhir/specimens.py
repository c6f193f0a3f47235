"""Specimens of requests: one that is collected or received makes no visit, one that is no blood neither."""

from __future__ import annotations

from planner.domain.plan import Reason, SetAside
from planner.loaders.messages.fhir.json_text import Json
from planner.loaders.messages.fhir.store import Kept, Store
from planner.loaders.messages.fhir.values import codes_of, codings, has_any, object_of, text_of, words_of
from planner.loaders.messages.hl7.codes import FASTING
from planner.loaders.messages.hl7.specimens import UNKNOWN, kind_fault

_USELESS = frozenset({"unsatisfactory", "entered-in-error", "unavailable"})
"""FHIR specimen-status of specimens from which nothing can be made: the draw is still to come."""


class Specimens:
    """The specimens of each request, found from both sides."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._by_request: dict[int, list[Json]] = {}
        for kept in store.of("Specimen"):
            for target in store.all_of(kept.resource, "request"):
                if target.resource:
                    self._by_request.setdefault(id(target.resource), []).append(kept.resource)

    def of(self, kept: Kept) -> list[Json]:
        """Return the usable specimens of a request."""
        if "specimen" not in kept.resource and id(kept.resource) not in self._by_request:
            return []
        named = [t.resource for t in self._store.all_of(kept.resource, "specimen") if t.resource]
        found = {id(s): s for s in (*named, *self._by_request.get(id(kept.resource), ()))}
        return [s for s in found.values() if text_of(s, "status") not in _USELESS]

    def fault(self, kept: Kept) -> SetAside | None:
        """Return why no specimen of the request is to be drawn; None when one is, or none is named."""
        faults = [_fault(specimen) for specimen in self.of(kept)]
        return faults[0] if faults and all(faults) else None

    def unknown_kind(self, kept: Kept) -> str:
        """Return the words of a specimen whose kind is not known."""
        for specimen in self.of(kept):
            if _fault(specimen) is None and _kind(specimen) == UNKNOWN:
                return words_of(specimen.get("type"))
        return ""

    def fasting(self, kept: Kept) -> list[tuple[bool, str]]:
        """Return what the specimens say about fasting, as codes (HL7 table 0916)."""
        found = []
        for specimen in self.of(kept):
            for code in codes_of(object_of(specimen, "collection").get("fastingStatusCodeableConcept")):
                if (value := FASTING.get(code)) is not None:
                    found.append((value, "Specimen.collection.fastingStatus"))
        return found

    def fasting_spans(self, kept: Kept) -> list[str]:
        """Return in words for how long the patient is to have fasted, where specimens state that."""
        found = []
        for specimen in self.of(kept):
            span = object_of(specimen, "collection", "fastingStatusDuration")
            unit = text_of(span, "unit") or text_of(span, "code")
            if isinstance(span.get("value"), int | float):
                found.append(f"fasting for {span['value']:g} {unit}".strip())
        return found


def _fault(specimen: Json) -> SetAside | None:
    found = _kind(specimen)
    if isinstance(found, SetAside):
        return SetAside(found.reason, f"{found.detail} (Specimen.type)")
    collection = object_of(specimen, "collection")
    if has_any(collection, "collectedDateTime", "collectedPeriod"):
        return SetAside(Reason.ALREADY_DRAWN, "the specimen was collected (Specimen.collection)")
    if has_any(specimen, "receivedTime"):
        return SetAside(Reason.ALREADY_DRAWN, "the specimen was received (Specimen.receivedTime)")
    return None


def _kind(specimen: Json) -> SetAside | str | None:
    """Return why a specimen is not for a phlebotomist, by the first code that is known."""
    kind = specimen.get("type")
    answers = [kind_fault(code, display, _table(system)) for system, code, display in codings(kind)]
    if not answers:
        return kind_fault("", words_of(kind), "") if words_of(kind) else None
    return next((a for a in answers if a != UNKNOWN), kind_fault("", words_of(kind), ""))


def _table(system: str) -> str:
    return "HL70487" if system.rstrip("/").endswith("v2-0487") else "SCT"
