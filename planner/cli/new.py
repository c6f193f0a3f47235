"""``planner new``: a starter workbook to fill in."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

STARTER_FILE = "round.xlsx"


def new(
    folder: Annotated[
        Path,
        typer.Argument(metavar="DIR", help="Folder for the workbook; made when it is not there.", show_default=False),
    ],
) -> None:
    """Write a starter workbook: one sheet a table, headings, drop-downs, two example rows, notes on every column.

    Its sheet 'test codes' lists every test of the catalogue with its tubes; the column 'test' offers the codes.
    Overwrite the example rows, then run: planner plan DIR
    """
    from planner.exporters.files import write_atomic
    from planner.exporters.workbook.starter import starter_workbook
    from planner.loaders.catalogue.load import load_catalogue

    path = folder / STARTER_FILE
    if path.exists():
        raise typer.BadParameter(f"{path} is there already; name another folder, or move it away", param_hint="DIR")
    catalogue, _ = load_catalogue()
    write_atomic(path, starter_workbook(catalogue.tests.values(), catalogue.tubes))
    typer.echo(f"{path} written. Overwrite the example rows, then run: planner plan {folder}")
