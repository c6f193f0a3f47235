"""``planner names``: a site's own words for columns, tests, wards, precautions and alerts, to be confirmed once."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli.exit_codes import ExitCode
from planner.cli.options import RoundPath, Site
from planner.cli.terminal import print_findings
from planner.findings import printable

if TYPE_CHECKING:
    from planner.loaders.names.collect import RoundNames
    from planner.loaders.names.row import NameRow


def names(
    path: RoundPath,
    site: Site = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="FILE",
            help="File of the table. Default: names.csv in the folder of --site, else in the round's folder, or beside "
            "a round of one file.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """List what a round calls by names that are not known here, and write a table in which a person confirms them.

    Columns, tests, wards, precautions and short alerts, each with the nearest known meaning. In the column confirm
    write yes, no, or the meaning. Confirmed names are used by every command from then on; nothing else is. Exit 3:
    names wait.
    """
    from planner.library.naming import names as names_of

    found = names_of(path, site=site, file=out)
    print_findings(f for f in found.findings if f.code not in _SHOWN_AS_ROWS)
    _print_rows(found)
    if not found.can_write:
        typer.echo(f"{found.file} was not written; put the rows above right first")
        raise typer.Exit(ExitCode.NO_PLAN)
    if found.num_new:
        typer.echo(f"{found.file}: {found.num_new} new. Write yes, no, or the meaning in the column confirm.")
    if found.waiting:
        raise typer.Exit(ExitCode.NEEDS_DECISION)


_SHOWN_AS_ROWS = frozenset({"extra-columns", "name-open"})
"""Findings whose content the list of names shows."""


def _print_rows(found: RoundNames) -> None:
    waiting = found.waiting
    if not waiting:
        typer.echo("No name waits for a confirmation.")
        return
    for kind, rows in _by_kind(waiting).items():
        typer.echo(f"{kind.capitalize()}s")
        for row in rows:
            typer.echo(printable(f"  {_line(row)}"))


def _by_kind(rows: Sequence[NameRow]) -> dict[str, list[NameRow]]:
    kinds: dict[str, list[NameRow]] = {}
    for row in rows:
        kinds.setdefault(row.kind.value, []).append(row)
    return kinds


def _line(row: NameRow) -> str:
    means = f"{row.proposed}?" if row.proposed else "nothing near is known"
    return f"{row.found} ({row.where}): {means}" + (f"  [{row.note}]" if row.note else "")
