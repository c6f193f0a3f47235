"""A grid of text to a table of records: finds the heading row, skips what is not data, and says what it skipped."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, replace

from planner.columns import TABLES
from planner.findings import Report, Severity, Source
from planner.loaders.names.known import SiteNames
from planner.loaders.tables.data_rows import (
    data_rows,
    long_rows,
    looks_like_data,
    repeats,
    report_doubtful,
    rows_above,
    short_rows,
)
from planner.loaders.tables.headings import Columns, columns_of, may_be_headings, nearest_column
from planner.loaders.tables.near_safety import column_in_words, safety_column_near
from planner.loaders.tables.records import TOO_LONG, TOO_SHORT, Grid, Record, Row, Table, control_flags
from planner.loaders.values.fields import word

HEADING_ROWS_SEARCHED = 30
_OF_PATIENTS = ("orders", "patients")

_DIGIT = re.compile(r"\d")


def score(table: str, grid: Grid, own: SiteNames | None = None) -> int:
    """Return how many headings of a table of ours the grid has; 0 when a needed one is missing."""
    columns = _find_headings(table, grid.rows, own)[2]
    names = {name for name, _ in columns if name}
    return 0 if _missing(table, names) else len(names)


def lacking_column(table: str, grid: Grid, own: SiteNames | None = None) -> str | None:
    """Return what to say of a grid that has three or more headings of a table but lacks a needed one."""
    columns = _find_headings(table, grid.rows, own)[2]
    names = {name for name, _ in columns if name}
    missing = _missing(table, names)
    return _missing_message(table, missing, columns) if missing and len(names) > 2 else None


def read_table(table: str, grid: Grid, report: Report, own: SiteNames | None = None) -> Table | None:
    """Return the records of a grid, or None with a finding when it has no usable heading row.

    ``own`` are the site's own names of columns.
    """
    where = Source(file=grid.file, sheet=grid.sheet)
    rows = [row for row in grid.rows if not row.is_blank]
    if not rows:
        report.add(
            "table-empty",
            Severity.WARNING,
            f"{table}: nothing stands in it; write a heading row and rows",
            source=where,
        )
        return None
    first, last, columns = _find_headings(table, rows, own)
    columns, doubled = _without_repeats(columns)
    names = {name: heading for name, heading in columns if name}
    report_doubtful(table, columns, report, where)
    if missing := _missing(table, names):
        report.add("missing-column", Severity.ERROR, _missing_message(table, missing, columns), source=where)
        return None
    above = rows_above(table, rows[:first], columns, report, where, own)
    data, remarks = data_rows([*above, *rows[last + 1 :]], columns, report, where)
    _report_repeats(table, columns, doubled, data, report, where)
    _report_extras(table, columns, doubled, data, report, where, own)
    short, long = short_rows(grid, data, columns), long_rows(grid, data, columns)
    telling = _telling(table, columns, data)
    records = tuple(_record(table, grid, row, columns, doubled, names, telling, short=short, long=long) for row in data)
    titles = {row.number: " ".join(row.cells) for row in rows[:first] if row not in above}
    return Table(table, grid.file, grid.sheet, names, records, grid.uses_1904, {**titles, **remarks}, frozenset(titles))


@dataclass(frozen=True, slots=True)
class UnknownColumn:
    """A column with content that is not recognised: its heading, its cells, and our columns that no other one means."""

    heading: str
    cells: tuple[str, ...]
    free: frozenset[str]
    source: Source


def unknown_columns(table: str, grid: Grid, own: SiteNames | None = None) -> list[UnknownColumn]:
    """Return the filled columns of a grid, usable or not, that have a heading and are not recognised."""
    rows = [row for row in grid.rows if not row.is_blank]
    if not rows or not TABLES[table].has_synonyms:
        return []
    _, last, columns = _find_headings(table, rows, own)
    if not any(name for name, _ in columns):
        last = _first_full_row(rows)
        columns = columns_of(table, None, rows[last].cells, own)
    ours = TABLES[table].columns.keys() | (TABLES["patients"].columns.keys() if table == "orders" else set())
    free = frozenset(ours - {name for name, _ in columns})
    data = [row for row in rows[last + 1 :] if not repeats(row, [heading for _, heading in columns])]
    found = []
    for index, (name, heading) in enumerate(columns):
        cells = tuple(row.cells[index] for row in data if index < len(row.cells) and row.cells[index])
        if name is None and heading and cells:
            found.append(UnknownColumn(heading, cells, free, Source(file=grid.file, sheet=grid.sheet, column=heading)))
    return found


def _first_full_row(rows: Sequence[Row]) -> int:
    """Return the index of the first row that fills as many cells as nearly all do: headings of which none is known."""
    filled = [sum(map(bool, row.cells)) for row in rows[:HEADING_ROWS_SEARCHED]]
    return next(index for index, number in enumerate(filled) if number > 0.75 * max(filled))


def _may_stand_over(table: str, row: Row, lower: Row, own: SiteNames | None) -> bool:
    """Return whether a row may be the upper of two heading rows: it is no row of data, which has digits somewhere."""
    columns = columns_of(table, None, lower.cells, own)
    return not (any(map(_DIGIT.search, row.cells)) and looks_like_data(table, row, columns, own))


def _find_headings(table: str, rows: Sequence[Row], own: SiteNames | None) -> tuple[int, int, Columns]:
    """Return the indices of the first and last heading row, and the columns; most known headings win."""
    if not TABLES[table].has_synonyms:
        return _find_written(table, rows)
    rows = [row for row in rows if not row.is_blank]
    best = _best_headings(table, rows, range(min(len(rows), HEADING_ROWS_SEARCHED)), own)
    if _missing(table, {name for name, _ in best[2] if name}) and len(rows) > HEADING_ROWS_SEARCHED:
        farther = [i for i in range(HEADING_ROWS_SEARCHED, len(rows)) if may_be_headings(table, rows[i].cells)]
        best = _best_headings(table, rows, farther[:HEADING_ROWS_SEARCHED], own) if farther else best
    return best


def _best_headings(
    table: str, rows: Sequence[Row], indices: Iterable[int], own: SiteNames | None
) -> tuple[int, int, Columns]:
    best: tuple[int, int, int, Columns] = (-1, 0, 0, [])
    for index in indices:
        row = rows[index]
        above = rows[index - 1] if index else None
        for upper in (None, above.cells) if above and _may_stand_over(table, above, row, own) else (None,):
            columns = columns_of(table, upper, row.cells, own)
            known = len({name for name, _ in columns if name})
            if known > best[0]:
                best = (known, index if upper is None else index - 1, index, columns)
    return best[1:]


def _find_written(table: str, rows: Sequence[Row]) -> tuple[int, int, Columns]:
    key = TABLES[table].needed[0]
    for index, row in enumerate(rows[:HEADING_ROWS_SEARCHED]):
        names = ["_".join(cell.lower().split()) for cell in row.cells]
        if key in names:
            return index, index, [(name or None, cell) for name, cell in zip(names, row.cells, strict=True)]
    return 0, 0, [(None, cell) for cell in rows[0].cells] if rows else []


def _missing(table: str, names: Iterable[str]) -> list[str]:
    """Return the needed columns that are not there; an order's test may stand as code, LOINC code or name."""
    there = set(names)
    if there & {"loinc", "test_name"}:
        there.add("test")
    return [name for name in TABLES[table].needed if name not in there]


def _missing_message(table: str, missing: Sequence[str], columns: Columns) -> str:
    """Name the headings that were found, but no cell of a row that may be a patient's."""
    words = " and ".join(f"'{name}'" for name in missing)
    known = [heading for name, heading in columns if name]
    seen = f"headings that were understood: {', '.join(known)}" if known else "no row of headings was found"
    others = [_named(table, heading, missing) for name, heading in columns if heading and name is None]
    if len(known) > 1 and others:
        seen = f"{seen}; not understood: {', '.join(others)}"
    remedy = f"Write {words} above the column that holds it, or say in the table of 'planner names' which one does"
    return f"{table}: no column {words}; {seen}. {remedy}"


def _named(table: str, heading: str, free: Iterable[str]) -> str:
    """Return a heading with the column that is probably meant, if that is one of those still free."""
    nearest = nearest_column(table, heading)
    return f"{heading} (is it {nearest}?)" if nearest in set(free) else heading


def _without_repeats(columns: Columns) -> tuple[Columns, dict[int, str]]:
    """Keep the first column of each name; return what the others mean by their indices too."""
    kept: Columns = []
    doubled: dict[int, str] = {}
    seen: set[str] = set()
    for index, (name, heading) in enumerate(columns):
        if name in seen:
            doubled[index] = name
        kept.append((None if name in seen else name, heading))
        if name:
            seen.add(name)
    return kept, doubled


def _report_repeats(
    table: str, columns: Columns, doubled: Mapping[int, str], data: Sequence[Row], report: Report, where: Source
) -> None:
    """Say of each column that means what one before it means whether a row says two things; then a person decides.

    Remarks may differ, and two names of a test may be one: those are compared where the tests are known.
    """
    for index, name in doubled.items():
        first = next(i for i, (known, _) in enumerate(columns) if known == name)
        is_open = not TABLES[table].columns[name].is_harmless if name in TABLES[table].columns else True
        differ = [row.number for row in data if is_open and name != "test" and _differ(row, first, index)]
        message = (
            f"columns {columns[first][1]!r} and {columns[index][1]!r} both mean {name}; the first is used, the second "
            "where the first is empty. "
        )
        if differ:
            rows = f"{'row' if len(differ) == 1 else 'rows'} {', '.join(map(str, differ[:10]))}"
            message += f"They differ in {rows}: decide which holds, and rename the other"
        else:
            message += "Rename the one not meant"
        if safety_column_near(columns[index][1]) is not None:
            message += ". The card of each patient for whom the second says something asks about it"
        severity = Severity.ERROR if differ else Severity.WARNING
        at = replace(where, row=differ[0] if differ else None, column=columns[index][1])
        report.add("heading-twice", severity, message, source=at)


def _differ(row: Row, first: int, second: int) -> bool:
    """Return whether two cells of a row are filled and say different things."""
    one, other = (row.cells[i] if i < len(row.cells) else "" for i in (first, second))
    return bool(one and other) and word(one) != word(other)


def _report_extras(
    table: str,
    columns: Columns,
    doubled: Mapping[int, str],
    data: Sequence[Row],
    report: Report,
    where: Source,
    own: SiteNames | None,
) -> None:
    """Name the columns that are not used: a warning where orders or patients have something in them.

    A note only where a person said that a column means nothing here.
    """
    filled = {index for row in data for index, cell in enumerate(row.cells) if cell}
    free = (TABLES["patients"].columns.keys() | TABLES[table].columns.keys()) - {name for name, _ in columns}
    empty: dict[str, str] = {}
    used: dict[str, str] = {}
    for index, (name, heading) in enumerate(columns):
        is_settled = own is not None and own.means_nothing(table, heading)
        is_open = index in filled and table in _OF_PATIENTS and not is_settled
        if name is not None or index in doubled or not (heading or index in filled):
            continue
        if is_open:
            cells = (row.cells[index] for row in data if index < len(row.cells))
            if near := safety_column_near(heading):
                _report_unmapped(heading, f"is nearly named like {near!r}", _ASKED, report, where)
                continue
            if near := column_in_words(cells):
                _report_unmapped(heading, f"holds words of a column {near!r}", _SHOWN, report, where)
                continue
        place = heading or f"the {_ordinal(index + 1)}"
        words = _named(table, heading, free) if heading else f"{place} (it has no heading)"
        (used if is_open else empty)[words] = place
    if used:
        message = (
            f"columns that have content and were not understood: {', '.join(used)}. What they say of a patient is "
            "printed on the card as it stands; 'planner names' writes a table in which you say what a column means"
        )
        at = replace(where, column=", ".join(used.values()))
        report.add("extra-columns", Severity.WARNING, message, source=at)
    if empty:
        at = replace(where, column=", ".join(empty.values()))
        report.add("extra-columns", Severity.NOTE, f"columns not used: {', '.join(empty)}", source=at)


_ASKED = "the card of each patient for whom it says something asks about it"
_SHOWN = "what it says stands on the card as it is written"


def _report_unmapped(heading: str, why: str, until_then: str, report: Report, where: Source) -> None:
    message = (
        f"column {heading!r} has content, {why}, and is not used as such. Decide before the round, and say in the "
        "table of 'planner names' whether it means that: the table keeps your answer, and lists its words that are not "
        f"known. Until then {until_then}"
    )
    report.add("safety-column-unmapped", Severity.ERROR, message, source=replace(where, column=heading))


def _ordinal(number: int) -> str:
    endings = {1: "st", 2: "nd", 3: "rd"}
    return f"{number}{'th' if 10 < number % 100 < 14 else endings.get(number % 10, 'th')}"


def _telling(table: str, columns: Columns, rows: Sequence[Row]) -> Mapping[int, str]:
    """Return the columns, by index with their heading, that are not recognised and say something of a row.

    A column that holds the same in every row of several says nothing of any of them, unless it is nearly a safety
    column: a whole ward may be in isolation.
    """
    if table not in _OF_PATIENTS:
        return {}
    found: dict[int, str] = {}
    for index, (name, heading) in enumerate(columns):
        texts = {row.cells[index] if index < len(row.cells) else "" for row in rows}
        is_telling = len(texts) > 1 or len(rows) == 1 or safety_column_near(heading) is not None
        if name is None and texts - {""} and is_telling:
            found[index] = heading or f"the {_ordinal(index + 1)} column"
    return found


def _record(
    table: str,
    grid: Grid,
    row: Row,
    columns: Columns,
    doubled: Mapping[int, str],
    names: dict[str, str],
    telling: Mapping[int, str],
    *,
    short: Set[int],
    long: Set[int],
) -> Record:
    values: dict[str, str] = {}
    other_tests: list[str] = []
    taken: dict[str, int] = {}
    flags = {"*": TOO_SHORT} if row.number in short else {"*": TOO_LONG} if row.number in long else {}
    for index, cell in enumerate(row.cells):
        name = columns[index][0] if index < len(columns) else None
        name = name or doubled.get(index)
        if name and cell:
            if name == "test" and name in values:
                other_tests.append(cell)
            taken.setdefault(name, index)
            values.setdefault(name, cell)
        elif cell and index >= len(columns):
            flags["*"] = TOO_LONG
    if table in _OF_PATIENTS:
        flags |= control_flags(values)
    for index, flag in row.flags.items():
        name = columns[index][0] if index < len(columns) else None
        if name is None and (meant := doubled.get(index)) and taken.get(meant, index) == index:
            name = meant  # the first column is empty: what stands here, or should, is the value
        if name:
            flags[name] = flag
    unmapped = {heading: row.cells[i] for i, heading in telling.items() if i < len(row.cells) and row.cells[i]}
    source = Source(file=grid.file, sheet=grid.sheet, row=row.number)
    return Record(values, source, names, flags, unmapped=unmapped, other_tests=tuple(other_tests))
