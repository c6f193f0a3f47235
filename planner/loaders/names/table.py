"""Reads the rows of the table of names."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from planner.domain.site_names import NameKind
from planner.findings import Report, Severity
from planner.loaders.names.row import NameRow
from planner.loaders.tables.headings import plain
from planner.loaders.tables.records import Record

_KINDS = {kind.value: kind for kind in NameKind}


def rows_of_names(records: Iterable[Record], report: Report) -> Iterator[NameRow]:
    """Yield the rows of a table of names; a row that says of no kind, or names nothing, is an error finding."""
    for record in records:
        kind = _KINDS.get(plain(record.text("kind")))
        if record.flags or kind is None or not record.text("found"):
            kinds = ", ".join(_KINDS)
            message = f"the row of a name cannot be read; it needs a kind ({kinds}) and what was found. It is not used"
            report.add("name-unreadable", Severity.ERROR, message, source=record.at("kind"))
            continue
        yield NameRow(
            kind=kind,
            found=record.text("found"),
            where=record.text("where"),
            proposed=record.text("means"),
            confirm=record.text("confirm"),
            note=record.text("note"),
            source=record.at("confirm"),
        )
