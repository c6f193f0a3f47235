"""Plans, writes and reports one revision of a round: what ``plan`` and ``replan`` have in common."""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from planner.cli.beside import Beside
from planner.cli.exit_codes import ExitCode
from planner.cli.options import Paper
from planner.cli.reading import MAX_SHOWN, asks_for_person, print_findings
from planner.cli.terminal import json_text

if TYPE_CHECKING:
    from planner.domain.plan import Plan
    from planner.domain.problem import Problem
    from planner.findings import Finding

REPORT_FILE = "check-report.txt"


def planned(
    problem: Problem, params: Any, folder: Path, loading: Sequence[Finding]
) -> tuple[tuple[Finding, ...], Plan, bool]:
    """Return all findings, the checked plan, and whether the search ran to its end.

    Where the checker refuses a plan, a report says what it found, and the round is planned again without the orders
    that it named; exit code 5 when that is refused too.
    """
    from planner.cli.console import ProgressLine
    from planner.errors import CheckRefusedError
    from planner.pipeline import plan_round_or_less

    progress = ProgressLine()
    try:
        planned = plan_round_or_less(problem, params, progress)
    except CheckRefusedError as error:
        _report(folder, f"The independent checker refused the plan of {problem.round_name}.", error.findings)
        print_findings(error.findings)
        print(
            f"planner: the checker refused the plan; see {folder / REPORT_FILE}; nothing else is written",
            file=sys.stderr,
        )
        raise typer.Exit(ExitCode.REFUSED) from error
    finally:
        progress.close()
    if planned.refused:
        said = (
            f"The independent checker refused a plan of {problem.round_name}. The round was planned again without the "
            "orders named below; they need a decision."
        )
        _report(folder, said, planned.refused)
        print(f"planner: the checker refused a first plan; see {folder / REPORT_FILE}", file=sys.stderr)
    if planned.was_interrupted:
        print("planner: stopped early; the best plan found so far is kept", file=sys.stderr)
    is_whole = not planned.was_interrupted and not planned.hit_wall_guard
    return (*loading, *planned.findings), planned.plan, is_whole


def _report(folder: Path, said: str, findings: Sequence[Finding]) -> None:
    """Write what the checker found in a plan that it refused."""
    from planner.exporters.files import write_atomic

    write_atomic(folder / REPORT_FILE, "\n".join([said, *map(str, findings), ""]).encode())


def same_as_newest(folder: Path, digest: str) -> Any:
    """Return the newest plan of a folder when it, or what it was replanned from, was made from the same; else None."""
    from planner.cli.written import read_plan
    from planner.errors import PlanFileError
    from planner.exporters.files import revisions

    if not revisions(folder):
        return None
    try:
        newest = first = read_plan(folder)
        seen: set[int] = set()
        while first.parent is not None:
            if first.parent in seen:
                raise PlanFileError(f"{folder}: the revisions go on from one another in a ring")
            seen.add(first.parent)
            first = read_plan(folder / f"r{first.parent}")
        if newest.is_edited:
            raise PlanFileError(f"{folder}: revision {newest.revision} was changed since it was written")
    except PlanFileError as error:
        print(f"planner: {error}; planning a new revision beside it", file=sys.stderr)
        return None
    return newest if first.inputs_digest == digest else None


def number_of(problem: Problem, folder: Path) -> int:
    """Return the number of the revision that is about to be written.

    Raises
    ------
    InputError
        If somebody replanned the same revision meanwhile: what was told there would be missing in a later one.
    """
    from planner.errors import InputError
    from planner.exporters.files import next_revision

    number = next_revision(folder)
    if problem.replan is None or number == problem.replan.parent + 1:
        return number
    raise InputError(
        f"revision {number - 1} was written while this one was planned from revision {problem.replan.parent}; "
        "nothing is written, run the same command again"
    )


def write(
    problem: Problem,
    the_plan: Plan,
    findings: Sequence[Finding],
    folder: Path,
    digest: str,
    options: dict[str, Any],
    read: Sequence[str],
    paper: Paper,
    began_s: float,
    beside: Beside,
) -> Path:
    """Write plan, sheet and run record as the next revision; return its folder."""
    from planner.cli.outputs import RUN_FILE, SPECIMENS_FILE, run_record, sheets
    from planner.exporters.files import write_revision
    from planner.exporters.plan_json import PLAN_FILE, plan_to_json
    from planner.exporters.specimens import specimens_csv

    revision = number_of(problem, folder)
    printed = sheets(problem, the_plan, revision=revision, findings=findings, paper=paper.value, beside=beside)
    data = plan_to_json(
        problem,
        the_plan,
        revision=revision,
        parent=None if problem.replan is None else problem.replan.parent,
        inputs_digest=digest,
        params=options,
        findings=findings,
    )
    files = {
        PLAN_FILE: data,
        SPECIMENS_FILE: specimens_csv(problem, the_plan),
        **printed(),
        RUN_FILE: run_record(options, read=read, seconds=time.monotonic() - began_s, plan=data),
    }
    return write_revision(folder, files, revision=revision)


def finish(
    problem: Problem, the_plan: Plan, findings: Sequence[Finding], revision: Path, as_json: bool, *, is_new: bool
) -> None:
    """Print the summary and leave with the exit code that the plan asks for."""
    from planner.cli.terminal import text_width
    from planner.domain.metrics import bed_order_walk
    from planner.exporters.terminal.summary import Comparison, summary_data, summary_lines
    from planner.findings import to_decide, unread
    from planner.prepared import draws_as_planned
    from planner.solving.params import SolveParams
    from planner.visits import order_windows

    windows, _without = order_windows(problem)
    draws = draws_as_planned(problem, the_plan, SolveParams())
    made = {visit.draw_id for route in the_plan.routes for visit in route.visits}
    planned = [draw for draw in draws if draw.id in made]  # what is not drawn saves nothing
    comparison = Comparison.of(planned, bed_order_walk(problem, draws))
    missing, waiting = unread(findings), to_decide(findings)
    print_findings(findings)
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
    if asks_for_person(the_plan.unplanned, findings):
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
