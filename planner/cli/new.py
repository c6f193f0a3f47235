"""``planner new``: a starter workbook to fill in."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


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
    import planner

    path = planner.new(folder)
    typer.echo(f"{path} written. Overwrite the example rows, then run: planner plan {folder}")
