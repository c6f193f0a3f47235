"""Raw records: the text of one row under our own column names, with the place in the file where it stands."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from planner.columns import TABLES, Kind
from planner.domain.plan import SetAside
from planner.finding_codes import Code
from planner.findings import Source
from planner.loaders.names.known import SiteNames
from planner.loaders.names.row import NameRow
from planner.units import Moment

LONG_NUMBER: Code = "long-number"
ERROR_CELL: Code = "error-cell"
FORMULA: Code = "formula-not-calculated"
TOO_LONG: Code = "row-too-long"
TOO_SHORT: Code = "row-too-short"
CONTROL: Code = "control-character"
_CONTROLS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")
"""Control characters (ISO 6429) but tab and line feed, which a cell may hold."""
_CODES = frozenset(
    {c.name for c in TABLES["orders"].columns.values() if not c.is_harmless}
    | {c.name for c in TABLES["patients"].columns.values() if c.kind is Kind.NAME or c.name in ("ward", "bed")}
)


def control_flags(values: Mapping[str, str]) -> dict[str, Code]:
    """Return the flags of cells, by our name, that hold codes, numbers or times with a control character in them.

    Nobody sees it, and what is compared without signs would take such a code for another.
    """
    return {name: CONTROL for name, text in values.items() if name in _CODES and _CONTROLS.search(text)}


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a file: its number from 1, its cells as text, and what is wrong with a cell, by column index."""

    number: int
    cells: tuple[str, ...]
    flags: Mapping[int, Code] = field(default_factory=dict)

    @property
    def is_blank(self) -> bool:
        """True when nothing stands in the row, a cell that could not be read included."""
        return not self.flags and not any(self.cells)


@dataclass(frozen=True, slots=True)
class Grid:
    """One CSV file or one sheet: rows of text before anybody knows what the columns mean."""

    file: str
    sheet: str
    name: str
    """File stem or sheet name: what the table may be called."""
    rows: tuple[Row, ...]
    uses_1904: bool = False
    """True when the workbook counts days from 1904."""


@dataclass(frozen=True, slots=True)
class Record:
    """One data row: its filled cells under our column names.

    ``headings`` gives the heading as the file writes it; ``flags`` what is wrong with a cell, by our name
    (the key ``*`` concerns the whole row).
    """

    values: Mapping[str, str]
    source: Source
    headings: Mapping[str, str]
    flags: Mapping[str, Code] = field(default_factory=dict)
    fault: SetAside | None = None
    """Why the order is not planned, where its message says so."""
    moments: Mapping[str, Moment] = field(default_factory=dict)
    """Times that a message states, by our name; the text beside each is for people, and is not read again."""
    unmapped: Mapping[str, str] = field(default_factory=dict)
    """Filled cells of columns that are not recognised, by heading: only those that tell one row from others."""
    other_tests: tuple[str, ...] = ()
    """Cells of further columns that mean the test too, where they differ from the first."""

    def text(self, name: str) -> str:
        """Return the cell's text, empty when there is none."""
        return self.values.get(name, "")

    def at(self, name: str) -> Source:
        """Return the place of one cell."""
        return replace(self.source, column=self.headings.get(name, name))


@dataclass(frozen=True, slots=True)
class Table:
    """The records of one file or sheet, and the columns that were recognised."""

    name: str
    file: str
    sheet: str
    columns: Mapping[str, str]
    """Our column name to the heading as written."""
    records: tuple[Record, ...]
    uses_1904: bool = False
    remarks: Mapping[int, str] = field(default_factory=dict)
    """Rows of text, by number, that were taken for no data."""
    titles: frozenset[int] = frozenset()
    """Those of them that stand above the headings."""

    @property
    def source(self) -> Source:
        """The file and sheet."""
        return Source(file=self.file, sheet=self.sheet)


@dataclass(slots=True)
class RawRound:
    """Everything that was read of a round, before it is checked."""

    name: str
    tables: list[Table] = field(default_factory=list)
    policy_text: str | None = None
    sign_off_text: str | None = None
    """The laboratory's confirmation of its values, as it was written."""
    sources: list[str] = field(default_factory=list)
    messages: list[tuple[str, bytes]] = field(default_factory=list)
    """Files of electronic messages: name and bytes."""
    name_rows: list[NameRow] = field(default_factory=list)
    """The rows of the site's tables of names, confirmed or not."""
    column_names: SiteNames = field(default_factory=SiteNames)
    """The site's confirmed names of columns."""
    grids: list[tuple[str, Grid]] = field(default_factory=list)
    """What was read as which of our tables, usable or not."""

    def of(self, name: str) -> list[Table]:
        """Return the tables of one kind."""
        return [t for t in self.tables if t.name == name]

    def records(self, name: str) -> Iterator[Record]:
        """Yield all records of one kind of table."""
        for table in self.of(name):
            yield from table.records


def rows_of(records: Sequence[Record]) -> str:
    """Return where records stand, for a sentence: 'rows 5 and 7' of one table, else each with its file or message."""
    sources = [record.source for record in records]
    first = sources[0]
    if all((s.file, s.sheet) == (first.file, first.sheet) and s.row is not None and not s.is_message for s in sources):
        shown, word = [str(source.row) for source in sources], "rows "
    else:
        shown, word = [str(replace(source, column="")) for source in sources], ""
    return word + " and ".join([", ".join(shown[:-1]), shown[-1]] if len(shown) > 1 else shown)
