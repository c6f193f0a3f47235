"""Loads the built-in laboratory catalogue and lays a site's own rows over it, with a finding for each bad row."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from importlib.resources import files
from io import StringIO
from types import MappingProxyType
from typing import TypeVar

from planner.domain.catalogue import Catalogue, Handling, LabTest, TestCode, TubeCode, TubeType
from planner.finding_codes import Code
from planner.findings import Finding, Report, Severity, Source
from planner.loaders.catalogue.cells import CellError, Cells
from planner.loaders.catalogue.rows import parse_test, parse_tube

ItemT = TypeVar("ItemT", LabTest, TubeType)

CLEARED = "-"
"""A cell of a site's row that holds only this empties the built-in value; an empty cell leaves it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteRow:
    """One row of a site's test or tube table: cells by column heading, and where a person would look."""

    cells: Mapping[str, str]
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class _Table:
    """What differs between the two tables of the catalogue."""

    file: str
    key: str
    noun: str
    needed: tuple[str, ...]


TESTS = _Table(
    file="tests.csv",
    key="test",
    noun="test",
    needed=("name", "tubes", "min_ml", "add_ml", "share_group"),
)
TUBES = _Table(
    file="tubes.csv",
    key="code",
    noun="tube kind",
    needed=("name", "additive", "closure", "rank", "inversions", "sizes", "min_fill_pct"),
)


def read_laboratory_text(name: str) -> str:
    """Return a text file of the built-in laboratory data, such as ``tests.csv`` or ``LOINC_NOTICE.txt``."""
    return (files("planner") / "laboratory" / name).read_text(encoding="utf-8")


@lru_cache(maxsize=2)
def _built_in(table: _Table) -> tuple[dict[str, str], ...]:
    rows = csv.DictReader(StringIO(read_laboratory_text(table.file)))
    return tuple(_supplemented(table, row) for row in rows)


def _supplemented(table: _Table, cells: Cells) -> dict[str, str]:
    """Return a row with the columns that further tables have of it."""
    return supplements_of_test(cells) if table is TESTS else supplements_of_tube(cells)


def columns_of(table: _Table) -> tuple[str, ...]:
    """Return the column names of a catalogue table, in the order of the built-in file."""
    return tuple(_built_in(table)[0])


def load_catalogue(
    test_rows: Iterable[SiteRow] = (), tube_rows: Iterable[SiteRow] = ()
) -> tuple[Catalogue, list[Finding]]:
    """Return the built-in catalogue with a site's rows laid over it, and what was found wrong with those.

    A row with a known code changes only the cells it fills (``-`` empties one). A row with an unknown code adds
    a test or tube kind and must be complete. A row that cannot be is not used as a whole, so that no value is
    half changed. Codes are matched without regard to case.
    """
    own_tests, own_tubes = tuple(test_rows), tuple(tube_rows)
    return _laid_over(own_tests, own_tubes) if own_tests or own_tubes else (_unchanged(), [])


@cache
def _unchanged() -> Catalogue:
    """Return the built-in catalogue: parsed once for all rounds that a program reads, as nobody can change it."""
    catalogue, findings = _laid_over((), ())
    assert not findings, findings
    return catalogue


def _laid_over(test_rows: tuple[SiteRow, ...], tube_rows: tuple[SiteRow, ...]) -> tuple[Catalogue, list[Finding]]:
    report = Report()
    tubes = _lay_over(TUBES, tube_rows, parse_tube, report)
    tests = _lay_over(TESTS, test_rows, parse_test, report)
    usable = _usable_tests(tests, tubes, _Rows(test_rows, report))
    catalogue = Catalogue(
        tests=MappingProxyType({TestCode(code): test for code, test in usable.items()}),
        tubes=MappingProxyType({TubeCode(code): tube for code, tube in tubes.items()}),
    )
    return catalogue, report.findings


def _lay_over(
    table: _Table, rows: Iterable[SiteRow], parse: Callable[[Cells], ItemT], report: Report
) -> dict[str, ItemT]:
    """Return the items of a table by code: the built-in ones, then each site row laid over them in turn."""
    cells_by_code = {cells[table.key]: dict(cells) for cells in _built_in(table)}
    items = {code: parse(cells) for code, cells in cells_by_code.items()}
    spelled = {code.upper(): code for code in items}
    for row in rows:
        site_cells = _known_cells(table, row, report)
        written = site_cells.get(table.key, "")
        code = spelled.get(written.upper(), written)
        merged = _merged(cells_by_code.get(code, {}), site_cells) | {table.key: code}
        merged = _supplemented(table, merged)
        if (item := _parsed(table, row, merged, parse, report)) is not None:
            cells_by_code[code], items[code] = merged, item
            spelled[code.upper()] = code
    return items


def _known_cells(table: _Table, row: SiteRow, report: Report) -> dict[str, str]:
    """Return the row's cells by column name as the catalogue spells it; name the columns that it does not know."""
    known = {}
    for heading, text in row.cells.items():
        column = _spelled(heading)
        if column in columns_of(table):
            known[column] = text.strip()
        elif text.strip():
            message = f"column {heading!r} is not one of the {table.noun} table; known: {', '.join(columns_of(table))}"
            source = replace(row.source, column=heading)
            report.add("catalogue-column-unknown", Severity.WARNING, message, source=source)
    return known


def _merged(base: Cells, site_cells: Cells) -> dict[str, str]:
    filled = {column: text for column, text in site_cells.items() if text}
    return dict(base) | {column: "" if text == CLEARED else text for column, text in filled.items()}


def _parsed(table: _Table, row: SiteRow, cells: Cells, parse: Callable[[Cells], ItemT], report: Report) -> ItemT | None:
    """Return the item of a merged row, or None with a finding that names the cell."""
    if missing := [column for column in (table.key, *table.needed) if not cells.get(column)]:
        message = (
            f"{table.noun} {cells.get(table.key) or '(no code)'} is new or emptied and lacks {', '.join(missing)}; "
            "fill these cells"
        )
        report.add("catalogue-row-incomplete", Severity.ERROR, message, source=row.source)
        return None
    try:
        return parse(cells)
    except CellError as error:
        is_loinc = error.column == "loinc" and "check digit" in str(error)
        code: Code = "catalogue-loinc-check-digit" if is_loinc else "catalogue-row-refused"
        message = f"{table.noun} {cells[table.key]}: {error}; the row is not used"
        report.add(code, Severity.ERROR, message, source=replace(row.source, column=error.column))
        return None


class _Rows:
    """The site's rows of tests, to which findings about a test point; one of the built-in list has none."""

    def __init__(self, rows: Iterable[SiteRow], report: Report) -> None:
        cells = ((row.source, heading, text) for row in rows for heading, text in row.cells.items())
        self._of = {text.strip().upper(): source for source, heading, text in cells if _spelled(heading) == TESTS.key}
        self._report = report

    def add(self, code: Code, severity: Severity, message: str, test: str, column: str) -> None:
        """Add a finding about a cell of a test."""
        row = self._of.get(test.upper())
        self._report.add(code, severity, message, source=None if row is None else replace(row, column=column))


def _spelled(heading: str) -> str:
    """Return a column's name as the catalogue spells it."""
    return "_".join(heading.lower().split())


def _usable_tests(tests: Mapping[str, LabTest], tubes: Mapping[str, TubeType], rows: _Rows) -> dict[str, LabTest]:
    """Return the tests with only such alternatives as exist and as their own handling allows."""
    usable = {}
    for code, test in tests.items():
        accepts = tuple(a for a in test.accepts if _may_serve(test, a, tubes, rows))
        if accepts:
            limits = tuple(limit for limit in test.tube_limits if _is_used(test, limit.tube, tubes, rows))
            usable[code] = replace(test, accepts=accepts, tube_limits=limits)
        else:
            message = f"test {code}: no tube kind is left that serves it; orders for it are set aside"
            rows.add("catalogue-test-without-tube", Severity.ERROR, message, code, "tubes")
    return usable


def _is_used(test: LabTest, tube: TubeCode, tubes: Mapping[str, TubeType], rows: _Rows) -> bool:
    """Report a limit for a tube kind that does not exist, or that the test does not accept, and leave it out."""
    if tube not in tubes:
        message = f"test {test.code}: limits_by_tube names {tube}, which is not a tube kind of the catalogue"
        rows.add("catalogue-tube-unknown", Severity.ERROR, message, test.code, "limits_by_tube")
        return False
    if all(tube not in alternative for alternative in test.accepts):
        message = (
            f"test {test.code}: limits_by_tube names {tube}, which the test does not accept; the limit is not used"
        )
        rows.add("catalogue-limit-unused", Severity.WARNING, message, test.code, "limits_by_tube")
        return False
    return True


def _may_serve(test: LabTest, alternative: tuple[TubeCode, ...], tubes: Mapping[str, TubeType], rows: _Rows) -> bool:
    words = "+".join(alternative)
    if unknown := [code for code in alternative if code not in tubes]:
        message = f"test {test.code} accepts {words}, but {unknown[0]} is not a tube kind of the catalogue"
        rows.add("catalogue-tube-unknown", Severity.ERROR, message, test.code, "tubes")
        return False
    if reason := _forbidden(test, [tubes[code] for code in alternative]):
        message = f"test {test.code} accepts {words}, but must not be drawn into {reason}"
        rows.add("catalogue-tube-forbidden", Severity.ERROR, message, test.code, "tubes")
        return False
    return True


def _forbidden(test: LabTest, kinds: Iterable[TubeType]) -> str:
    for kind in kinds:
        if Handling.NOT_LITHIUM_HEPARIN in test.handling and kind.has_lithium_heparin:
            return "lithium heparin"
        if Handling.NO_GEL in test.handling and kind.has_gel:
            return "a gel tube"
    return ""


def group_by_loinc(catalogue: Catalogue) -> dict[str, tuple[TestCode, ...]]:
    """Return the tests under each LOINC code, in catalogue order."""
    found: dict[str, tuple[TestCode, ...]] = {}
    for code, test in catalogue.tests.items():
        if test.loinc:
            found[test.loinc] = (*found.get(test.loinc, ()), code)
    return found


def load_handling_words() -> dict[Handling, str]:
    """Return what to print for each handling code, in the order in which the sheet lists them."""
    rows = csv.DictReader(StringIO(read_laboratory_text("handling.csv")))
    return {Handling(row["code"]): row["words"] for row in rows}


_IMPORTANCE = "importance"
_CAPILLARY_TEST = "capillary_min_ml"
_CAPILLARY_TUBE = ("capillary_rank", "capillary_sizes", "capillary_name")


def supplements_of_test(cells: Mapping[str, str]) -> dict[str, str]:
    """Return a test's cells with its importance and its least volume from the skin, where the row does not fill them.

    ``importance.csv`` names tests by code and, for those that it does not name, sections.
    """
    code = cells.get("test", "")
    by_test, by_section = _importance()
    found = {
        _IMPORTANCE: by_test.get(code) or by_section.get(cells.get("section", "").strip(), ""),
        _CAPILLARY_TEST: _rows("capillary_tests.csv", "test").get(code, {}).get(_CAPILLARY_TEST, ""),
    }
    return _filled_up(cells, found)


def supplements_of_tube(cells: Mapping[str, str]) -> dict[str, str]:
    """Return a tube kind's cells with what is said of it in draws from the skin, where the row does not fill them."""
    row = _rows("capillary_tubes.csv", "code").get(cells.get("code", ""), {})
    return _filled_up(cells, {column: row.get(column, "") for column in _CAPILLARY_TUBE})


def _filled_up(cells: Mapping[str, str], found: Mapping[str, str]) -> dict[str, str]:
    """Return the cells, those of the further tables last; a column that the row has, empty or not, is the row's."""
    return {**cells, **{column: cells.get(column, text) for column, text in found.items()}}


@lru_cache(maxsize=2)
def _rows(file: str, key: str) -> dict[str, dict[str, str]]:
    return {row[key]: row for row in _read(file)}


@lru_cache(maxsize=1)
def _importance() -> tuple[dict[str, str], dict[str, str]]:
    by_test: dict[str, str] = {}
    by_section: dict[str, str] = {}
    for row in _read("importance.csv"):
        by_test |= dict.fromkeys(row["tests"].split(), row["importance"])
        sections = (part.strip() for part in row["sections"].split(";"))
        by_section |= dict.fromkeys(filter(None, sections), row["importance"])
    return by_test, by_section


def _read(file: str) -> list[dict[str, str]]:
    text = (files("planner") / "laboratory" / file).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))
