"""``planner sheet``: writes the sheets of a plan again."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli.options import Paper, PaperOption
from planner.cli.written import plan_path, read_plan

if TYPE_CHECKING:
    from planner.domain.staff import Phlebotomist


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
    large_print: Annotated[
        bool, typer.Option("--large-print", help="Letters 1.4 times as large, across the paper. Default: ordinary.")
    ] = False,
    pdf: Annotated[
        bool,
        typer.Option(
            "--pdf", help="Write a PDF too; needs Chromium, Chrome or Edge installed. Default: workbook and HTML page."
        ),
    ] = False,
) -> None:
    """Write the round sheet of a plan again: for one person, on other paper, in large print, as PDF.

    The plan itself stays as it is.
    """
    from planner.cli.outputs import sheets
    from planner.cli.reading import print_findings
    from planner.exporters.files import write_atomic
    from planner.exporters.page.pdf import HOW_TO_INSTALL, find_browser
    from planner.findings import Report

    file = read_plan(path)
    if only is not None:
        _require_one(file.problem.staff, only)
    if pdf and find_browser() is None:
        raise typer.BadParameter(HOW_TO_INSTALL, param_hint="--pdf")
    report = Report()
    made = sheets(
        file.problem,
        file.plan,
        revision=file.revision,
        findings=file.findings,
        paper=paper.value,
        only=only,
        large_print=large_print,
        with_pdf=pdf,
        report=report,
    )()
    print_findings(report)
    folder = plan_path(path).parent
    for name, data in made.items():
        stem, _, ending = name.partition(".")
        words = [stem, *([only] if only else []), *([paper.value] if paper is not Paper.A4 else [])]
        words += ["large"] if large_print else []
        target = folder / f"{_file_name('-'.join(words))}.{ending}"
        write_atomic(target, data)
        typer.echo(f"{target} written")


def _require_one(staff: Sequence[Phlebotomist], wanted: str) -> None:
    """Refuse a name that is nobody's, or that several have; initials are one person's."""
    if any(person.initials.casefold() == wanted.casefold() for person in staff):
        return
    found = [person for person in staff if person.name.casefold() == wanted.casefold()]
    if len(found) != 1:
        known = ", ".join(person.initials for person in found or staff)
        what = (
            f"{len(found)} phlebotomists are called that; give the" if found else "nobody on this round is called that;"
        )
        raise typer.BadParameter(f"{what} initials: {known}", param_hint="--for")


def _file_name(words: str) -> str:
    """Return words as the name of a file: no blanks, nothing that means something to a system."""
    return re.sub(r"[^\w.-]+", "-", words).strip("-.")
