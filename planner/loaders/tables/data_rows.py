"""Which rows of a grid hold data: above and below the headings, too short, too long, repeated, or a remark."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from planner.columns import TABLES, Kind
from planner.findings import Report, Severity, Source
from planner.loaders.names.known import SiteNames
from planner.loaders.tables.headings import Columns, column_named, plain
from planner.loaders.tables.records import Grid, Row

_SHORT_SHARE = 20
"""One row in so many may be short and is then taken for damaged; more of them are a habit (engineering choice)."""
_ROWS_TO_COMPARE = 4
_NAMING = frozenset(c.name for t in TABLES.values() for c in t.columns.values() if c.kind is Kind.NAME)
_ORDER_NUMBER = re.compile(
    r"^(?!(?:p|page|pages|seite|blatt|sheet|list|total|totals|ward|station|unit|bay|room|zimmer|floor|bed|team|row)\b)"
    r"[\w./-]{1,8} (?=\S*\d)\S{1,15}$",
    re.IGNORECASE,
)
"""An order number of two parts such as 'AL 3', and not the number of a page or a ward."""
_VALUE = re.compile(r"[A-Za-z]{0,4}\d[\d.:/-]*\d\d$")
"""A date, a time, a number of three or more digits or an identifier: what is no name of a column."""


def rows_above(
    table: str, rows: Sequence[Row], columns: Columns, report: Report, where: Source, own: SiteNames | None
) -> list[Row]:
    """Return the rows above the headings that are data: a list may have been sorted together with its headings."""
    data = [row for row in rows if looks_like_data(table, row, columns, own)]
    others = [row for row in rows if row not in data]
    # beside rows of data a row of several cells is no title, but may be the rest of one
    torn = [row.number for row in others if data and sum(map(bool, row.cells)) > 1]
    if torn:
        message = (
            f"{_numbers(torn)} above the headings stand among rows of data and were not read. Put the headings first, "
            "and see that every order stands in one row"
        )
        report.add("title-rows", Severity.ERROR, message, source=replace(where, row=torn[0]))
    if titles := [row.number for row in others if row.number not in torn]:
        message = f"{_numbers(titles)} above the headings: not read as data"
        report.add("title-rows", Severity.NOTE, message, source=replace(where, row=titles[0]))
    if data:
        message = (
            f"{_numbers([row.number for row in data])} above the headings look like data and were read; the list may "
            "have been sorted together with its headings. Put the headings first"
        )
        report.add("rows-above-headings", Severity.WARNING, message, source=replace(where, row=data[0].number))
    return data


def data_rows(rows: Sequence[Row], columns: Columns, report: Report, where: Source) -> tuple[list[Row], dict[int, str]]:
    """Leave out repeated headings and rows of text (a footer, a page number), naming each; return the texts too."""
    headings = [heading for _, heading in columns]
    repeated, texts, data = [], [], []
    for row in rows:
        if repeats(row, headings):
            repeated.append(row.number)
        elif is_text_row(row, columns):
            texts.append(row)
        else:
            data.append(row)
    if repeated:
        at = replace(where, row=repeated[0])
        report.add("repeated-headings", Severity.NOTE, f"{_numbers(repeated)}: headings again, not data", source=at)
    if texts:
        where_texts = _numbers([row.number for row in texts])
        message = (
            f"{where_texts}: one cell of text in a table of {len(columns)} columns, taken as a remark and not as "
            "data; look whether something was to be read there"
        )
        report.add("text-row", Severity.WARNING, message, source=replace(where, row=texts[0].number))
    return data, {row.number: " ".join(row.cells).strip() for row in texts}


def short_rows(grid: Grid, rows: Sequence[Row], columns: Columns) -> set[int]:
    """Return the numbers of rows of a text file that have fewer cells than headings, where nearly all have as many.

    Where several rows are short, the program that wrote them leaves out empty cells at the end; then that is no damage.
    """
    if grid.sheet:
        return set()
    short = [row.number for row in rows if len(row.cells) < len(columns)]
    return set(short) if len(short) <= max(1, len(rows) // _SHORT_SHARE) and len(rows) >= _ROWS_TO_COMPARE else set()


def long_rows(grid: Grid, rows: Sequence[Row], columns: Columns) -> set[int]:
    """Return the numbers of rows of a text file with more cells than headings, empty ones counted, unlike the others.

    Where several rows are long, the program that wrote them ends each with a separator; then that is no damage.
    """
    if grid.sheet:
        return set()
    long = [row.number for row in rows if len(row.cells) > len(columns)]
    return set(long) if len(long) <= max(1, len(rows) // _SHORT_SHARE) and len(rows) >= _ROWS_TO_COMPARE else set()


def report_doubtful(table: str, columns: Columns, report: Report, where: Source) -> None:
    """Say that the row taken for headings may be one of data: dates and numbers stand in it where names belong."""
    values = [heading for name, heading in columns if name is None and _VALUE.match(heading)]
    if len(values) > 1 and TABLES[table].has_synonyms:
        message = (
            f"{table}: {len(values)} cells of the row taken for headings hold dates or numbers, so it may be a row of "
            "data and the headings lost. Write the headings above the rows"
        )
        report.add("headings-doubtful", Severity.ERROR, message, source=where)


def looks_like_data(table: str, row: Row, columns: Columns, own: SiteNames | None) -> bool:
    """A title fills a few cells; a row of data fills the needed columns, or half of those that are known."""
    known = [index for index, (name, _) in enumerate(columns) if name]
    needed = [i for i, (name, _) in enumerate(columns) if name in TABLES[table].needed and name != "test"]
    tests = {i for i, (name, _) in enumerate(columns) if name in ("test", "loinc", "test_name")}
    filled = {index for index in range(len(row.cells)) if row.cells[index] or index in row.flags}
    has_needed = len(filled) > 2 and filled.issuperset(needed) and not (tests and filled.isdisjoint(tests))
    is_half_full = len(filled) > 2 and 2 * len(filled.intersection(known)) > len(known)
    words = sum(column_named(table, c, own) is not None for c in row.cells if c) if TABLES[table].has_synonyms else 0
    return (has_needed or is_half_full or len(filled) == len(known) < 3) and 2 * words < len(filled)


def repeats(row: Row, headings: Sequence[str]) -> bool:
    """Return whether a row says the headings again, as each page of a printed list does."""
    pairs = [(cell, headings[i] if i < len(headings) else "") for i, cell in enumerate(row.cells) if cell]
    same = sum(plain(cell) == plain(heading) != "" for cell, heading in pairs)
    return same >= 2 and same == len(pairs)


def is_text_row(row: Row, columns: Columns) -> bool:
    """One filled cell among four or more columns, and not in a column that could name an order or a patient."""
    filled = [i for i, cell in enumerate(row.cells) if cell]
    if len(columns) < 4 or len(filled) != 1 or row.flags:
        return False
    name = columns[filled[0]][0] if filled[0] < len(columns) else None
    if filled[0] == 0:
        is_number = name == "order_number" and _ORDER_NUMBER.match(row.cells[0]) is not None
        return (" " in row.cells[0] and not is_number) or name not in _NAMING
    return name not in _NAMING


def _numbers(numbers: Sequence[int]) -> str:
    shown = ", ".join(str(n) for n in numbers[:10]) + (f" and {len(numbers) - 10} more" if len(numbers) > 10 else "")
    return f"{'row' if len(numbers) == 1 else 'rows'} {shown}"
