"""``planner.names``: what a round calls by names that are not known, in a table in which a person confirms them."""

from __future__ import annotations

from pathlib import Path

from planner.exporters.csv_text import csv_bytes
from planner.exporters.files import write_atomic
from planner.loaders.names.collect import RoundNames, names_of_round
from planner.loaders.names.row import HEADINGS

__all__ = ["RoundNames", "names"]


def names(path: str | Path, *, site: str | Path | None = None, file: str | Path | None = None) -> RoundNames:
    """Return the table of names for a round, and write it if there are names that it does not have yet.

    Rows that the file has stay as a person left them. A file of which a row cannot be read is not written
    (``can_write`` is False): its rows would be lost.

    Parameters
    ----------
    path
        A folder of tables, one workbook, or a single order list.
    site
        Folder with the site's own tables for all its rounds. Default: the policy's ``site_folder``, if it is set.
    file
        The file of the table. Default: ``names.csv`` in ``site``, else in the round's folder, or beside a round of one
        file.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    found = names_of_round(
        Path(path), site=None if site is None else Path(site), file=None if file is None else Path(file)
    )
    if found.num_new and found.can_write:
        write_atomic(found.file, csv_bytes([HEADINGS, *(row.cells for row in found.rows)]))
    return found
