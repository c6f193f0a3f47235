"""What ``planner replan`` prints: the summary, then what was not applied, what is worth knowing, stats not in time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from planner.cli.exit_codes import ExitCode
from planner.cli.terminal import json_text, print_findings
from planner.finding_codes import DECISION_CODES
from planner.findings import printable

if TYPE_CHECKING:
    from planner.exporters.terminal.replan_short import Section
    from planner.findings import Finding
    from planner.library.planning import RoundPlan

STAT_CODE = "stat-impossible"
"""Code of the findings that are printed under a heading of their own."""

TO_DO_CODES = DECISION_CODES | {
    "courier-waiting",
    "addon-late",
    "addon-cancelled",
    "assumed-done",
    "order-drawn",
    "partial-too-old",
    "stat-unreported",
}
"""Codes of the findings that ask for a decision, a telephone call or somebody to fetch specimens."""

NOT_APPLIED = "Not applied: correct it, and give it again"
TO_DO = "See to it now"
STATS = "Stat tests that are not in time"
NOTES = "Worth knowing"

MOST_NOTES = 10
"""Notes that are printed; the plan file holds them all."""


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
    from planner.finding_codes import CHECKER_CODES, PLANNING_CODES, REPLANNING_CODES, TUBE_CODES
    from planner.findings import Severity

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


class Written(Enum):
    """What a command wrote."""

    NOW = "now"
    BEFORE = "before"
    """The same command wrote it before."""
    NOTHING = "nothing"
    """It only showed what would change."""


def report(made: RoundPlan, revision: Path, as_json: bool, written: Written, verbose: bool) -> None:
    """Print what changes, and leave with the exit code that the plan asks for."""
    problem, plan, windows = made.problem, made.plan, made.windows
    told = told_apart(made.findings)
    if verbose or as_json:
        print_findings(told.others, hidden_are="the plan file holds them")
    if as_json:
        from planner.exporters.terminal.replan_summary import replan_data

        data = {
            **replan_data(problem, plan, windows),
            "stats_not_in_time": [{"order_numbers": list(f.order_ids), "message": f.message} for f in told.stats],
            "not_applied": [{"code": f.code, "message": f.message} for f in told.not_applied],
            "to_do": [{"code": f.code, "message": f.message} for f in told.to_do],
            "notes": [{"code": f.code, "message": f.message} for f in told.notes],
            "folder": revision.as_posix(),
            "is_new": written is Written.NOW,
            "is_preview": written is Written.NOTHING,
        }
        typer.echo(json_text(data))
    else:
        from planner.cli.terminal import text_width
        from planner.exporters.terminal.replan_short import short_lines
        from planner.exporters.terminal.replan_summary import replan_lines

        width = text_width()
        if verbose:
            lines = [*replan_lines(problem, plan, windows, width), *told_lines(told, width), ""]
        else:
            lines = short_lines(problem, plan, windows, _sections(told), width)
        for line in lines:
            typer.echo(line)
        typer.echo(_LAST_LINE[written].format(revision=revision))
    if told.not_applied or told.to_do or any(u.reason.needs_decision for u in plan.unplanned):
        raise typer.Exit(ExitCode.NEEDS_DECISION)


def _sections(told: ToldApart) -> list[Section]:
    """Return what was found, for the short summary: what must be acted upon first."""
    from planner.exporters.terminal.replan_short import Section

    stats = tuple(f"{', '.join(f.order_ids)}: {_sentence(f)}" for f in told.stats)
    return [
        Section(NOT_APPLIED, tuple(map(_sentence, told.not_applied)), is_needed=True),
        Section(TO_DO, tuple(map(_sentence, told.to_do)), is_needed=True),
        Section(STATS, stats, is_needed=True),
        Section(NOTES, tuple(map(_sentence, told.notes))),
    ]


_LAST_LINE = {
    Written.NOW: "Written: {revision}",
    Written.BEFORE: "Nothing changed since {revision}; nothing was written.",
    Written.NOTHING: "Preview: nothing was written; the newest revision is {revision}.",
}


def told_lines(told: ToldApart, width: int) -> list[str]:
    """Return what is printed behind the summary, what must be acted upon last."""
    notes = [_sentence(f) for f in told.notes[:MOST_NOTES]]
    if len(told.notes) > MOST_NOTES:
        notes.append(f"... and {len(told.notes) - MOST_NOTES} more; plan.json holds them all")
    return [
        *_paragraphs(NOTES, notes, width),
        *_paragraphs(
            STATS,
            [f"{', '.join(f.order_ids)}: {_sentence(f)}" for f in told.stats],
            width,
        ),
        *_paragraphs(TO_DO, [_sentence(f) for f in told.to_do], width),
        *_paragraphs(NOT_APPLIED, [_sentence(f) for f in told.not_applied], width),
    ]


def _sentence(finding: Finding) -> str:
    where = f" [{finding.source}]" if finding.source and str(finding.source) else ""
    return printable(f"{finding.message.rstrip('.')}.{where}")


def _paragraphs(title: str, texts: Sequence[str], width: int) -> list[str]:
    from planner.exporters.terminal.summary import wrapped

    return ["", title, *(line for text in texts for line in wrapped(text, width))] if texts else []
