"""The findings of a replan, sorted by what is to be done about them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from planner.finding_codes import CHECKER_CODES, DECISION_CODES, PLANNING_CODES, REPLANNING_CODES, TUBE_CODES
from planner.findings import Finding, Severity

STAT_CODE = "stat-impossible"
"""Code of the findings that are printed under a heading of their own."""

UNREPORTED_CODE = "stat-unreported"
"""Code of the findings about stats that were due and that nobody reported: always among what is printed."""

TO_DO_CODES = DECISION_CODES | {
    "courier-waiting",
    "addon-late",
    "addon-cancelled",
    "assumed-done",
    "drawn-outside",
    "order-drawn",
    "partial-too-old",
    "report-unfinished",
    UNREPORTED_CODE,
}
"""Codes of the findings that ask for a decision, a telephone call or somebody to fetch specimens."""


@dataclass(frozen=True, slots=True)
class ToldApart:
    """The findings of a replan by where they are printed; each in one place."""

    not_applied: tuple[Finding, ...]
    """Of what was told: what could not be read or used."""
    notes: tuple[Finding, ...]
    """Of what was told: what was known already, or came to something else than one may expect."""
    stats: tuple[Finding, ...]
    to_do: tuple[Finding, ...]
    """What the ward or the laboratory must be told, or have fetched."""
    others: tuple[Finding, ...]


def told_apart(findings: Iterable[Finding]) -> ToldApart:
    """Return the findings by where they are printed.

    Every error is something told that was not applied, but for those that speak of the plan itself.
    """
    of_the_plan = PLANNING_CODES | TUBE_CODES | CHECKER_CODES
    found: dict[str, list[Finding]] = {"not_applied": [], "notes": [], "stats": [], "to_do": [], "others": []}
    for finding in findings:
        if finding.code == STAT_CODE:
            found["stats"].append(finding)
        elif finding.code in TO_DO_CODES:
            found["to_do"].append(finding)
        elif finding.severity is Severity.ERROR and finding.code not in of_the_plan:
            found["not_applied"].append(finding)
        elif finding.severity is Severity.NOTE and finding.code in REPLANNING_CODES:
            found["notes"].append(finding)
        else:
            found["others"].append(finding)
    return ToldApart(**{name: tuple(mine) for name, mine in found.items()})
