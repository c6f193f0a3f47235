"""``planner tubes``: the tube sets alone, for a lead who only wants those."""

from __future__ import annotations

import typer

from planner.cli.exit_codes import ExitCode
from planner.cli.options import AdultsOnly, DateOrderOption, Day, IgnorePolicy, Phlebotomists, RoundPath, Site, Start
from planner.cli.terminal import print_findings
from planner.findings import printable


def tubes(
    path: RoundPath,
    start: Start = None,
    day: Day = None,
    phlebotomists: Phlebotomists = None,
    date_order: DateOrderOption = None,
    ignore_policy: IgnorePolicy = False,
    adults_only: AdultsOnly = False,
    site: Site = None,
) -> None:
    """Print each patient's minimal tube set in order of draw, beside one tube for each order. Writes nothing."""
    import planner
    from planner.library.checking import check_input
    from planner.library.loading import require_orders
    from planner.tubes.report import by_patient, figures_of, total_line, tube_lines

    loaded = planner.load(
        path,
        start=start,
        day=day,
        phlebotomists=phlebotomists,
        date_order=None if date_order is None else date_order.value,
        ignore_policy=ignore_policy,
        adults_only=adults_only,
        site=site,
    )
    problem = require_orders(loaded)
    checked = check_input(loaded)
    print_findings(checked.findings)
    tube_sets = {draw.id: draw.tube_set for draw in checked.draws}
    for patient in by_patient(problem, [draw.request for draw in checked.draws], tube_sets):
        for line in tube_lines(problem, patient):
            typer.echo(printable(line))
    typer.echo(total_line(figures_of(tube_sets.values())))
    for order in (order for order in checked.left_out if order.reason.needs_decision):
        bed = problem.place_name(order.bed) or "?"
        typer.echo(printable(f"needs a decision: order {order.order_id}, bed {bed}, {order.test}: {order.detail}"))
    if checked.needs_decision:
        raise typer.Exit(ExitCode.NEEDS_DECISION)
