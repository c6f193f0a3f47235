"""Workbooks (.xlsx): every sheet to a grid of text, cell by cell with its number format."""

from __future__ import annotations

import warnings
import zipfile
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

from planner.finding_codes import Code
from planner.findings import Report, Severity, Source
from planner.loaders.formats.cells import cell_text
from planner.loaders.formats.csv_files import clean
from planner.loaders.formats.limits import MAX_CELLS, MAX_ROWS, too_many
from planner.loaders.formats.sheet_xml import SheetLook, look
from planner.loaders.formats.workbook_kind import UNREADABLE, refusal, workbook_fault
from planner.loaders.tables.records import FORMULA, Grid, Row

BLANK_ROWS_TO_END = 1000
"""So many empty rows end a sheet of which the last filled row is not known."""


def read_workbook(path: Path, data: bytes, report: Report) -> list[Grid]:
    """Return one grid a sheet, hidden ones included; an empty list with a finding when it cannot be read."""
    where = Source(file=path.name)
    if fault := workbook_fault(data):
        report.add(fault, Severity.ERROR, refusal(fault), source=where)
        return []
    try:
        return _read(path.name, data, report)
    except UNREADABLE:
        report.add("damaged-workbook", Severity.ERROR, refusal("damaged-workbook"), source=where)
        return []


def _read(file: str, data: bytes, report: Report) -> list[Grid]:
    from openpyxl import load_workbook

    with warnings.catch_warnings(), zipfile.ZipFile(BytesIO(data)) as archive:
        warnings.simplefilter("ignore")  # extensions that the reader does not keep; nothing of ours
        book = load_workbook(BytesIO(data), read_only=True, data_only=True)
        grids = []
        for sheet in book.worksheets:
            seen = look(archive, getattr(sheet, "_worksheet_path", "").lstrip("/"))
            if fault := _too_large(seen):
                report.add("input-too-large", Severity.ERROR, fault, source=Source(file=file, sheet=sheet.title))
                continue
            grid = _grid(file, sheet, book.epoch, seen)
            _note_hidden(grid, sheet.sheet_state, seen, report)
            grids.append(grid)
        book.close()
    return grids


def _too_large(seen: SheetLook) -> str:
    if seen.num_rows > MAX_ROWS:
        return too_many("rows", seen.num_rows, MAX_ROWS)
    return too_many("cells", seen.num_cells, MAX_CELLS) if seen.num_cells > MAX_CELLS else ""


def _grid(file: str, sheet: Any, epoch: Any, seen: SheetLook) -> Grid:
    sheet.reset_dimensions()
    rows: list[Row] = []
    blanks = 0
    for number, cells in enumerate(sheet.iter_rows(), start=1):
        row = _row(number, cells, epoch, seen)
        blanks = blanks + 1 if row.is_blank else 0
        if number > seen.last_filled if seen.last_filled is not None else blanks >= BLANK_ROWS_TO_END:
            break
        if not row.is_blank:
            rows.append(row)
    return Grid(file, sheet.title, sheet.title, tuple(rows), uses_1904=epoch.year == 1904)


def _row(number: int, cells: Any, epoch: Any, seen: SheetLook) -> Row:
    texts: list[str] = []
    flags: dict[int, Code] = {}
    for index, cell in enumerate(cells):
        value = cell.value
        if value is None:
            texts.append("")
            if seen.uncalculated and (number, index) in seen.uncalculated:
                flags[index] = FORMULA
            continue
        text, flag = cell_text(value, "" if isinstance(value, str) else cell.number_format, epoch)
        texts.append(clean(text))
        if flag:
            flags[index] = flag
    while texts and not texts[-1] and len(texts) - 1 not in flags:
        texts.pop()
    return Row(number, tuple(texts), flags)


def _note_hidden(grid: Grid, state: str, seen: SheetLook, report: Report) -> None:
    where = Source(file=grid.file, sheet=grid.sheet)
    if state != "visible" and grid.rows:
        report.add("hidden-sheet", Severity.WARNING, "this sheet is hidden; it was read all the same", source=where)
    filled = {row.number for row in grid.rows}
    hidden = [number for number in seen.hidden_rows if number in filled]
    if hidden:
        shown = ", ".join(map(str, hidden[:10])) + (f" and {len(hidden) - 10} more" if len(hidden) > 10 else "")
        message = f"hidden rows were read like the others: {shown}. Delete what is not meant for this round"
        report.add("hidden-rows", Severity.WARNING, message, source=replace(where, row=hidden[0]))
