"""What is known of every column of every input table: one row of columns.csv for each, read by all who need it."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from importlib.resources import files
from types import MappingProxyType

EXAMPLE = "EXAMPLE"
"""What the key of an example row begins with. Loaders leave such rows out as soon as there is a real order."""


class Kind(Enum):
    """What the cells of a column hold, as far as reading the table depends on it."""

    TEXT = "text"
    NAME = "name"
    """Names what the row is about: one such cell alone makes a row data, not a remark."""
    DATE = "date"
    """A date, a clock time or both; a column of dates at midnight holds dates without a time."""
    INSTANT = "instant"
    """The same, where a date without a time says nothing: midnight is taken as it stands."""


class Need(Enum):
    """Whether a column must be there."""

    TABLE = "table"
    """Without the column the table says nothing."""
    ASKED = "asked"
    """The starter workbook asks for the column; a table without it is read."""
    OPTIONAL = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of one table."""

    name: str
    kind: Kind
    need: Need
    words: tuple[str, ...]
    """Other headings that mean the column: English first, common German and French words besides."""
    is_private: bool
    """True when the text of a cell never stands in a message."""
    is_harmless: bool
    """True when a cell that cannot be read does not keep the order from being planned."""
    is_mark: bool
    """True when `EXAMPLE` at the beginning of a cell marks an example row."""
    note: str
    """Note on the heading in the starter workbook; a column without one is not in the workbook."""
    examples: tuple[str, ...]
    choices: tuple[str, ...]
    """Words that the drop-down list offers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TableColumns:
    """One table: other names of the file or sheet, and the columns in the order of the starter workbook."""

    words: tuple[str, ...]
    columns: Mapping[str, Column]

    @property
    def needed(self) -> tuple[str, ...]:
        """The names of the columns without which the table says nothing."""
        return tuple(column.name for column in self.columns.values() if column.need is Need.TABLE)

    @property
    def has_synonyms(self) -> bool:
        """False for the tables of the catalogue: their own reader knows the columns, each under one heading."""
        return any(column.words for column in self.columns.values())

    @property
    def in_starter(self) -> tuple[Column, ...]:
        """The columns that the starter workbook has."""
        return tuple(column for column in self.columns.values() if column.note)


def _parts(cell: str) -> tuple[str, ...]:
    return tuple(cell.split("|")) if cell else ()


def _column(row: Mapping[str, str], words: tuple[str, ...], num_examples: int) -> Column:
    flags = set(row["flags"].split())
    column = Column(
        name=row["column"],
        kind=Kind(row["kind"]),
        need=Need(row["need"]),
        words=words,
        is_private="private" in flags,
        is_harmless="harmless" in flags,
        is_mark="mark" in flags,
        note=row["note"],
        examples=_parts(row["examples"]) or ("",) * num_examples,
        choices=_parts(row["choices"]),
    )
    if flags - {"private", "harmless", "mark"}:
        raise ValueError(f"columns.csv: unknown flags of {row['table']}.{row['column']}: {row['flags']}")
    return column


def _tables() -> Iterator[tuple[str, TableColumns]]:
    text = (files("planner") / "columns" / "columns.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    words = {(row["table"], row["column"]): _parts(row["words"]) for row in rows}

    def resolved(word: str) -> tuple[str, ...]:
        """Return the words that a word such as ``=patients.ward`` stands for: those of another column."""
        table, _, column = word[1:].partition(".")
        return words[table, column] if word.startswith("=") else (word,)

    for table in dict.fromkeys(row["table"] for row in rows):
        own = [row for row in rows if row["table"] == table and row["column"]]
        num_examples = max(len(_parts(row["examples"])) for row in own)
        yield (
            table,
            TableColumns(
                words=words[table, ""],
                columns={
                    row["column"]: _column(
                        row, tuple(w for word in words[table, row["column"]] for w in resolved(word)), num_examples
                    )
                    for row in own
                },
            ),
        )


TABLES: Mapping[str, TableColumns] = MappingProxyType(dict(_tables()))
"""By our name of the table: those of a round, and the progress file."""
PRIVATE = frozenset(column.name for table in TABLES.values() for column in table.columns.values() if column.is_private)
"""Columns whose text never stands in a message, whatever the table."""
