"""Example rows of the starter workbook: left out as soon as there is a real order."""

from __future__ import annotations

from dataclasses import replace

from planner.columns import EXAMPLE, TABLES
from planner.findings import Report, Severity
from planner.loaders.tables.records import RawRound, Record, Table

HELP_SHEETS = frozenset({"read me", "test codes"})
"""Sheets of the starter workbook that are for the reader."""


def leave_out_examples(raw: RawRound, report: Report) -> None:
    """Take example rows out of all tables if a real order is there; with examples only, keep and say so."""
    orders = list(raw.records("orders"))
    real = [record for record in orders if not _is_example("orders", record)]
    if orders and not real:
        message = "only the example orders of the starter workbook are here; overwrite them with the round's orders"
        report.add("example-rows", Severity.WARNING, message, source=orders[0].source)
    if real:
        raw.tables = [kept for table in raw.tables if (kept := _without_examples(table, report)) is not None]


def _without_examples(table: Table, report: Report) -> Table | None:
    """Return the table without its example rows; None when nothing but those stood in it."""
    kept = tuple(record for record in table.records if not _is_example(table.name, record))
    left_out = [record for record in table.records if _is_example(table.name, record)]
    if not left_out:
        return table
    rows = ", ".join(str(record.source.row) for record in left_out)
    message = f"{table.name}: example rows of the starter workbook were left out: {rows}"
    report.add("example-rows", Severity.NOTE, message, source=left_out[0].source)
    return replace(table, records=kept) if kept else None


def _is_example(table: str, record: Record) -> bool:
    return any(c.is_mark and record.text(c.name).startswith(EXAMPLE) for c in TABLES[table].columns.values())
