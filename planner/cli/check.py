"""``planner check``: looks at a round's input, or verifies a written plan again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli.exit_codes import ExitCode
from planner.cli.options import DateOrderOption, Day, Phlebotomists, Start
from planner.cli.reading import print_findings, read_round, require_problem
from planner.cli.written import is_written, read_plan

if TYPE_CHECKING:
    from planner.domain.orders import OrderId
    from planner.domain.problem import Problem


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
) -> None:
    """Validate a round's input without planning it, or verify a written plan with the independent checker.

    Writes nothing. Exit 0: nothing needs a person; 3: some orders need a decision; 4: unreadable; 5: plan refused.
    """
    if is_written(path):
        _check_plan(path)
    else:
        _check_input(path, start, day, phlebotomists, date_order)


def _check_plan(path: Path) -> None:
    from planner.checker import check_plan

    file = read_plan(path)
    report = check_plan(file.problem, file.plan)
    print_findings(report)
    if not report.is_clean:
        typer.echo(f"refused: {len(report.errors)} findings; do not use this plan")
        raise typer.Exit(ExitCode.REFUSED)
    visits = sum(len(route.visits) for route in file.plan.routes)
    typer.echo(f"revision {file.revision}: {visits} visits checked, every rule kept, every figure as recomputed")


def _print_message_orders(problem: Problem, left_out: set[OrderId]) -> None:
    """Print the orders of electronic messages that would be planned: a message is no list that a person can read."""
    for order in problem.orders:
        if order.id not in left_out and order.source is not None and order.source.is_message:
            bed = problem.patient_of(order).bed
            ends = (("at", order.collect_at_s), ("from", order.collect_from_s), ("to", order.collect_to_s))
            when = "".join(f" {word} {problem.clock.format_clock(s)}" for word, s in ends if s is not None)
            fasting = ", fasting" if order.fasting else ""
            typer.echo(f"to plan: order {order.id}, bed {bed}, {order.test}, {order.priority.value}{when}{fasting}")


def _check_input(
    path: Path, start: str | None, day: str | None, phlebotomists: int | None, date_order: DateOrderOption
) -> None:
    from planner.pipeline import prepare_round
    from planner.solving.params import SolveParams

    loaded = read_round(path, start=start, day=day, phlebotomists=phlebotomists, date_order=date_order)
    problem = require_problem(loaded)
    prepared = prepare_round(problem, SolveParams())
    print_findings((*loaded.findings, *prepared.findings), with_notes=True)
    for source in loaded.sources:
        typer.echo(f"read: {source}")
    for assumption in problem.assumptions:
        typer.echo(f"assumed: {assumption}")
    left_out = (*problem.set_aside, *prepared.unplanned)
    _print_message_orders(problem, {order.order_id for order in left_out})
    for order in left_out:
        kind = "needs a decision" if order.reason.needs_decision else "for information"
        typer.echo(f"{kind}: order {order.order_id}, bed {order.bed or '?'}, {order.test}: {order.detail}")
    typer.echo(
        f"{loaded.num_orders_read} orders read: {loaded.num_orders_read - len(left_out)} to plan in "
        f"{len(prepared.draws)} visits, {len(left_out)} set aside"
    )
    if any(order.reason.needs_decision for order in left_out):
        raise typer.Exit(ExitCode.NEEDS_DECISION)
