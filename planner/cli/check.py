"""``planner check``: looks at a round's input, or verifies a written plan again."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli.exit_codes import ExitCode
from planner.cli.options import AdultsOnly, DateOrderOption, Day, IgnorePolicy, Phlebotomists, Site, Start
from planner.cli.reading import asks_for_person, print_findings, read_round, require_problem
from planner.cli.written import is_written, plan_path, read_plan
from planner.findings import printable

if TYPE_CHECKING:
    from planner.domain.orders import OrderId
    from planner.domain.plan import Plan, Unplanned
    from planner.domain.problem import Problem
    from planner.exporters.plan_json.plan_file import PlanFile


def check(
    path: Annotated[
        Path,
        typer.Argument(
            metavar="ROUND_OR_OUT",
            help="A round to read, or the folder of a written plan (outputs/<round>, outputs/<round>/r1).",
            show_default=False,
        ),
    ],
    start: Start = None,
    day: Day = None,
    phlebotomists: Phlebotomists = None,
    date_order: DateOrderOption = None,
    ignore_policy: IgnorePolicy = False,
    adults_only: AdultsOnly = False,
    site: Site = None,
) -> None:
    """Validate a round's input without planning it, or verify a written plan with the independent checker.

    Writes nothing. Exit 0: nothing needs a person; 3: something needs a decision; 4: unreadable; 5: plan refused.
    """
    if is_written(path):
        _check_plan(path)
    else:
        _check_input(path, start, day, phlebotomists, date_order, ignore_policy, adults_only, site)


def _check_plan(path: Path) -> None:
    from planner.checker import check_plan

    file = read_plan(path)
    report = check_plan(file.problem, file.plan)
    print_findings(report)
    if not report.is_clean:
        typer.echo(f"refused: {len(report.errors)} findings; do not use this plan")
        raise typer.Exit(ExitCode.REFUSED)
    visits = sum(len(route.visits) for route in file.plan.routes)
    remade = _check_log(path)
    if file.is_edited:
        typer.echo(
            "every rule is kept, but the plan was changed since it was written: its reasons and bounds are not ours"
        )
        raise typer.Exit(ExitCode.NEEDS_DECISION)
    typer.echo(f"revision {file.revision}: {visits} visits checked, every rule kept, every figure as recomputed")
    if remade:
        typer.echo(f"{remade} replanned revisions made again from the first plan and the log of events: all the same")


def _check_log(path: Path) -> int:
    """Make every revision again from the first plan and the log of events; return how many were made.

    Raises
    ------
    typer.Exit
        If one differs.
    """
    from planner.exporters.files import revisions
    from planner.replanning.remake import Made, remade_faults

    folder = plan_path(path).parent.parent
    files = {number: read_plan(folder / f"r{number}") for number in revisions(folder)}
    made = {number: Made(problem=file.problem, plan=file.plan) for number, file in files.items()}
    faults = list(remade_faults(made, lambda number, problem: _planned_again(files[number], problem)))
    if faults:
        print_findings(faults)
        typer.echo(f"refused: {len(faults)} revisions differ from what their events make; do not use this plan")
        raise typer.Exit(ExitCode.REFUSED)
    return sum(file.problem.replan is not None and not file.problem.replan.notes for file in files.values())


def _planned_again(file: PlanFile, problem: Problem) -> Plan | None:
    """Return the plan of a round, made as the file's was; None where that cannot be repeated."""
    from planner import __version__
    from planner.pipeline import plan_round
    from planner.solving.params import SolveParams

    effort = str(file.params.get("effort", "quick"))
    stopped = any(finding.code in ("wall-clock-guard", "stopped-early") for finding in file.findings)
    if stopped or file.program_version != __version__:
        return None
    params = SolveParams(seed=int(file.params.get("seed", 1)), effort=effort, proves=effort != "quick")
    planned = plan_round(problem, params)
    return None if planned.hit_wall_guard or planned.was_interrupted else planned.plan


def _tell(text: str) -> None:
    """Print a line, broken between words where a terminal's width is known; never broken in a file or a pipe."""
    text = printable(text)
    if sys.stdout.isatty() or "COLUMNS" in os.environ:
        width = max(20, shutil.get_terminal_size().columns)
        text = textwrap.fill(text, width, subsequent_indent="  ", break_on_hyphens=False, break_long_words=False)
    typer.echo(text)


def _tell_confirmation(problem: Problem) -> None:
    """Print who confirmed the laboratory's values, or that nobody did, or what changed since."""
    from planner.exporters.view.words import UNCONFIRMED

    confirmed = problem.confirmation
    if confirmed is None:
        _tell(f"laboratory: {UNCONFIRMED}; planner catalogue --sign-off NAME --site ROUND writes a confirmation")
    elif confirmed.is_valid:
        _tell(f"laboratory: tube and stability values confirmed by {confirmed.name} on {confirmed.when[:10]}")
    else:
        since = f"changed since {confirmed.name} confirmed them on {confirmed.when[:10]}"
        _tell(f"laboratory: {UNCONFIRMED}; {since}: {', '.join(confirmed.changed)}")


def _tell_left_out(problem: Problem, left_out: Sequence[Unplanned]) -> None:
    """Print what would not be planned and why, and how many for each reason."""
    for order in left_out:
        kind = "needs a decision" if order.reason.needs_decision else "for information"
        bed = problem.place_name(order.bed) or "?"
        _tell(f"{kind}: order {order.order_id}, bed {bed}, {order.test}: {order.detail}")
    if counts := Counter(order.reason.value for order in left_out):
        _tell(f"set aside: {', '.join(f'{number} {reason}' for reason, number in sorted(counts.items()))}")


def _print_message_orders(problem: Problem, left_out: set[OrderId]) -> None:
    """Print the orders of electronic messages that would be planned: a message is no list that a person can read."""
    for order in problem.orders:
        if order.id not in left_out and order.source is not None and order.source.is_message:
            bed = problem.place_name(problem.patient_of(order).bed)
            ends = (("at", order.collect_at_s), ("from", order.collect_from_s), ("to", order.collect_to_s))
            when = "".join(f" {word} {problem.clock.format_clock(s)}" for word, s in ends if s is not None)
            fasting = ", fasting" if order.fasting else ""
            _tell(f"to plan: order {order.id}, bed {bed}, {order.test}, {order.priority.value}{when}{fasting}")


def _check_input(
    path: Path,
    start: str | None,
    day: str | None,
    phlebotomists: int | None,
    date_order: DateOrderOption,
    ignore_policy: bool,
    adults_only: bool,
    site: Path | None,
) -> None:
    from planner.prepared import prepare_round
    from planner.solving.params import SolveParams

    loaded = read_round(
        path,
        start=start,
        day=day,
        phlebotomists=phlebotomists,
        date_order=date_order,
        ignore_policy=ignore_policy,
        adults_only=adults_only,
        site=site,
    )
    if loaded.problem is not None and not loaded.problem.orders:
        print_findings(loaded.findings, with_notes=True)
        _tell_left_out(loaded.problem, loaded.problem.set_aside)
        _tell(f"{loaded.num_orders_read} orders read: 0 to plan, {len(loaded.problem.set_aside)} set aside")
        raise typer.Exit(ExitCode.NO_PLAN)
    problem = require_problem(loaded)
    prepared = prepare_round(problem, SolveParams())
    print_findings((*loaded.findings, *prepared.findings), with_notes=True)
    for source in loaded.sources:
        typer.echo(f"read: {source}")
    for assumption in problem.assumptions:
        _tell(f"assumed: {assumption}")
    _tell_confirmation(problem)
    left_out = (*problem.set_aside, *prepared.unplanned)
    _print_message_orders(problem, {order.order_id for order in left_out})
    _tell_left_out(problem, left_out)
    _tell(
        f"{loaded.num_orders_read} orders read: {loaded.num_orders_read - len(left_out)} to plan in "
        f"{len(prepared.draws)} visits, {len(left_out)} set aside"
    )
    if asks_for_person(left_out, loaded.findings):
        raise typer.Exit(ExitCode.NEEDS_DECISION)
