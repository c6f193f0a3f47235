"""Whether a ServiceRequest is an order at all: status, intent, prohibition, category, and a sound form."""

from __future__ import annotations

from planner.domain.plan import Reason, SetAside
from planner.findings import Severity
from planner.loaders.messages.common.request import Request
from planner.loaders.messages.fhir.json_text import Json, twice
from planner.loaders.messages.fhir.shapes import misshapen
from planner.loaders.messages.fhir.store import Kept, Store
from planner.loaders.messages.fhir.values import (
    LOINC,
    codes_of,
    codings,
    concept,
    is_true,
    object_of,
    objects_of,
    text_of,
)
from planner.loaders.messages.hl7.codes import LOINC_MODALITIES, OTHER_SECTIONS

STATUS: dict[str, SetAside] = {
    "draft": SetAside(Reason.NOT_AN_ORDER, "the request is a draft, not signed (status = draft)"),
    "on-hold": SetAside(Reason.ON_HOLD, "the order is on hold (status = on-hold); release it if it is to be drawn"),
    "revoked": SetAside(Reason.CANCELLED, "the order is cancelled (status = revoked)"),
    "entered-in-error": SetAside(Reason.CANCELLED, "the order was entered in error (status = entered-in-error)"),
    "completed": SetAside(Reason.ALREADY_DRAWN, "the order is completed (status = completed)"),
}
"""FHIR request-status without active; unknown and whatever is not a code needs a decision."""
PLANNED_INTENTS = frozenset({"order", "original-order", "instance-order", "filler-order"})
INTENT: dict[str, SetAside] = {
    "reflex-order": SetAside(
        Reason.ADD_ON, "made by the laboratory itself after another result (intent = reflex-order)"
    ),
    "proposal": SetAside(Reason.NOT_AN_ORDER, "a proposal, no order (intent = proposal)"),
    "plan": SetAside(Reason.NOT_AN_ORDER, "a plan, no order (intent = plan)"),
    "directive": SetAside(Reason.NOT_AN_ORDER, "a directive, no order (intent = directive)"),
    "option": SetAside(Reason.NOT_AN_ORDER, "an option, no order (intent = option)"),
}
"""FHIR request-intent: reflex orders are add-ons, the rest asks for no draw."""
_OTHER_CATEGORIES = {
    "363679005": "imaging", "409063005": "counselling", "409073007": "education", "387713003": "surgery",
    "103693007": "a diagnostic procedure", "46947000": "chiropractic", "410606002": "social services",
}  # fmt: skip
"""SNOMED CT categories of service requests that are not a laboratory's."""
_LAB_CATEGORIES = frozenset({"108252007", "LAB", "laboratory"})


def judge_state(request: Request, kept: Kept, store: Store) -> None:
    """Set aside what is no order, or not one of the laboratory."""
    resource = kept.resource
    if store.has_twice and (names := twice(resource)):
        message = f"an element stands twice ({', '.join(names)[:80]}), so what is meant is open. Have it sent again"
        ids = [request.number.number]
        store.report.add("duplicate-key", Severity.ERROR, message, source=kept.source(names[0]), order_ids=ids)
        request.set_aside(Reason.UNREADABLE, message)
    if wrong := misshapen(resource):
        shown = ", ".join(wrong)[:120]
        message = f"{shown}: not of the JSON type that FHIR has there, so what is meant is open. Ask the sender"
        ids = [request.number.number]
        store.report.add("element-type", Severity.ERROR, message, source=kept.source(wrong[0]), order_ids=ids)
        request.set_aside(Reason.UNREADABLE, message)
    if extensions := objects_of(resource, "modifierExtension"):
        _unknown_code(request, kept, store, "modifierExtension", text_of(extensions[0], "url"))
    if is_true(resource, "doNotPerform"):
        request.set_aside(Reason.NOT_AN_ORDER, "it says that something must not be done (doNotPerform)")
    elif resource.get("doNotPerform") not in (None, False, "", "false"):
        _unknown_code(request, kept, store, "doNotPerform", str(resource["doNotPerform"]))
    if kept.is_deleted:
        request.set_aside(Reason.CANCELLED, "the request was deleted (Bundle.entry.request)")
    status, intent = text_of(resource, "status").lower(), text_of(resource, "intent").lower()
    if status in STATUS:
        request.set_aside(*STATUS[status])
    elif status != "active":
        _unknown_code(request, kept, store, "status", status)
    if intent in INTENT:
        request.set_aside(*INTENT[intent])
    elif intent not in PLANNED_INTENTS:
        _unknown_code(request, kept, store, "intent", intent)
    if kind := _other_kind(resource):
        request.set_aside(Reason.NOT_LABORATORY, f"no order of the laboratory: {kind}")


def _unknown_code(request: Request, kept: Kept, store: Store, name: str, code: str) -> None:
    shown = repr(code[:30]) if code else "nothing"
    message = f"{name} is {shown}, from which nobody can tell whether this is an order; it is set aside. Ask the sender"
    ids = [request.number.number]
    store.report.add("request-state-unknown", Severity.ERROR, message, source=kept.source(name), order_ids=ids)
    request.set_aside(Reason.UNREADABLE, message)


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
