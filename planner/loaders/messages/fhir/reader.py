"""Files of FHIR JSON to requests: all resources of all files are put together, then every request is read."""

from __future__ import annotations

from collections.abc import Iterable

from planner.domain.plan import Reason
from planner.findings import Report, Severity, Source
from planner.loaders.messages.common.request import Ident, Request
from planner.loaders.messages.fhir.documents import read_document
from planner.loaders.messages.fhir.kinds import KINDS, OLD_ORDERS, ORDERS, OTHER_ORDERS, USED, is_known, may_be_order
from planner.loaders.messages.fhir.people import allergies, patient_ident
from planner.loaders.messages.fhir.requests import RequestReader, drop_replaced
from planner.loaders.messages.fhir.specimens import Specimens
from planner.loaders.messages.fhir.store import Kept, Store
from planner.loaders.messages.fhir.values import concept, object_of, objects_of, text_of, words_of
from planner.loaders.messages.hl7.reader import Read


def read_fhir(files: Iterable[tuple[str, bytes]], report: Report) -> Read:
    """Return the requests of all files, each a name and its bytes."""
    read = Read()
    store = Store(report)
    has_files = False
    for name, data in files:
        has_files = True
        document = read_document(name, data, report)
        read.num_messages += len(document.entries)
        store.add(document)
    if not has_files:
        return read
    reader = RequestReader(store, Specimens(store), allergies(store))
    pairs = [(kept, reader.read(kept)) for kept in store.of("ServiceRequest")]
    drop_replaced(pairs, store)
    pairs += [(kept, _foreign(kept, store)) for kept in _other_orders(store)]
    pairs += _contained(store)
    read.requests = [request for _, request in pairs]
    _settle_twins(read.requests)
    read.num_mentions = len(read.requests)
    read.tally["orders"] = sum(r.fault is None for r in read.requests)
    read.tally["set aside"] = sum(r.fault is not None for r in read.requests)
    for request in read.requests:
        read.stamps += [s for t in request.timings for s in t.stamps]
        read.stamps += [request.ordered] if request.ordered else []
    _report_kinds(store, report)
    return read


def _other_orders(store: Store) -> list[Kept]:
    named = [kept for kind in (*OLD_ORDERS, *OTHER_ORDERS) for kept in store.of(kind)]
    return named + [kept for kept in store.all() if may_be_order(kept.resource)]


def _foreign(kept: Kept, store: Store) -> Request:
    """Return the request of a resource that is an order, but not one of the laboratory or not of this FHIR."""
    kind = text_of(kept.resource, "resourceType")
    identifier = object_of(kept.resource, "identifier")
    number = text_of(identifier, "value") or text_of(kept.resource, "id") or kept.label
    subject = store.follow(object_of(kept.resource, "subject"), kept.resource).resource
    ident = Ident(number, text_of(identifier, "system") or f"{kept.file} {kept.label}")
    request = Request(number=ident, patient=patient_ident(subject), source=kept.source())
    request.test_words = words_of(concept(object_of(kept.resource, "code")))
    if may_be_order(kept.resource):
        is_what = "states an intent, which none has in FHIR" if kind in KINDS else "is no type of resource in FHIR"
        message = f"{kind[:40]!r} {is_what}, so nobody can tell whether this is an order. Ask the sender"
        store.report.add("resource-unreadable", Severity.ERROR, message, source=kept.source(), order_ids=[number])
        request.set_aside(Reason.UNREADABLE, message)
    elif kind in OLD_ORDERS:
        message = f"{kind} is a resource of {OLD_ORDERS[kind]}, which is not read. Have it sent as ServiceRequest (R4)"
        store.report.add("old-release", Severity.ERROR, message, source=kept.source(), order_ids=[number])
        request.set_aside(Reason.UNREADABLE, message)
    else:
        request.set_aside(Reason.NOT_LABORATORY, f"no order of the laboratory: {OTHER_ORDERS[kind]}")
    return request


def _contained(store: Store) -> list[tuple[Kept, Request]]:
    """Return the orders that stand inside other resources (contained): they tell what that one is about."""
    found = []
    for kept in store.all():
        for inner in objects_of(kept.resource, "contained"):
            kind = text_of(inner, "resourceType")
            if kind not in ORDERS:
                continue
            label = f"{kept.label}#{text_of(inner, 'id')}"
            identifier = object_of(inner, "identifier")
            ident = Ident(text_of(identifier, "value") or label, text_of(identifier, "system") or kept.file)
            request = Request(number=ident, patient=Ident(), source=kept.source("contained"))
            request.test_words = words_of(concept(object_of(inner, "code")))
            message = (
                f"a {kind} stands inside another resource (contained), so it is no order of its own; it is set aside. "
                "Have it sent as a resource of its own if it is to be drawn"
            )
            ids, source = [ident.number], kept.source("contained")
            store.report.add("request-contained", Severity.WARNING, message, source=source, order_ids=ids)
            request.set_aside(Reason.NOT_AN_ORDER, message)
            found.append((kept, request))
    return found


def _settle_twins(requests: list[Request]) -> None:
    """Of two resources that state the same order in full, the second is a copy."""
    seen: dict[Ident, Request] = {}
    for request in requests:
        before = seen.setdefault(request.number, request)
        if before is request or before.fault is not None or request.fault is not None:
            continue
        same = (before.cells, before.tests, before.timings, before.patient) == (
            request.cells,
            request.tests,
            request.timings,
            request.patient,
        )
        if same:
            request.set_aside(Reason.REPLACED, "the same order stands in another resource, which is planned")


def _report_kinds(store: Store, report: Report) -> None:
    for kept in store.all():
        if not is_known(kept.resource) and not may_be_order(kept.resource):
            kind = text_of(kept.resource, "resourceType")
            message = f"{kind[:40]!r} is no type of resource in FHIR, so nobody can tell what this is. Ask the sender"
            report.add("resource-unreadable", Severity.ERROR, message, source=kept.source())
    unused = ", ".join(f"{n} {kind[:40]}" for kind, n in sorted(store.kinds()) if kind not in ORDERS | USED)
    if unused and any(store.of(kind) for kind in ORDERS):
        message = f"resources of kinds that are not used stand beside the orders: {unused}"
        if store.of("SpecimenDefinition"):
            message += ". Tubes and preparation come from the laboratory's catalogue, not from a SpecimenDefinition"
        report.add("resource-not-used", Severity.NOTE, message, source=Source(file="FHIR resources", is_message=True))
    others = ", ".join(f"{number} {kind[:40]}" for kind, number in sorted(store.kinds()) if kind not in ORDERS)
    if others and not any(store.of(kind) for kind in ORDERS):
        message = f"resources that carry no orders were read: {others}"
        report.add("message-not-orders", Severity.NOTE, message, source=Source(file="FHIR resources", is_message=True))
