"""The starter workbook: an empty round with headings, drop-downs, notes and example rows, ready to be filled in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from io import BytesIO
from typing import TYPE_CHECKING, Any

from planner.columns import EXAMPLE, TABLES, Column, Need
from planner.domain.catalogue import LabTest, TubeCode, TubeType

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

CODES_SHEET = "test codes"
READ_ME_SHEET = "read me"
_ROWS_WITH_CHOICES = 1000
_READ_ME = (
    "One sheet a table. Only 'orders' and the beds of 'patients' are needed; everything else has a default.",
    f"Rows that begin with {EXAMPLE} show how to fill in a sheet. Overwrite or delete them; as soon as there is a",
    "real order, rows that still begin with it are left out.",
    "Dark headings are required. Every heading has a note; point at it.",
    "All cells are text, so that leading zeros stay. Times: 05:30, or 2026-01-31 05:30.",
    "Bed numbers may be repeated from ward to ward: give ward and bed. Elsewhere bed 3A of Heron is Heron/3A.",
    "Several floors: fill in 'floor' in the sheet 'places', and add a row of kind lift or stairs: Lift A, lift, 0, 0.",
    "When a ward needs its results: sheet 'policy', key round.needed_by.Heron, value 08:30.",
    "Then run: planner plan FOLDER",
)


def starter_workbook(tests: Iterable[LabTest] = (), tubes: Mapping[TubeCode, TubeType] | None = None) -> bytes:
    """Return the bytes of the starter workbook; with tests, a sheet lists their codes to choose from.

    ``tubes`` puts the colour of the closure beside the code of each tube.
    """
    from openpyxl import Workbook

    book = Workbook()
    for sheet in book.worksheets:
        book.remove(sheet)
    for title, table in TABLES.items():
        if table.in_starter:
            _fill(book.create_sheet(title), table.in_starter)
    listed = sorted(tests, key=lambda test: test.code)
    if listed:
        _list_codes(book, listed, tubes or {})
    _write_read_me(book)
    stream = BytesIO()
    book.save(stream)
    return stream.getvalue()


def _fill(sheet: Worksheet, columns: Iterable[Column]) -> None:
    from openpyxl.utils import get_column_letter

    sheet.freeze_panes = "A2"
    for index, column in enumerate(columns, start=1):
        letter = get_column_letter(index)
        width = max(12, len(column.name) + 3, *(len(text) + 2 for text in column.examples))
        sheet.column_dimensions[letter].width = width
        sheet.column_dimensions[letter].number_format = "@"
        _write_heading(sheet.cell(row=1, column=index), column)
        for row, text in enumerate(column.examples, start=2):
            _write_example(sheet.cell(row=row, column=index), text)
        if column.choices:
            _add_choices(sheet, letter, column)


def _write_heading(cell: Any, column: Column) -> None:
    from openpyxl.comments import Comment
    from openpyxl.styles import Alignment, Font, PatternFill

    is_required = column.need is not Need.OPTIONAL
    fill, ink = ("333333", "FFFFFF") if is_required else ("D9D9D9", "000000")
    cell.value = column.name
    cell.font = Font(bold=True, color=ink)
    cell.fill = PatternFill("solid", start_color=fill)
    cell.alignment = Alignment(vertical="top")
    note = Comment(f"{'Required. ' if is_required else ''}{column.note}", "planner")
    note.width, note.height = 320, 90
    cell.comment = note


def _write_example(cell: Any, text: str) -> None:
    from openpyxl.styles import Font

    cell.value = text or None
    cell.number_format = "@"
    cell.font = Font(italic=True, color="7F7F7F")


def _add_choices(sheet: Worksheet, letter: str, column: Column) -> None:
    """Offer the choices, and accept other words too: the loader says which it does not know."""
    from openpyxl.worksheet.datavalidation import DataValidation

    choices = DataValidation(type="list", formula1=f'"{",".join(column.choices)}"', allow_blank=True)
    choices.showErrorMessage = False
    choices.prompt, choices.promptTitle, choices.showInputMessage = column.note[:250], column.name, True
    sheet.add_data_validation(choices)
    choices.add(f"{letter}2:{letter}{_ROWS_WITH_CHOICES}")


def _list_codes(book: Workbook, tests: Iterable[LabTest], tubes: Mapping[TubeCode, TubeType]) -> None:
    from openpyxl.worksheet.datavalidation import DataValidation

    sheet = book.create_sheet(CODES_SHEET)
    sheet.append(["code", "name", "tubes", "LOINC"])
    for test in tests:
        sheet.append([test.code, test.name, tubes_words(test, tubes), test.loinc])
    for row in sheet.iter_rows(min_row=2):
        for cell in row:
            cell.number_format = "@"
    for letter, width in zip("ABCD", (12, 60, 60, 12), strict=True):
        sheet.column_dimensions[letter].width = width
    sheet.freeze_panes = "A2"
    choices = DataValidation(type="list", formula1=f"'{CODES_SHEET}'!$A$2:$A${sheet.max_row}", allow_blank=True)
    choices.showErrorMessage = False
    orders = book["orders"]
    letter = "ABCDEFGHIJ"[[column.name for column in TABLES["orders"].in_starter].index("test")]
    orders.add_data_validation(choices)
    choices.add(f"{letter}2:{letter}{_ROWS_WITH_CHOICES}")


def tubes_words(test: LabTest, tubes: Mapping[TubeCode, TubeType]) -> str:
    """Return the tubes that serve a test, the preferred first: 'HEPG (light green) or SERG (gold)'."""
    named = {code: f"{code} ({kind.closure})" for code, kind in tubes.items()}
    number = f"{test.containers} x " if test.containers > 1 and len(test.accepts[0]) == 1 else ""
    return number + " or ".join(" + ".join(named.get(code, code) for code in kinds) for kinds in test.accepts)


def _write_read_me(book: Workbook) -> None:
    sheet = book.create_sheet(READ_ME_SHEET)
    sheet.column_dimensions["A"].width = 110
    for line in _READ_ME:
        sheet.append([line])
