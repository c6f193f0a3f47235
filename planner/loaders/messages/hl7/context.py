"""What holds for all requests of one message, and how findings about it name their place."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from planner.finding_codes import Code
from planner.findings import Report, Severity, Source
from planner.loaders.messages.common.request import Request
from planner.loaders.messages.common.stamps import Sender, Stamp
from planner.loaders.messages.hl7.segments import Segment


@dataclass(slots=True)
class Context:
    """One message: its file, what it calls itself, when it was sent, its version and kind."""

    report: Report
    file: str
    label: str
    control_id: str
    sender: Sender | None = None
    stamp: Stamp | None = None
    """When it was sent, as it says itself."""
    sent: float = 0.0
    """When it was sent, in seconds since 1970, to put messages in order; messages without a time follow the last."""
    version: str = ""
    kind: str = ""
    """The first part of MSH-9."""
    damage: str = ""
    noted: set[tuple[str, Severity, str]] = field(default_factory=set)
    people: dict[tuple[int, ...], Request] = field(default_factory=dict)
    """What holds for all requests of one patient and visit, read once."""

    def source(self, segment: Segment | None, column: str = "") -> Source:
        """Return the place of a segment or field."""
        line = segment.line if segment else None
        return Source(file=self.file, sheet=self.label, row=line, column=column, is_message=True)

    def add(
        self,
        code: Code,
        severity: Severity,
        message: str,
        segment: Segment | None = None,
        column: str = "",
        order_ids: Iterable[str] = (),
    ) -> None:
        """Add a finding; the same code of one severity at the same field of a message is said once."""
        key = (code, severity, column or str(segment.line if segment else ""))
        if key not in self.noted:
            self.noted.add(key)
            self.report.add(code, severity, message, source=self.source(segment, column), order_ids=order_ids)
