"""The exceptions that callers of the library may meet.

::

    PlannerError
    ├── InputError          the input holds nothing that can be planned, or cannot be read at all
    ├── RequestError        what was asked for does not fit the round: a time, a name, a number
    ├── PlanFileError       a written plan cannot be read: damaged, or of another version
    ├── OutputError         what was planned cannot be written: a full disk, no permission, overtaken by another run
    ├── SolverError         the solver gave an answer that nobody foresaw
    └── CheckRefusedError   the independent checker refused a plan

What a user can put right is a `planner.findings.Finding`, collected and never raised one by one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from planner.findings import Finding


class PlannerError(Exception):
    """Any failure that this package raises on purpose."""


class InputError(PlannerError):
    """The input holds nothing that can be planned, or cannot be read at all."""

    def __init__(self, message: str, findings: tuple[Finding, ...] = ()) -> None:
        super().__init__(message)
        self.findings = findings


class RequestError(PlannerError):
    """What was asked for does not fit the round; ``parameter`` is the option that asks for it, without dashes."""

    def __init__(self, message: str, parameter: str = "") -> None:
        super().__init__(message)
        self.parameter = parameter


class PlanFileError(PlannerError):
    """A written plan cannot be read: damaged, or of another version."""


class OutputError(PlannerError):
    """What was planned cannot be written: a full disk, no permission, or another run was first."""


class SolverError(PlannerError):
    """The solver gave an answer that nobody foresaw."""


class CheckRefusedError(PlannerError):
    """The independent checker refused a plan."""

    def __init__(self, findings: tuple[Finding, ...], message: str = "") -> None:
        super().__init__(message or f"the checker refused the plan: {len(findings)} findings")
        self.findings = findings
