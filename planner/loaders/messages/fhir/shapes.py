"""The JSON types of the elements that are read: one of another type must not pass for one that is not there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import Enum, auto
from typing import Any

from planner.loaders.messages.fhir.json_text import Json


class Form(Enum):
    """What an element may be; a slip of senders that leaves nothing open is tolerated."""

    TEXT = auto()
    TEXTS = auto()
    """A list of texts, or one."""
    FLAG = auto()
    """true or false, also as texts."""
    OBJECT = auto()
    """An object, or a list that begins with one."""
    OBJECTS = auto()
    """A list of objects, or one."""


SHAPES: Mapping[str, Mapping[str, Form]] = {
    "ServiceRequest": {
        **dict.fromkeys(("status", "intent", "priority", "occurrenceDateTime", "authoredOn"), Form.TEXT),
        **dict.fromkeys(("occurrencePeriod.start", "occurrencePeriod.end"), Form.TEXT),
        **dict.fromkeys(("occurrenceTiming.repeat.periodUnit", "subject.reference", "encounter.reference"), Form.TEXT),
        **dict.fromkeys(
            ("occurrenceTiming.repeat.boundsPeriod.start", "occurrenceTiming.repeat.boundsPeriod.end"), Form.TEXT
        ),
        **dict.fromkeys(("occurrenceTiming.event", "occurrenceTiming.repeat.when"), Form.TEXTS),
        "asNeededBoolean": Form.FLAG,
        **dict.fromkeys(
            ("code", "subject", "encounter", "requisition", "performerType", "quantityQuantity"), Form.OBJECT
        ),
        **dict.fromkeys(("occurrencePeriod", "occurrenceTiming", "occurrenceTiming.repeat"), Form.OBJECT),
        **dict.fromkeys(
            ("occurrenceTiming.repeat.boundsPeriod", "occurrenceTiming.repeat.boundsDuration"), Form.OBJECT
        ),
        **dict.fromkeys(("identifier", "category", "specimen", "performer", "replaces", "basedOn"), Form.OBJECTS),
        **dict.fromkeys(("note", "orderDetail", "location", "locationReference", "locationCode"), Form.OBJECTS),
        **dict.fromkeys(("supportingInfo", "contained", "code.coding"), Form.OBJECTS),
    },
    "Patient": {
        **dict.fromkeys(("birthDate", "gender", "deceasedDateTime"), Form.TEXT),
        "deceasedBoolean": Form.FLAG,
        **dict.fromkeys(("identifier", "name"), Form.OBJECTS),
    },
    "Encounter": {
        "status": Form.TEXT,
        "subject": Form.OBJECT,
        "location": Form.OBJECTS,
        "location.location": Form.OBJECT,
    },
    "Location": {"name": Form.TEXT, "physicalType": Form.OBJECT, "partOf": Form.OBJECT},
    "Flag": {"status": Form.TEXT, "code": Form.OBJECT, "subject": Form.OBJECT, "period": Form.OBJECT},
    "AllergyIntolerance": dict.fromkeys(("code", "patient", "clinicalStatus"), Form.OBJECT),
    "Specimen": {
        **dict.fromkeys(("status", "receivedTime"), Form.TEXT),
        **dict.fromkeys(("type", "collection"), Form.OBJECT),
        "request": Form.OBJECTS,
    },
    "Observation": {**dict.fromkeys(("code", "subject", "valueQuantity"), Form.OBJECT), "valueBoolean": Form.FLAG},
}
"""By resource type and path, as FHIR R4 defines them; elements whose reader refuses other types itself are left out."""

_OCCURRENCES = frozenset({"occurrenceDateTime", "occurrencePeriod", "occurrenceTiming"})


def misshapen(resource: Json) -> list[str]:
    """Return the paths of elements that have another JSON type than theirs, or are a time of a kind that is none."""
    kind = resource.get("resourceType")
    shapes = SHAPES.get(kind, {}) if isinstance(kind, str) else {}
    found = [path for path, form in shapes.items() if any(not _fits(value, form) for value in _at(resource, path))]
    if kind == "ServiceRequest":
        found += sorted(name for name in resource if name.startswith("occurrence") and name not in _OCCURRENCES)
    return found


def _at(value: Any, path: str) -> Iterator[Any]:
    """Yield what stands at a path, in every object of the lists on the way; nothing where it is absent or null."""
    name, _, rest = path.partition(".")
    for item in value if isinstance(value, list) else (value,):
        if isinstance(item, dict) and (found := item.get(name)) is not None:
            if rest:
                yield from _at(found, rest)
            else:
                yield found


def _fits(value: Any, form: Form) -> bool:
    if form is Form.TEXT:
        return isinstance(value, str)
    if form is Form.FLAG:
        return isinstance(value, bool) or (isinstance(value, str) and value.strip().lower() in ("true", "false"))
    items = value if isinstance(value, list) else [value]
    if form is Form.OBJECT:
        return bool(items) and isinstance(items[0], dict)
    wanted: type = str if form is Form.TEXTS else dict
    return all(isinstance(item, wanted) for item in items)
