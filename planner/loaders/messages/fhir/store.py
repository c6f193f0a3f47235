"""All resources of a round's files, and what a reference among them leads to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from planner.findings import Report, Severity, Source
from planner.loaders.messages.fhir.documents import Document, Entry
from planner.loaders.messages.fhir.json_text import Json
from planner.loaders.messages.fhir.shapes import misshapen
from planner.loaders.messages.fhir.values import object_of, objects_of, text_of, words_of


@dataclass(slots=True)
class Kept:
    """A resource with its place: the file and what to call it."""

    resource: Json
    file: str
    label: str
    line: int | None = None
    is_deleted: bool = False

    def source(self, column: str = "") -> Source:
        """Return the place of an element."""
        return Source(file=self.file, sheet=self.label, row=self.line, column=column, is_message=True)


@dataclass(slots=True)
class Target:
    """What a reference leads to: a resource, or only the words or the identifier that stand in it."""

    resource: Json = field(default_factory=dict)
    display: str = ""
    identifier: Json = field(default_factory=dict)
    is_missing: bool = False
    """True when a resource is named that is not here."""


class Store:
    """Resources by type, and by every name under which a reference may ask for them."""

    def __init__(self, report: Report) -> None:
        self.report = report
        self._by_type: dict[str, list[Kept]] = {}
        self._by_name: dict[str, Kept] = {}
        self.has_twice = False
        """True when an object of a file has a name twice."""

    def add(self, document: Document) -> None:
        """Add the resources of a file; of several versions of one resource the newest counts."""
        is_history = document.bundle_type == "history"
        self.has_twice = self.has_twice or document.has_twice
        for entry in document.entries:
            if not entry.resource:
                self._delete(entry)
                continue
            kept = Kept(entry.resource, document.file, _label(entry), entry.line)
            self._report_shape(kept)
            kind, own_id = text_of(entry.resource, "resourceType"), text_of(entry.resource, "id")
            before = self._by_name.get(f"{kind}/{own_id}") if own_id else None
            if before is not None and not is_history and _numbers(before.resource) != _numbers(entry.resource):
                self._report_twice(kept, "both were read")
                self._by_type[kind].append(kept)
                continue
            if before is not None and not self._replaces(before, kept, is_history):
                continue
            if before is not None and before in self._by_type.get(kind, ()):
                self._by_type[kind].remove(before)
            self._by_type.setdefault(kind, []).append(kept)
            for name in _names(entry, kind, own_id):
                self._by_name[name] = kept
            kept.is_deleted = entry.method == "DELETE"

    def of(self, kind: str) -> list[Kept]:
        """Return the resources of a type in the order of the files."""
        return self._by_type.get(kind, [])

    def all(self) -> Iterator[Kept]:
        """Yield all resources, type by type."""
        for listed in self._by_type.values():
            yield from listed

    def kinds(self) -> Iterable[tuple[str, int]]:
        """Yield the types with the number of their resources."""
        return ((kind, len(kept)) for kind, kept in self._by_type.items())

    def follow(self, reference: Json, owner: Json) -> Target:
        """Return what a reference leads to: contained (#id), urn:uuid, Type/id, absolute URL; else its words."""
        name = text_of(reference, "reference")
        target = Target(display=text_of(reference, "display"), identifier=object_of(reference, "identifier"))
        if name.startswith("#"):
            for inner in objects_of(owner, "contained"):
                if text_of(inner, "id") == name[1:]:
                    target.resource = inner
        elif name:
            if found := self._by_name.get(_plain(name)) or self._by_name.get(_tail(name)):
                target.resource = found.resource
        elif target.identifier:
            kind = text_of(reference, "type")
            if found := self._by_name.get(f"{kind}|{_token(target.identifier)}"):
                target.resource = found.resource
        target.is_missing = bool(name) and not target.resource
        return target

    def all_of(self, owner: Json, name: str) -> Iterator[Target]:
        """Yield what the references of a list element lead to; R5 wraps some of them once more."""
        for reference in objects_of(owner, name):
            inner = reference.get("reference")
            yield self.follow(inner if isinstance(inner, dict) else reference, owner)

    def _report_shape(self, kept: Kept) -> None:
        """Say where a resource about a patient or a bed has elements of a wrong type; an order's are its own fault."""
        if kept.resource.get("resourceType") != "ServiceRequest" and (wrong := misshapen(kept.resource)):
            shown = ", ".join(wrong)[:120]
            message = f"{shown}: not of the JSON type that FHIR has there; it was not used. Have it sent again"
            self.report.add("element-type", Severity.ERROR, message, source=kept.source(wrong[0]))

    def _delete(self, entry: Entry) -> None:
        if found := self._by_name.get(_tail(entry.url)):
            found.is_deleted = True

    def _replaces(self, before: Kept, now: Kept, is_history: bool) -> bool:
        """Return whether a resource takes the place of one with the same id; differing ones are a warning."""
        if before.resource == now.resource:
            return False
        if not is_history:
            self._report_twice(now, "the newest counts")
        return _version(now.resource) >= _version(before.resource) if _version(now.resource) else not is_history

    def _report_twice(self, kept: Kept, outcome: str) -> None:
        message = f"the resource stands twice with different contents; {outcome}. Look at both"
        self.report.add("resource-twice", Severity.WARNING, message, source=kept.source())


def _numbers(resource: Json) -> list[str]:
    """Return the identifiers of a resource: with others it is another one, whatever its id says."""
    return sorted(_token(identifier) for identifier in objects_of(resource, "identifier"))


def _version(resource: Json) -> tuple[str, int]:
    meta = object_of(resource, "meta")
    version = text_of(meta, "versionId")
    updated = text_of(meta, "lastUpdated")
    return (updated, int(version) if version.isdecimal() and len(version) < 10 else 0)


def _label(entry: Entry) -> str:
    kind, own_id = text_of(entry.resource, "resourceType")[:40], text_of(entry.resource, "id")[:70]
    return f"{kind}/{own_id}" if own_id else f"entry {entry.position}, {kind}"


def _names(entry: Entry, kind: str, own_id: str) -> Iterator[str]:
    if entry.full_url:
        yield _plain(entry.full_url)
        if "/" in entry.full_url:
            yield _tail(entry.full_url)
    if own_id:
        yield f"{kind}/{own_id}"
    for identifier in objects_of(entry.resource, "identifier"):
        if text_of(identifier, "value"):
            yield f"{kind}|{_token(identifier)}"
            yield f"|{_token(identifier)}"


def _token(identifier: Json) -> str:
    return f"{text_of(identifier, 'system')}|{text_of(identifier, 'value')}"


def _plain(name: str) -> str:
    """Return a reference without the version it may ask for."""
    return name.split("/_history/", 1)[0]


def _tail(name: str) -> str:
    """Return Type/id at the end of a reference."""
    parts = _plain(name).rstrip("/").rsplit("/", 2)
    return "/".join(parts[-2:])


def display_of(target: Target) -> str:
    """Return what a reference says to a person."""
    return target.display or words_of(target.resource)
