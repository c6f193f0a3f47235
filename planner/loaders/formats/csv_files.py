"""Text tables: finds out delimiter and quoting, and turns a file into a grid of text."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from io import StringIO
from pathlib import Path

from planner.findings import Report, Severity, Source
from planner.loaders.formats.decoding import decode
from planner.loaders.formats.limits import MAX_ROWS, too_many
from planner.loaders.tables.headings import column_named
from planner.loaders.tables.records import Grid, Row

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "vertical bar"}
_SAMPLE_ROWS = 40
_FORMULA_TEXT = re.compile(r'^="(.*)"$')
_INVISIBLE = dict.fromkeys(map(ord, "​‌‍⁠﻿"))


_GUARDED = ("'=", "'+", "'-", "'@")


def clean(cell: str) -> str:
    """Return a cell without surrounding blanks, invisible characters and the ="..." that keeps zeros alive."""
    text = cell.translate(_INVISIBLE).replace("\xa0", " ").strip()
    if text.startswith(_GUARDED):
        text = text[1:]  # the apostrophe that keeps a spreadsheet from taking a text for a formula
    match = _FORMULA_TEXT.match(text) if text.startswith("=") else None
    return match[1].strip() if match else text


def read_csv(path: Path, data: bytes, report: Report, table: str | None = None) -> Grid:
    """Return the grid of a text file, with a note that names its encoding and delimiter."""
    where = Source(file=path.name)
    decoded = decode(data)
    text = decoded.text
    if decoded.is_torn:
        message = (
            f"the file is {decoded.encoding} and has lost a byte, after which nothing can be read. It was not read: "
            "export it again"
        )
        report.add("text-torn", Severity.ERROR, message, source=where)
        return Grid(path.name, "", path.stem, ())
    if (num_lines := max(text.count("\n"), text.count("\r"))) > MAX_ROWS:
        report.add("input-too-large", Severity.ERROR, too_many("lines", num_lines, MAX_ROWS), source=where)
        return Grid(path.name, "", path.stem, ())
    if decoded.has_lost_characters:
        report.add(
            "text-undecodable",
            Severity.WARNING,
            f"some characters are not {decoded.encoding} and show as �. Save the file as UTF-8",
            source=where,
        )
    delimiter, text = _delimiter(text, table or "orders")
    rows = list(_rows(text, delimiter, report, where))
    message = f"read as {decoded.encoding}, columns separated by {DELIMITERS[delimiter]}"
    report.add("file-format", Severity.NOTE, message, source=where)
    return Grid(path.name, "", path.stem, tuple(rows))


def _delimiter(text: str, table: str) -> tuple[str, str]:
    """Return the delimiter and the text after a possible 'sep=;' line.

    The delimiter under which most headings are known wins; then the one that cuts most rows into the same
    number of cells.
    """
    if (match := re.match(r"sep=(.)\r?\n", text)) and match[1] in DELIMITERS:
        return match[1], text[match.end() :]
    sample = [line for line in text[:100_000].splitlines() if line.strip()][:_SAMPLE_ROWS]
    return max(DELIMITERS, key=lambda d: _fit(sample, d, table)), text


def _fit(sample: list[str], delimiter: str, table: str) -> tuple[int, int]:
    known, widths = 0, [0]
    for line in sample:
        cells = [cell.strip(' "') for cell in line.split(delimiter)]
        if table in ("tests", "tubes"):
            known = max(known, len(cells) if "test" in cells or "code" in cells else 0)
        else:
            known = max(known, sum(column_named(table, cell) is not None for cell in cells if cell))
        widths.append(len(cells) if len(cells) > 1 else 0)
    usual = max(set(widths), key=widths.count)
    return known, widths.count(usual) * usual


def _rows(text: str, delimiter: str, report: Report, where: Source) -> Iterator[Row]:
    cells_by_row = _split(text, delimiter)
    if cells_by_row is None:
        report.add(
            "open-quote",
            Severity.WARNING,
            "a quotation mark is opened and not closed; every line was read as a row of its own. Look for a stray "
            'quotation mark, or write it twice ("") inside quotes',
            source=where,
        )
        cells_by_row = [_one_line(line, delimiter) for line in text.splitlines()]
    for number, cells in enumerate(cells_by_row, start=1):
        yield Row(number, tuple(clean(cell) for cell in cells))


def _split(text: str, delimiter: str) -> list[list[str]] | None:
    """Return the rows as the quotes say; None when a quote swallows the rows that follow it."""
    try:
        rows = list(csv.reader(StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except csv.Error:
        return None
    usual = max((len(row) for row in rows[:_SAMPLE_ROWS]), default=0)
    for row in rows:
        if any("\n" in cell and cell.count(delimiter) >= max(min(2, usual - 1), usual - 2, 1) for cell in row):
            return None
    return rows


def _one_line(line: str, delimiter: str) -> list[str]:
    """Split one physical line; where its quotes are broken, split at every delimiter."""
    try:
        return next(csv.reader([line], delimiter=delimiter, strict=True), [])
    except csv.Error:
        return [cell.strip('"') for cell in line.split(delimiter)]
