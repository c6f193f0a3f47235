"""A cheap look into a sheet's XML for what cell-by-cell reading does not tell: hidden rows, formulas without value."""

from __future__ import annotations

import re
import zipfile
from dataclasses import dataclass

from planner.loaders.formats.limits import MAX_CELLS, MAX_ROWS

_ROW = re.compile(rb"<(?:\w+:)?row\b([^>]*)>")
_NUMBER = re.compile(rb'\br="(\d+)"')
_HIDDEN = re.compile(rb'\bhidden="(?:1|true)"')
_CELL = re.compile(rb"<(?:\w+:)?c\b([^>]*)>\s*<(?:\w+:)?f\b(?:[^>]*/>|[^>]*>[^<]*</(?:\w+:)?f>)(.{0,12})", re.DOTALL)
_REF = re.compile(rb'\br="([A-Z]+)(\d+)"')
_VALUE = re.compile(rb"\s*<(?:\w+:)?v>[^<]")
_FILLING = (b"</v>", b":v>", b"<f>", b"<f ", b":f>", b":f ", b"</t>", b":t>")
"""Signs of a value, a formula or a text inside the sheet."""
_TEXT_TYPE = re.compile(rb"\bt=[\"']str[\"']")
_EMPTY_VALUE = re.compile(rb"\s*<(?:\w+:)?v(?: [^>]*)?/?>")
"""A formula of type text with an empty value: its result is the empty text."""


@dataclass(frozen=True, slots=True)
class SheetLook:
    """Hidden row numbers, cells (row, column index from 0) whose formula has no stored value, and the last filled row.

    ``last_filled`` is None when it is not known, 0 when nothing is filled.
    """

    hidden_rows: tuple[int, ...] = ()
    uncalculated: frozenset[tuple[int, int]] = frozenset()
    last_filled: int | None = None
    num_rows: int = 0
    num_cells: int = 0


def look(archive: zipfile.ZipFile, part: str) -> SheetLook:
    """Return what a sheet's XML says; nothing when the part is not there."""
    if part not in archive.namelist():
        return SheetLook()
    data = archive.read(part)
    num_rows = data.count(b"<row") + data.count(b":row ") + data.count(b":row>")
    num_cells = data.count(b"<c ") + data.count(b"<c/") + data.count(b"<c>") + data.count(b":c ") + data.count(b":c/")
    if num_rows > MAX_ROWS or num_cells > MAX_CELLS:
        return SheetLook(num_rows=num_rows, num_cells=num_cells)
    return SheetLook(_hidden(data), _uncalculated(data), _last_filled(data), num_rows, num_cells)


def _last_filled(data: bytes) -> int:
    """Return the number of the last row that holds a value, a text or a formula; styled cells alone do not count."""
    end = max(data.rfind(sign) for sign in _FILLING)
    if end < 0:
        return 0
    begin = data.rfind(b"<", 0, max(data.rfind(b"<row", 0, end), data.rfind(b":row", 0, end), 0) + 1)
    row = _ROW.match(data, max(begin, 0))
    number = _NUMBER.search(row[1]) if row else None
    return int(number[1]) if number else sum(1 for _ in _ROW.finditer(data, 0, end))


def _hidden(data: bytes) -> tuple[int, ...]:
    if b"hidden=" not in data:
        return ()
    rows = []
    for index, match in enumerate(_ROW.finditer(data), start=1):
        if _HIDDEN.search(match[1]):
            number = _NUMBER.search(match[1])
            rows.append(int(number[1]) if number else index)
    return tuple(rows)


def _uncalculated(data: bytes) -> frozenset[tuple[int, int]]:
    found = set()
    for match in _CELL.finditer(data) if b"<f" in data or b":f" in data else ():
        reference = _REF.search(match[1])
        is_empty_text = _TEXT_TYPE.search(match[1]) and _EMPTY_VALUE.match(match[2])
        if reference and not is_empty_text and not _VALUE.match(match[2]):
            found.add((int(reference[2]), _column(reference[1])))
    return frozenset(found)


def _column(letters: bytes) -> int:
    """Return the index from 0 of a column by its letters (A 0, Z 25, AA 26)."""
    index = 0
    for letter in letters:
        index = index * 26 + letter - 64
    return index - 1
