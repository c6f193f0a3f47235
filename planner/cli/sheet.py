"""``planner sheet``: writes the sheets of a plan again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner.cli.options import AcceptEdited, Paper, PaperOption


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
            help="Name or initials of one phlebotomist; a bed, patient number or order number means the one who draws "
            "there. Default: everybody.",
            show_default=False,
        ),
    ] = None,
    paper: PaperOption = Paper.A4,
    large_print: Annotated[
        bool, typer.Option("--large-print", help="Letters 1.4 times as large, across the paper. Default: ordinary.")
    ] = False,
    accept_edited: AcceptEdited = False,
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
    from planner.cli.terminal import print_findings
    from planner.library.sheets import write_sheets

    files, findings = write_sheets(
        path, only=only, paper=paper.value, large_print=large_print, pdf=pdf, accept_edited=accept_edited
    )
    print_findings(findings)
    for file in files:
        typer.echo(f"{file} written")
