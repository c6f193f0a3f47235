"""Findings: what a check or a loader says to a person, with the catalogue of their codes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import Enum

from planner.finding_codes import DECISION_CODES, READING_CODES, Code

EDITED: Code = "plan-edited"
"""Code of the finding that a plan was changed by hand; it is printed on every sheet."""


_NOT_PRINTED = {
    **dict.fromkeys((*range(9), *range(11, 32), *range(127, 160)), "?"),
    **dict.fromkeys((0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)), "?"),
}
"""Control characters but line ends and tabs, and those that turn the direction of a text (Unicode TR 9)."""


def printable(text: str) -> str:
    """Return a text for a terminal: what is data in it cannot move the cursor, clear the screen or hide a line."""
    return text if text.isascii() and text.isprintable() else text.translate(_NOT_PRINTED)


class Severity(Enum):
    """How much a finding matters to the person who reads it."""

    ERROR = "error"
    """Something was not planned, or a plan breaks a rule; a person must act."""
    WARNING = "warning"
    """Something was assumed, or read in one of several ways; a person should look."""
    NOTE = "note"
    """Worth knowing; nothing to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where a person would look: file, sheet, row (counted from 1, headings included) and column heading.

    Of an electronic message (``is_message``) ``sheet`` names the message or resource, ``row`` is the line of the
    file, ``column`` the segment and field or the element.
    """

    file: str = ""
    sheet: str = ""
    row: int | None = None
    column: str = ""
    is_message: bool = False

    def __str__(self) -> str:
        sheet, row, column = ("", "line ", "") if self.is_message else ("sheet ", "row ", "column ")
        place = ", ".join(
            part
            for part in (
                f"{sheet}{self.sheet}" if self.sheet else "",
                f"{row}{self.row}" if self.row is not None else "",
                f"{column}{self.column}" if self.column else "",
            )
            if part
        )
        return f"{self.file}: {place}" if self.file and place else self.file or place


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing found: a stable code, what was found, what was expected and what to do, and where.

    Patients appear as order number and bed, never by name or birth date.
    """

    code: Code
    severity: Severity
    message: str
    source: Source | None = None
    order_ids: tuple[str, ...] = ()

    def __str__(self) -> str:
        where = f" [{self.source}]" if self.source and str(self.source) else ""
        return printable(f"{self.severity.value} {self.code}: {self.message}{where}")


def unread(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the errors that say that something given was not read or not used, and that no order set aside stands for.

    A plan made without it may be wrong, so it needs a person's decision.
    """
    return tuple(f for f in findings if f.severity is Severity.ERROR and f.code in READING_CODES and not f.order_ids)


def to_decide(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings about planned orders on which a person must decide."""
    return tuple(f for f in findings if f.code in DECISION_CODES)


@dataclass(slots=True)
class Report:
    """Findings as they are collected, in the order in which they were found."""

    findings: list[Finding] = field(default_factory=list)

    def add(
        self,
        code: Code,
        severity: Severity,
        message: str,
        *,
        source: Source | None = None,
        order_ids: Iterable[str] = (),
    ) -> None:
        """Add one finding."""
        self.findings.append(
            Finding(code=code, severity=severity, message=message, source=source, order_ids=tuple(order_ids))
        )

    def extend(self, findings: Iterable[Finding]) -> None:
        """Add findings that somebody else collected."""
        self.findings.extend(findings)

    @property
    def errors(self) -> tuple[Finding, ...]:
        """The findings of severity error."""
        return tuple(f for f in self.findings if f.severity is Severity.ERROR)

    @property
    def is_clean(self) -> bool:
        """True when no finding is an error."""
        return not self.errors

    def codes(self) -> list[Code]:
        """Return the codes in the order in which they were found."""
        return [f.code for f in self.findings]

    def __iter__(self) -> Iterator[Finding]:
        return iter(self.findings)

    def __len__(self) -> int:
        return len(self.findings)
