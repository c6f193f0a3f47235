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
from planner.cli.terminal import print_findings
from planner.findings import printable

if TYPE_CHECKING:
    from planner.domain.orders import OrderId
    from planner.domain.plan import Unplanned
    from planner.domain.problem import Problem
    from planner.library.checking import InputCheck, PlanCheck


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
    import planner
    from planner.library.checking import PlanCheck

    checked = planner.check(
        path,
        start=start,
        day=day,
        phlebotomists=phlebotomists,
        date_order=None if date_order is None else date_order.value,
        ignore_policy=ignore_policy,
        adults_only=adults_only,
        site=site,
    )
    if isinstance(checked, PlanCheck):
        _tell_plan(checked)
    else:
        _tell_input(checked)
    if checked.needs_decision:
        raise typer.Exit(ExitCode.NEEDS_DECISION)


def _tell_plan(checked: PlanCheck) -> None:
    """Print what the checker says of a written plan that it passed."""
    print_findings(checked.findings)
    if checked.is_edited:
        typer.echo(
            "every rule is kept, but the plan was changed since it was written: its reasons and bounds are not ours"
        )
        return
    visits = sum(len(route.visits) for route in checked.plan.routes)
    figures = "every figure as recomputed" if checked.has_goals else "its goals are of an earlier version: not judged"
    typer.echo(f"revision {checked.revision}: {visits} visits checked, every rule kept, {figures}")
    if checked.num_remade:
        remade = f"{checked.num_remade} replanned revisions made again from the first plan and the log of events"
        typer.echo(f"{remade}: all the same")


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
        _tell(f"{kind}: order {order.order_id}, bed {problem.bed_words(order)}, {order.test}: {order.detail}")
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


def _tell_input(checked: InputCheck) -> None:
    """Print what of a round would be planned, what not and why.

    Raises
    ------
    typer.Exit
        With code 4, if nothing would be planned.
    """
    loaded, problem = checked.loaded, checked.problem
    print_findings(checked.findings, with_notes=True)
    total = f"{loaded.num_orders_read} orders read: {checked.num_to_plan} to plan"
    if not problem.orders:
        _tell_left_out(problem, checked.left_out)
        _tell(f"{total}, {len(checked.left_out)} set aside")
        raise typer.Exit(ExitCode.NO_PLAN)
    for source in loaded.sources:
        typer.echo(f"read: {source}")
    for assumption in problem.assumptions:
        _tell(f"assumed: {assumption}")
    _tell_confirmation(problem)
    _print_message_orders(problem, {order.order_id for order in checked.left_out})
    _tell_left_out(problem, checked.left_out)
    _tell(f"{total} in {len(checked.draws)} visits, {len(checked.left_out)} set aside")
