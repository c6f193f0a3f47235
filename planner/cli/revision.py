"""Searches, reports and ends for a command that plans: what ``plan`` and ``replan`` have in common."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from planner.cli.exit_codes import ExitCode
from planner.cli.terminal import MAX_SHOWN, json_text, print_findings

if TYPE_CHECKING:
    from planner.domain.plan import Plan
    from planner.domain.problem import Problem
    from planner.findings import Finding
    from planner.library.planning import RoundPlan
    from planner.pipeline import Listener


def searched(folder: Path, name: str, search: Callable[[Listener], RoundPlan]) -> RoundPlan:
    """Return what a search found, its progress on the terminal; ``name`` is that of the round.

    Where the checker refused a plan, a report in the folder says what it found.

    Raises
    ------
    CheckRefusedError
        If it refused every plan.
    """
    from planner.cli.console import ProgressLine
    from planner.errors import CheckRefusedError
    from planner.library.writing import write_check_report
    from planner.scheduling.compiled import why_slow

    progress = ProgressLine()
    try:
        made = search(progress)
    except CheckRefusedError as error:
        said = f"The independent checker refused the plan of {name}."
        report = write_check_report(folder, said, error.findings)
        message = f"the checker refused the plan; see {report}; nothing else is written"
        raise CheckRefusedError(error.findings, message) from error
    finally:
        progress.close()
    if made.refused:
        said = (
            f"The independent checker refused a plan of {name}. The round was planned again without the "
            "orders named below; they need a decision."
        )
        report = write_check_report(folder, said, made.refused)
        print(f"planner: the checker refused a first plan; see {report}", file=sys.stderr)
    if reason := why_slow():
        print(f"planner: planning took longer than it need: {reason}", file=sys.stderr)
    if made.was_interrupted:
        print("planner: stopped early; the best plan found so far is kept", file=sys.stderr)
    return made


def finish(made: RoundPlan, revision: Path, as_json: bool, *, is_new: bool) -> None:
    """Print the summary and leave with the exit code that the plan asks for."""
    from planner.cli.terminal import text_width
    from planner.domain.derived.metrics import bed_order_walk
    from planner.exporters.terminal.summary import Comparison, summary_data, summary_lines
    from planner.findings import to_decide, unread

    problem, the_plan, windows = made.problem, made.plan, made.windows
    visited = {visit.draw_id for route in the_plan.routes for visit in route.visits}
    planned = [draw for draw in made.draws if draw.id in visited]  # what is not drawn saves nothing
    comparison = Comparison.of(planned, bed_order_walk(problem, made.draws))
    missing, waiting = unread(made.findings), to_decide(made.findings)
    print_findings(made.findings)
    if as_json:
        data = {
            **summary_data(problem, the_plan, comparison, windows),
            "not_read": [{"code": f.code, "message": str(f)} for f in missing],
            "to_decide": [{"code": f.code, "order_numbers": list(f.order_ids), "message": f.message} for f in waiting],
            "folder": revision.as_posix(),
            "is_new": is_new,
        }
        typer.echo(json_text(data))
    else:
        for line in (*_unread_lines(missing, text_width()), *decision_lines(problem, the_plan, waiting, text_width())):
            typer.echo(line)
        for line in summary_lines(problem, the_plan, comparison, windows, text_width()):
            typer.echo(line)
        typer.echo("")
        typer.echo(f"Written: {revision}" if is_new else f"Nothing changed since {revision}; nothing was written.")
    if made.needs_decision:
        raise typer.Exit(ExitCode.NEEDS_DECISION)


def decision_lines(problem: Problem, plan: Plan, waiting: Sequence[Finding], width: int) -> list[str]:
    """Return what stands before the summary when a person must decide about orders that are planned; a stat first."""
    from planner.exporters.terminal.summary import wrapped
    from planner.exporters.view.context import ViewContext
    from planner.exporters.view.lists import planned_decisions
    from planner.exporters.view.texts import TextCleaner

    if not waiting:
        return []
    decisions = planned_decisions(ViewContext(problem, plan, {}, TextCleaner()), waiting)
    texts = [f"{line.urgency}: {line.detail}" if line.urgency else line.detail for line in decisions]
    return ["Planned, but somebody must decide", *(line for text in texts for line in wrapped(text, width)), ""]


def _unread_lines(missing: Sequence[Finding], width: int) -> list[str]:
    """Return what stands before the summary when something given was not read or not used."""
    from planner.exporters.terminal.summary import wrapped

    if not missing:
        return []
    texts = [f.message.rstrip(".") + (f" [{f.source}]" if f.source and str(f.source) else "") for f in missing]
    title = "Not read or not used, so this plan may lack something: decide before the round"
    return [title, *(line for text in texts[:MAX_SHOWN] for line in wrapped(text, width)), ""]
