"""What ``planner replan`` prints: the summary, then what was not applied, what is worth knowing, stats not in time."""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from planner.cli.exit_codes import ExitCode
from planner.cli.terminal import json_text, print_findings
from planner.findings import printable

if TYPE_CHECKING:
    from planner.exporters.terminal.replan_short import Section
    from planner.findings import Finding
    from planner.library.planning import RoundPlan
    from planner.library.replan_findings import ToldApart

NOT_APPLIED = "Not applied: correct it, and give it again"
ASK = "Ask before anybody draws"
TO_DO = "See to it now"
STATS = "Stat tests that are not in time"
NOTES = "Worth knowing"

MOST_NOTES = 10
"""Notes that are printed; the plan file holds them all."""


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
    from planner.library.replan_findings import told_apart

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
            lines = short_lines(problem, plan, windows, sections_of(told), width)
        for line in lines:
            typer.echo(line)
        typer.echo(_LAST_LINE[written].format(revision=revision))
    if made.needs_decision:
        raise typer.Exit(ExitCode.NEEDS_DECISION)


def sections_of(told: ToldApart) -> list[Section]:
    """Return what was found, for the short summary: what must be acted upon first."""
    from planner.exporters.terminal.replan_short import Section
    from planner.library.replan_findings import UNREPORTED_CODE

    asked = [finding for finding in told.to_do if finding.code == UNREPORTED_CODE]
    stats = tuple(f"{', '.join(f.order_ids)}: {_sentence(f)}" for f in told.stats)
    return [
        Section(NOT_APPLIED, tuple(map(_sentence, told.not_applied)), is_needed=True),
        Section(ASK, tuple(map(_sentence, asked)), is_needed=True, is_whole=True),
        Section(TO_DO, tuple(_sentence(f) for f in told.to_do if f not in asked), is_needed=True),
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
