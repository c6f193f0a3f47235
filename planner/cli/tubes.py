"""``planner tubes``: the tube sets alone, for a lead who only wants those."""

from __future__ import annotations

import typer

from planner.cli.exit_codes import ExitCode
from planner.cli.options import AdultsOnly, DateOrderOption, Day, IgnorePolicy, Phlebotomists, RoundPath, Site, Start
from planner.cli.reading import asks_for_person, print_findings, read_round, require_problem
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
    from planner.prepared import prepare_round
    from planner.solving.params import SolveParams
    from planner.tubes.report import by_patient, figures_of, total_line, tube_lines

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
    problem = require_problem(loaded)
    prepared = prepare_round(problem, SolveParams())
    print_findings((*loaded.findings, *prepared.findings))
    tube_sets = {draw.id: draw.tube_set for draw in prepared.draws}
    for patient in by_patient(problem, [draw.request for draw in prepared.draws], tube_sets):
        for line in tube_lines(problem, patient):
            typer.echo(printable(line))
    typer.echo(total_line(figures_of(tube_sets.values())))
    waiting = [u for u in (*problem.set_aside, *prepared.unplanned) if u.reason.needs_decision]
    for order in waiting:
        bed = problem.place_name(order.bed) or "?"
        typer.echo(printable(f"needs a decision: order {order.order_id}, bed {bed}, {order.test}: {order.detail}"))
    if asks_for_person(waiting, loaded.findings):
        raise typer.Exit(ExitCode.NEEDS_DECISION)
