"""Bytes of a JSON file to resources: Bundle, single resource or one a line, and what a broken file still gives."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from planner.findings import Report, Severity, Source
from planner.loaders.messages.fhir.json_text import TOO_DEEP, Json, JsonReader

_RESOURCE = re.compile(r'"resource"\s*:\s*(?=\{)')
_FULL_URL = re.compile(r'"fullUrl"\s*:\s*"([^"\\]{1,500})"')
_LOOKS = 20
"""A damaged file is read through so many times at most: resources that begin inside others are read again."""
_TYPED = re.compile(r'\{\s*"resourceType"\s*:')


@dataclass(slots=True)
class Entry:
    """One resource as it stands in a file. ``method`` and ``url`` are those of a transaction's request."""

    resource: Json
    full_url: str = ""
    method: str = ""
    url: str = ""
    line: int | None = None
    position: str = ""
    """Which entry it is: '6', or '6 of Bundle 2' where a file has several Bundles or one inside another."""


@dataclass(slots=True)
class Document:
    """All entries of one file, and the type of its Bundle where it is one.

    ``has_twice`` is True when an object of the file has a name twice.
    """

    file: str
    entries: list[Entry] = field(default_factory=list)
    bundle_type: str = ""
    has_twice: bool = False
    num_bundles: int = 0


def read_document(file: str, data: bytes, report: Report) -> Document:
    """Return the resources of a file. Whatever cannot be read is a finding; the rest is kept."""
    document = Document(file)
    text = _decode(data, file, report)
    reader = JsonReader()
    value, problem = reader.whole(text)
    if problem and "\n" in text.strip() and _is_lines(text):
        _read_lines(document, text, reader, report)
    elif problem == TOO_DEEP:
        message = f"{problem}, which no data do; nothing of the file was read. Have it sent again"
        report.add("resource-unreadable", Severity.ERROR, message, source=Source(file=document.file))
    elif problem:
        _salvage(document, text, problem, reader, report)
    elif isinstance(value, list):
        for item in value:
            _add_resource(document, item, report)
    else:
        _add_resource(document, value, report)
    document.has_twice = reader.has_twice
    return document


def _decode(data: bytes, file: str, report: Report) -> str:
    for mark, codec in ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if data.startswith(mark):
            return data.decode(codec, errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        message = "some bytes are not UTF-8, as JSON must be; they show as �. Have the file written again"
        report.add("text-undecodable", Severity.WARNING, message, source=Source(file=file))
        return data.decode("utf-8-sig", errors="replace")


def _is_lines(text: str) -> bool:
    """Return whether every other line at least begins and ends as an object of its own does."""
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    whole = sum(line.startswith("{") and line.endswith("}") for line in lines)
    return whole > 1 and 2 * whole >= len(lines)


def _read_lines(document: Document, text: str, reader: JsonReader, report: Report) -> None:
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        value, problem = reader.whole(line.strip())
        if problem:
            message = f"the line is no JSON ({problem}); the others were read. Have it sent again"
            source = Source(file=document.file, row=number, is_message=True)
            report.add("resource-unreadable", Severity.ERROR, message, source=source)
        else:
            _add_resource(document, value, report, number)


def _salvage(document: Document, text: str, problem: str, reader: JsonReader, report: Report) -> None:
    """Read the resources of a file that is no JSON as a whole, each on its own."""
    found = lost = 0
    looked_at = 0
    for at, url in _starts(text):
        if looked_at > _LOOKS * len(text):
            lost += 1
            continue
        value, end = reader.object_at(text, at)
        looked_at += end - at
        if value is None:
            lost += 1
        else:
            found += 1
            document.entries.append(Entry(value, url, position=str(found)))
    rest = f"{found} resources were read one by one, {lost} could not be" if found or lost else "nothing was read"
    message = f"the file is no JSON ({problem}); {rest}. Have it sent again"
    report.add("resource-unreadable", Severity.ERROR, message, source=Source(file=document.file))


def _starts(text: str) -> Iterator[tuple[int, str]]:
    """Yield where resources begin, with the fullUrl before each: in a Bundle's entries, else at every type."""
    entries = list(_RESOURCE.finditer(text))
    if not entries:
        last = -1
        for match in _TYPED.finditer(text):
            if match.start() >= last:
                yield match.start(), ""
        return
    before = 0
    for match in entries:
        urls = _FULL_URL.findall(text[before : match.start()])
        before = match.end()
        yield match.end(), urls[-1] if urls else ""


def _add_resource(document: Document, value: object, report: Report, line: int | None = None) -> None:
    if not isinstance(value, dict) or not isinstance(value.get("resourceType"), str):
        message = "this is no FHIR resource: it does not say its resourceType. It was left alone"
        source = Source(file=document.file, row=line, is_message=True)
        report.add("resource-unreadable", Severity.ERROR, message, source=source)
        return
    if value["resourceType"] == "Bundle":
        _add_bundle(document, value, report)
    else:
        document.entries.append(Entry(value, line=line, position=str(len(document.entries) + 1)))


def _add_bundle(document: Document, bundle: Json, report: Report, is_inner: bool = False) -> None:
    outer, kind = document.bundle_type, bundle.get("type")
    document.bundle_type = kind if isinstance(kind, str) else ""
    document.num_bundles += 1
    of_bundle = f" of Bundle {document.num_bundles}" if document.num_bundles > 1 else ""
    _report_incomplete(document, bundle, report)
    entries = bundle.get("entry")
    for number, entry in enumerate(entries if isinstance(entries, list) else [entries] if entries else [], start=1):
        if not isinstance(entry, dict):
            source = Source(file=document.file, sheet=f"entry {number}{of_bundle}", is_message=True)
            report.add(
                "resource-unreadable", Severity.ERROR, "the entry is no object; the others were read", source=source
            )
            continue
        resource = entry.get("resource")
        if isinstance(resource, dict) and resource.get("resourceType") == "OperationOutcome":
            _report_outcome(document, resource, report)
        if not _is_outcome(entry):
            _add_entry(document, entry, f"{number}{of_bundle}", report)
    if is_inner:
        document.bundle_type = outer


def _report_outcome(document: Document, outcome: Json, report: Report) -> None:
    """Say that what a search found may not be all, where its outcome states an error."""
    issues = outcome.get("issue")
    found = [issue.get("severity") for issue in (issues if isinstance(issues, list) else []) if isinstance(issue, dict)]
    if "error" in found or "fatal" in found:
        message = "the sender states an error (OperationOutcome), so orders may be missing. Have the Bundle made again"
        report.add("bundle-incomplete", Severity.ERROR, message, source=Source(file=document.file))


def _is_outcome(entry: Json) -> bool:
    search = entry.get("search")
    return isinstance(search, dict) and search.get("mode") == "outcome"


def _add_entry(document: Document, entry: Json, number: str, report: Report) -> None:
    resource, request = entry.get("resource"), entry.get("request")
    url, method = entry.get("fullUrl"), ""
    target = ""
    if isinstance(request, dict):
        method = request["method"] if isinstance(request.get("method"), str) else ""
        target = request["url"] if isinstance(request.get("url"), str) else ""
    if resource is None and method.upper() == "DELETE":
        resource = {}
    if not isinstance(resource, dict) or (resource and not isinstance(resource.get("resourceType"), str)):
        if resource is not None or not document.bundle_type.endswith("-response"):
            source = Source(file=document.file, sheet=f"entry {number}", is_message=True)
            message = "the entry holds no resource that says its type; the others were read"
            report.add("resource-unreadable", Severity.ERROR, message, source=source)
        return
    if resource.get("resourceType") == "Bundle":
        _add_bundle(document, resource, report, is_inner=True)
        return
    full_url = url if isinstance(url, str) else ""
    document.entries.append(Entry(resource, full_url, method.upper(), target, position=number))


def _report_incomplete(document: Document, bundle: Json, report: Report) -> None:
    links = bundle.get("link")
    for link in links if isinstance(links, list) else []:
        if isinstance(link, dict) and link.get("relation") == "next":
            message = "the Bundle is one page of several (it has a link 'next'); orders of the others are missing"
            report.add("bundle-incomplete", Severity.ERROR, message, source=Source(file=document.file))
            return
