"""One date format a column: decides the order of day and month from all of a column's values together."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from planner.columns import TABLES, Kind
from planner.findings import Report, Severity
from planner.loaders.tables.records import Record, Table
from planner.loaders.values.moments import CONTRADICTED, ISO, NUMERIC, DayOrder, is_serial

_KINDS = {name: c.kind for table in TABLES.values() for name, c in table.columns.items()}
_DATES = [name for name, kind in _KINDS.items() if kind in (Kind.DATE, Kind.INSTANT)]
_MIDNIGHT = re.compile(r"\d[ T]+0?0:00(:00(\.0+)?)?$")


@dataclass(frozen=True, slots=True)
class DateColumn:
    """How the dates of one column are read: the order (None: not known), and the day numbering of the workbook.

    ``is_date_only``: every value is a date at 00:00, as programs write a date that never had a time.
    """

    order: DayOrder | None
    uses_1904: bool
    is_date_only: bool = False


DateColumns = Mapping[tuple[str, str, str], DateColumn]
"""By file, sheet and column."""


def decide_columns(tables: Iterable[Table], option: DayOrder | None, report: Report) -> DateColumns:
    """Return how to read every date column; columns that leave it open, or contradict themselves, are findings."""
    found: dict[tuple[str, str, str], DateColumn] = {}
    for table in tables:
        for name in _DATES:
            if name in table.columns:
                column = [record for record in table.records if record.text(name)]
                order = _decide(table, name, column, option, report)
                midnights = _KINDS[name] is Kind.DATE and _is_date_only(name, column, report)
                found[table.file, table.sheet, name] = DateColumn(order, table.uses_1904, midnights)
    return found


def _hint(table: Table, name: str) -> str:
    """Name another column of the table whose dates are of one order only; a hint for the person, no proof."""
    for other in _DATES:
        matches = [m for r in table.records if other != name and (m := NUMERIC.match(r.text(other)))]
        day_first = any(int(m[1]) > 12 for m in matches)
        if day_first != any(int(m[3]) > 12 for m in matches):
            return f" (the column {table.columns[other]!r} is {'day' if day_first else 'month'} first)"
    return ""


def _is_date_only(name: str, records: list[Record], report: Report) -> bool:
    if not records or not all(_MIDNIGHT.search(record.text(name)) for record in records):
        return False
    message = "every value of the column is a date at 00:00; they were read as dates without a time"
    report.add("midnight-means-no-time", Severity.WARNING, message, source=records[0].at(name))
    return True


def _decide(table: Table, name: str, records: list[Record], option: DayOrder | None, report: Report) -> DayOrder | None:
    numeric = [(r, m) for r in records if (m := NUMERIC.match(r.text(name)))]
    serial = [r for r in records if is_serial(r.text(name))]
    if serial:
        report.add(
            "excel-serial-date",
            Severity.WARNING,
            f"{len(serial)} values such as a spreadsheet's day numbers were read as dates; format the column as a date",
            source=serial[0].at(name),
        )
    if not numeric:
        return option
    if other := [r for r in records if ISO.match(r.text(name))] + serial:
        report.add(
            "dates-mixed",
            Severity.WARNING,
            f"the column mixes dates written year first ({len(other)}) with others ({len(numeric)}); a spreadsheet "
            "may have turned day and month round in some of them. Write all of them as 2026-01-31",
            source=other[0].at(name),
        )
    if option:
        return option
    dotted = all(m[2] == "." for _, m in numeric)
    day_first = [r for r, m in numeric if int(m[1]) > 12]
    month_first = [r for r, m in numeric if int(m[3]) > 12]
    if day_first and month_first:
        _report_contradiction(name, day_first[0], month_first[0], report)
        return CONTRADICTED
    if day_first or (dotted and not month_first):
        return "dmy"
    if month_first:
        return "mdy"
    if open_rows := [r for r, m in numeric if int(m[1]) != int(m[3])]:
        _report_ambiguity(name, open_rows, report, _hint(table, name))
    return None


def _report_contradiction(name: str, day_first: Record, month_first: Record, report: Report) -> None:
    report.add(
        "dates-contradict",
        Severity.ERROR,
        f"row {day_first.source.row} can only be day first and row {month_first.source.row} only month first; rows "
        "that could be either are set aside. Write all dates as 2026-01-31",
        source=month_first.at(name),
    )


def _report_ambiguity(name: str, rows: list[Record], report: Report, hint: str) -> None:
    report.add(
        "date-ambiguous",
        Severity.ERROR,
        f"{len(rows)} dates could be day first or month first, and no date of the column tells which; run again "
        f"with --date-order dmy or --date-order mdy{hint}",
        source=rows[0].at(name),
    )
