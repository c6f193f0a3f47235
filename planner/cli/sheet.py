"""``planner sheet``: writes the sheets of a plan again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner.cli.options import Paper, PaperOption
from planner.cli.written import plan_path, read_plan


def sheet(
    path: Annotated[
        Path,
        typer.Argument(
            metavar="OUT",
            help="The folder of a written plan: outputs/<round> (its newest revision) or outputs/<round>/r1.",
            show_default=False,
        ),
    ],
    only: Annotated[
        str | None,
        typer.Option(
            "--for",
            metavar="NAME",
            help="Name or initials of one phlebotomist. Default: everybody.",
            show_default=False,
        ),
    ] = None,
    paper: PaperOption = Paper.A4,
) -> None:
    """Write the round sheet of a plan again, for one person or on other paper. The plan itself stays as it is."""
    from planner.cli.outputs import WORKBOOK_FILE, sheets
    from planner.exporters.files import write_atomic

    file = read_plan(path)
    people = {name for s in file.problem.staff for name in (s.name.casefold(), s.initials.casefold())}
    if only is not None and only.casefold() not in people:
        known = ", ".join(s.initials for s in file.problem.staff)
        raise typer.BadParameter(f"nobody on this round is called that; initials: {known}", param_hint="--for")
    made = sheets(file.problem, file.plan, revision=file.revision, findings=file.findings, paper=paper.value, only=only)
    folder = plan_path(path).parent
    for name, data in made.items():
        stem, _, ending = name.partition(".")
        words = [stem, *([only] if only else []), *([paper.value] if paper is not Paper.A4 else [])]
        target = folder / f"{'-'.join(words)}.{ending}".replace(" ", "-") if len(words) > 1 else folder / name
        write_atomic(target, data)
        typer.echo(f"{target} written")
    assert WORKBOOK_FILE in made
