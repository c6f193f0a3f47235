"""Which files and sheets of a round are which tables, and reading them all."""

from __future__ import annotations

import errno
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from planner.columns import TABLES
from planner.domain.site_names import SiteName
from planner.findings import Report, Severity, Source
from planner.loaders.catalogue.sign_off import SIGN_OFF_FILE
from planner.loaders.formats.csv_files import read_csv
from planner.loaders.formats.decoding import is_binary
from planner.loaders.formats.limits import MAX_FILE_BYTES, too_many
from planner.loaders.formats.workbook import read_workbook
from planner.loaders.formats.workbook_kind import is_web_page, is_workbook_like, refusal
from planner.loaders.messages.detect import is_message_file
from planner.loaders.names.known import SiteNames
from planner.loaders.names.row import NAMES_FILE, NameRow
from planner.loaders.names.settle import column_names
from planner.loaders.names.table import rows_of_names
from planner.loaders.policy.load import load_policy
from planner.loaders.policy.sheet import policy_toml
from planner.loaders.tables.examples import HELP_SHEETS, leave_out_examples
from planner.loaders.tables.headings import table_named
from planner.loaders.tables.read_table import lacking_column, read_table, score
from planner.loaders.tables.records import Grid, RawRound, Table

TEXT_ENDINGS = frozenset({".csv", ".tsv", ".txt", ".tab"})
MESSAGE_ENDINGS = frozenset({".hl7", ".json", ".ndjson"})
WORKBOOK_ENDINGS = frozenset({".xlsx", ".xlsm", ".xls", ".xlsb", ".ods"})
POLICY_FILE = "policy.toml"
_OF_SYSTEMS = frozenset({"thumbs.db", "desktop.ini", "__macosx"})
"""Files and folders that operating systems leave; from memory, no source."""
_OF_SITE = ("names", "tests", "tubes")
"""Tables that a site's folder may hold for all its rounds."""
_GUESSED = ("orders", "patients", "staff", "pickups", "corridors", "places")


def read_sources(
    path: Path, report: Report, *, site: Path | None = None, site_names: Iterable[SiteName] = ()
) -> RawRound:
    """Return all tables of a round: a folder, a workbook or one list.

    ``site`` is the folder with the site's own tables (None: the one that the policy names, if it does);
    ``site_names`` are names confirmed before.
    """
    raw = RawRound(shown_name(path.stem if path.is_file() else path.resolve().name))
    files = _files(path, raw, report)
    grids = [grid for file in files for grid in _grids(file, raw, report)]
    grids = [grid for grid in grids if grid.name not in HELP_SHEETS]
    if len(grids) > 1:
        for grid in (grid for grid in grids if table_named(grid.name) == "policy"):
            _add_policy(grid, raw, report)
        grids = [grid for grid in grids if table_named(grid.name) != "policy"]
    beside = path if path.is_dir() else path.parent
    of_site = _site_grids(site, beside, raw, report)
    own = [grid for grid in (*grids, *_beside(path, report)) if table_named(grid.name) == "names"]
    raw.name_rows = [NameRow.of(name) for name in site_names]
    for grid in (*own, *(grid for grid in of_site if table_named(grid.name) == "names")):
        if table := read_table("names", grid, report):
            raw.name_rows += rows_of_names(table.records, report)
            raw.sources.append(str(table.source))
    raw.column_names = SiteNames(column_names(raw.name_rows, report))
    grids = [grid for grid in grids if table_named(grid.name) != "names"]
    filled = [grid for grid in grids if not _is_blank(grid)] or grids
    tried = [_add_grid(grid, raw, report, is_one_list=filled == [grid] and not raw.messages) for grid in grids]
    if not raw.of("orders") and not raw.messages:
        _take_best_as_orders(grids, raw, report)
    _report_unknown([grid for grid, was_tried in zip(grids, tried, strict=True) if not was_tried], raw, report)
    _report_twice(raw, report)
    tables, raw.tables = raw.tables, []
    for grid in of_site:
        if table_named(grid.name) in ("tests", "tubes"):
            _add_grid(grid, raw, report, is_one_list=False)
    raw.tables += tables
    leave_out_examples(raw, report)
    return raw


def _beside(path: Path, report: Report) -> list[Grid]:
    """Return the table of names that lies beside a round of one file."""
    return _grids(path.parent / NAMES_FILE, RawRound(""), report) if is_names_beside(path) else []


def is_names_beside(path: Path) -> bool:
    """Return whether a round is one file and a table of names lies beside it."""
    file = path.parent / NAMES_FILE
    return path.is_file() and file.is_file() and file.resolve() != path.resolve()


def site_folder(path: Path, site: Path | None, policy_text: str | None) -> Path | None:
    """Return the folder of the site's own tables: the one given, else the one that the policy names, else None.

    ``path`` is the folder of the round, from which the policy's folder is found. A round needs no other folder for
    what stands in itself: then None too.
    """
    named = load_policy(policy_text or "")[0].site_folder
    found = site or (path / named if named else None)
    return None if found is None or found.resolve() == path.resolve() else found


def _site_grids(site: Path | None, folder: Path, raw: RawRound, report: Report) -> list[Grid]:
    """Return the grids of the site's tables of names, tests and tubes; keep its sign-off where the round has none."""
    if (found := site_folder(folder, site, raw.policy_text)) is None:
        return []
    name = shown_name(found.name)
    if not found.is_dir():
        message = "the folder of the site's tables is not there; correct --site, or site_folder in the policy"
        report.add("site-not-found", Severity.ERROR, message, source=Source(file=name))
        return []
    if raw.sign_off_text is None:
        _add_sign_off(found / SIGN_OFF_FILE, raw)
    grids: list[Grid] = []
    for file in sorted(f for f in found.iterdir() if f.is_file() and not f.name.startswith((".", "~$"))):
        is_ours = file.suffix.lower() in TEXT_ENDINGS and table_named(file.stem) in _OF_SITE
        if is_ours or file.suffix.lower() in WORKBOOK_ENDINGS:
            grids += _grids(file, RawRound(""), report)
    return [replace(g, file=f"{name}/{g.file}") for g in grids if table_named(g.name) in _OF_SITE and not _is_blank(g)]


def _files(path: Path, raw: RawRound, report: Report) -> list[Path]:
    """Return the table files of a round in the order of their names; set the policy text if there is one."""
    if path.is_file():
        _add_sign_off(path.parent / SIGN_OFF_FILE, raw)
        return [path]
    files, others, folders = [], [], []
    where = Source(file=shown_name(path.name))
    try:
        found = sorted(path.iterdir())
    except OSError as error:
        message = f"the folder cannot be read: {error.strerror or error}; check that it may be opened"
        report.add("input-unreadable", Severity.ERROR, message, source=where)
        return []
    for file in found:
        if file.name.startswith((".", "~$")) or file.name.lower() in _OF_SYSTEMS:
            continue
        is_named_as_input = file.suffix.lower() in TEXT_ENDINGS | WORKBOOK_ENDINGS | MESSAGE_ENDINGS
        if file.name.lower() == SIGN_OFF_FILE:
            _add_sign_off(file, raw)
        elif file.name.lower() == POLICY_FILE:
            _add_policy_file(file, raw, report)
        elif file.is_dir():
            if is_named_as_input or _holds_something(file):
                folders.append(shown_name(file.name))
        elif not file.is_file():
            others.append(f"{shown_name(file.name)} (no ordinary file)")
        elif is_named_as_input:
            files.append(file)
        else:
            others.append(shown_name(file.name))
    if others:
        endings = ", ".join(sorted(TEXT_ENDINGS | WORKBOOK_ENDINGS | MESSAGE_ENDINGS))
        message = (
            f"files that are no tables were not read: {', '.join(others)}. Tables end in {endings}; move other files "
            "out of the folder"
        )
        report.add("unknown-file", Severity.ERROR, message, source=where)
    if folders:
        message = (
            f"folders inside the round's folder were not read: {', '.join(folders)}. Put their tables beside the "
            "others, or move the folders out"
        )
        report.add("folder-not-read", Severity.ERROR, message, source=where)
    return files


def _holds_something(folder: Path) -> bool:
    """Return whether a folder may hold input: it is not empty, and not made of written revisions."""
    try:
        return any(folder.iterdir()) and not any(folder.glob("**/r*/plan.json"))
    except OSError:
        return True


def _add_sign_off(file: Path, raw: RawRound) -> None:
    """Keep the laboratory's confirmation; one that cannot be opened is empty, and so said to be unreadable."""
    try:
        if file.exists() and not file.is_file():  # a pipe would be waited for
            raise OSError
        raw.sign_off_text = file.read_text(encoding="utf-8-sig", errors="replace")
    except FileNotFoundError:
        return
    except OSError:
        raw.sign_off_text = ""
    raw.sources.append(file.name)


def _add_policy_file(file: Path, raw: RawRound, report: Report) -> None:
    """Set the policy text; a file that cannot be opened, or is no UTF-8, is an error of the policy."""
    raw.sources.append(shown_name(file.name))
    try:
        if file.exists() and not file.is_file():  # a pipe would be waited for
            raise OSError(errno.EINVAL, "it is no ordinary file")
        raw.policy_text = file.read_bytes().decode("utf-8-sig")
    except OSError as error:
        message = f"the policy cannot be read ({error.strerror or error}); see that it may be opened"
        report.add("policy-unreadable", Severity.ERROR, message, source=Source(file=shown_name(file.name)))
    except UnicodeDecodeError as error:
        message = f"the policy is not UTF-8 text (byte {error.start}); save it as UTF-8"
        report.add("policy-unreadable", Severity.ERROR, message, source=Source(file=shown_name(file.name)))


def _read_bytes(file: Path, report: Report) -> bytes:
    try:
        if (size := file.stat().st_size) > MAX_FILE_BYTES:
            message = f"a file of {too_many('bytes', size, MAX_FILE_BYTES)}"
            report.add("input-too-large", Severity.ERROR, message, source=Source(file=shown_name(file.name)))
            return b""
        return file.read_bytes()
    except OSError as error:
        message = f"the file cannot be read: {error.strerror or error}; check that it exists and may be opened"
        report.add("input-unreadable", Severity.ERROR, message, source=Source(file=shown_name(file.name)))
        return b""


def shown_name(name: str) -> str:
    """Return a file's name as text: bytes that are none, as some systems allow, show as the replacement character."""
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "replace")


def read_grids(file: Path, table: str, report: Report) -> list[Grid]:
    """Return the filled sheets of a file that holds one table of ours, whatever the file is called."""
    raw = RawRound(file.stem)
    grids = [grid for grid in _grids(file, raw, report, table) if not _is_blank(grid)]
    if raw.messages:
        message = f"electronic messages hold no table {table}; give a CSV file or a workbook"
        report.add("not-a-table", Severity.ERROR, message, source=Source(file=shown_name(file.name)))
    return grids


def _grids(file: Path, raw: RawRound, report: Report, table: str | None = None) -> list[Grid]:
    before = len(report.errors)
    data = _read_bytes(file, report)
    where = Source(file=shown_name(file.name))
    if not data:
        if len(report.errors) == before:
            report.add("input-empty", Severity.ERROR, "the file is empty; export it again", source=where)
        return []
    file = Path(shown_name(file.name))
    if is_message_file(file.name, data):
        raw.messages.append((file.name, data))
        raw.sources.append(shown_name(file.name))
        return []
    if file.suffix.lower() in WORKBOOK_ENDINGS or is_workbook_like(data):
        return read_workbook(file, data, report)
    if is_web_page(data):
        report.add("web-page", Severity.ERROR, refusal("web-page"), source=where)
        return []
    if is_binary(data):
        message = "this is not a text file; export the list as CSV or .xlsx"
        report.add("not-a-table", Severity.ERROR, message, source=where)
        return []
    return [read_csv(file, data, report, table or table_named(file.stem))]


def _is_blank(grid: Grid) -> bool:
    return all(row.is_blank for row in grid.rows)


def _add_grid(grid: Grid, raw: RawRound, report: Report, *, is_one_list: bool) -> bool:
    """Read a grid as the table that it is; return whether it is one, whatever was found wrong with it."""
    table = table_named(grid.name)
    if is_one_list and table != "orders" and (table is None or score("orders", grid, raw.column_names)):
        if table is not None:
            message = f"called {table}, but taken for the order list by its headings"
            report.add("taken-as-orders", Severity.WARNING, message, source=Source(file=grid.file, sheet=grid.sheet))
        table = "orders"
    if table is None:
        return False
    if table == "policy":
        _add_policy(grid, raw, report)
    else:
        raw.grids.append((table, grid))
        if found := read_table(table, grid, report, raw.column_names):
            _keep(found, raw)
    return True


def _keep(table: Table, raw: RawRound) -> None:
    raw.tables.append(table)
    raw.sources.append(f"{table.file}: {table.sheet}" if table.sheet else table.file)


def _take_best_as_orders(grids: Sequence[Grid], raw: RawRound, report: Report) -> None:
    """Without a table called orders, the one sheet or file that has an order list's headings is taken for it."""
    if any(table_named(grid.name) == "orders" for grid in grids):
        return
    lists = [grid for grid in grids if table_named(grid.name) is None and score("orders", grid, raw.column_names)]
    for grid in lists:
        where = Source(file=grid.file, sheet=grid.sheet)
        report.add("taken-as-orders", Severity.WARNING, "taken for the order list by its headings", source=where)
        raw.grids.append(("orders", grid))
        if found := read_table("orders", grid, report, raw.column_names):
            _keep(found, raw)


def _report_unknown(grids: Sequence[Grid], raw: RawRound, report: Report) -> None:
    """Name the filled sheets and files that are no table of ours, or an order list that lacks a column."""
    read = {(t.file, t.sheet) for t in raw.tables}
    for grid in grids:
        if table_named(grid.name) is not None or (grid.file, grid.sheet) in read or _is_blank(grid):
            continue
        where = Source(file=grid.file, sheet=grid.sheet)
        if not raw.of("orders") and (lacking := lacking_column("orders", grid, raw.column_names)):
            raw.grids.append(("orders", grid))
            report.add("missing-column", Severity.ERROR, lacking, source=where)
            continue
        known = ", ".join(name for name, table in TABLES.items() if table.in_starter)
        what = "sheet" if grid.sheet else "file"
        if alike := next((table for table in _GUESSED if score(table, grid)), None):
            message = (
                f"this {what} has the headings of the table {alike} and was not read, because of its name. If it "
                f"belongs to the round, put its rows into the table {alike}; otherwise move it away"
            )
            report.add("unknown-table", Severity.ERROR, message, source=where)
            continue
        message = f"this {what} is none of the tables and was not read; tables are called {known}"
        severity = Severity.WARNING if grid.sheet else Severity.ERROR
        report.add("unknown-table", severity, message, source=where)


def _report_twice(raw: RawRound, report: Report) -> None:
    for name in {t.name for t in raw.tables}:
        tables = raw.of(name)
        if len(tables) > 1:
            places = " and ".join(str(t.source) for t in tables)
            message = f"the table {name} stands in {places}; all of them were read. Keep one if that was not meant"
            report.add("table-twice", Severity.WARNING, message, source=tables[1].source)


def _add_policy(grid: Grid, raw: RawRound, report: Report) -> None:
    """Turn a sheet of keys and values into the text of a policy file."""
    table = read_table("policy", grid, report)
    where = Source(file=grid.file, sheet=grid.sheet)
    if table is None:
        if not _is_blank(grid):
            message = "the policy cannot be read: it has no headings 'key' and 'value'. Write them, or use policy.toml"
            report.add("policy-unreadable", Severity.ERROR, message, source=where)
        return
    if raw.policy_text is not None:
        message = "the round has a policy already, in another file or sheet; only that one was used. Keep one of them"
        report.add("policy-twice", Severity.ERROR, message, source=where)
        return
    raw.policy_text = policy_toml((record.text("key"), record.text("value")) for record in table.records)
    raw.sources.append(f"{table.file}: {table.sheet}" if table.sheet else table.file)
