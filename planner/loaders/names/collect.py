"""Lists the names of a round that are not recognised, each with the nearest known meaning, for a person to confirm."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from planner.domain.catalogue import Catalogue
from planner.domain.site_names import NameKind
from planner.findings import Finding, Report, Severity, Source
from planner.loaders.build.frame import read_frame
from planner.loaders.build.options import LoadOptions
from planner.loaders.build.order_rows import read_order_rows
from planner.loaders.build.problem import settled_names, site_rows
from planner.loaders.catalogue.load import load_catalogue
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.frame.places import place_key
from planner.loaders.frame.staff import wards_written
from planner.loaders.names.known import SiteNames
from planner.loaders.names.propose import (
    SAFETY_COLUMNS,
    alert_proposal,
    column_proposal,
    is_known_alert,
    precaution_proposal,
    ward_proposals,
)
from planner.loaders.names.row import NAMES_FILE, Answer, NameRow
from planner.loaders.names.table import rows_of_names
from planner.loaders.names.wards import map_wards, wards_named, with_wards_settled
from planner.loaders.policy.load import load_policy
from planner.loaders.policy.wards import policy_wards
from planner.loaders.sources import read_grids, read_sources, shown_name
from planner.loaders.tables.read_table import read_table, unknown_columns
from planner.loaders.tables.records import RawRound
from planner.loaders.values.precaution_words import infection_meaning, precaution_meaning
from planner.loaders.values.words import OTHER_SPECIMEN_WORDS

_SAFETY = "safety: look at the column before you confirm"
_SAFETY_WORD = "safety: ask infection control before you confirm"
_ALERT_WORDS = 3
"""An alert of more words, or with digits, is a remark on one patient and no name of the site (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundNames:
    """The table of names for a round: the rows that the file has, then what else is not recognised.

    ``file`` is where the table belongs; ``num_new`` counts the rows that it does not have yet; ``can_write`` is False
    where the file has rows that cannot be read, which writing would lose.
    """

    file: Path
    rows: tuple[NameRow, ...]
    num_new: int
    findings: tuple[Finding, ...]
    can_write: bool

    @property
    def waiting(self) -> tuple[NameRow, ...]:
        """The rows that nobody has answered, but alerts without a proposal: those are printed as they stand."""
        return tuple(r for r in self.rows if r.answer is Answer.OPEN and (r.proposed or r.kind is not NameKind.ALERT))


def names_of_round(path: Path, *, site: Path | None = None, file: Path | None = None) -> RoundNames:
    """Return the table of names for a round. Bad input never raises.

    ``site`` is the folder with the site's own tables. The table belongs into ``file``; where that is None, into the
    site's folder if one is given, else into the round's folder, or beside a round of one file.
    """
    report = Report()
    target = file or (site or (path if path.is_dir() else path.parent)) / NAMES_FILE
    kept, can_write = _rows_in(target, report)
    if not path.exists():
        message = "there is no such file or folder; check the name"
        report.add("input-not-found", Severity.ERROR, message, source=Source(file=shown_name(path.name)))
        return RoundNames(file=target, rows=kept, num_new=0, findings=tuple(report), can_write=False)
    raw = read_sources(path, report, site=site)
    catalogue, findings = load_catalogue(site_rows(raw, "tests"), site_rows(raw, "tubes"))
    report.extend(findings)
    known = settled_names(raw, catalogue, report)
    there = {row.key for row in (*raw.name_rows, *kept)}
    new = {row.key: row for row in reversed([*_unknown(raw, catalogue, known, report)]) if row.key not in there}
    rows = (*kept, *reversed(new.values()))
    return RoundNames(file=target, rows=rows, num_new=len(new), findings=tuple(report), can_write=can_write)


def _rows_in(file: Path, report: Report) -> tuple[tuple[NameRow, ...], bool]:
    """Return the rows that a table of names has, and whether every row could be read."""
    if not file.is_file():
        return (), True
    found = Report()
    grids = read_grids(file, "names", found)
    tables = [table for grid in grids if (table := read_table("names", grid, found))]
    rows = tuple(row for table in tables for row in rows_of_names(table.records, found))
    if found.is_clean:
        return rows, True
    report.extend(found.errors)
    return rows, False


def _unknown(raw: RawRound, catalogue: Catalogue, known: SiteNames, report: Report) -> Iterator[NameRow]:
    yield from _columns(raw)
    yield from _counted(_tests(raw, catalogue, known), "order")
    yield from _counted(_wards(raw, with_wards_settled(raw, known, report)), "row")
    yield from _counted(_precautions(raw, known), "row")
    yield from _counted(_alerts(raw, known), "row")


def _columns(raw: RawRound) -> Iterator[NameRow]:
    for table, grid in raw.grids:
        for column in unknown_columns(table, grid, raw.column_names):
            means = column_proposal(table, column.heading, column.cells, column.free)
            note = f"{len(column.cells)} rows filled" + (f"; {_SAFETY}" if means in SAFETY_COLUMNS else "")
            yield NameRow(kind=NameKind.COLUMN, found=column.heading, where=table, proposed=means, note=note)


def _tests(raw: RawRound, catalogue: Catalogue, known: SiteNames) -> Iterator[NameRow]:
    tests, others = TestLookup(catalogue, known), Report()
    if raw.messages:
        read_frame(raw, load_policy(raw.policy_text or "")[0], tests, LoadOptions(), others)
    for draft in read_order_rows(raw.of("orders"), tests, others):
        words = re.findall(r"\w+", draft.test_text.casefold())
        if draft.fault or not words or tests.find(draft.test_text) or not OTHER_SPECIMEN_WORDS.isdisjoint(words):
            continue
        meaning = tests.meaning(draft.test_text)
        codes = meaning.tests if meaning else tuple(tests.alike(draft.test_text))
        further = f"or {', '.join(codes[1:])}" if len(codes) > 1 else ""
        proposed = "" if meaning or not codes else codes[0]
        note = f"can mean {' or '.join(codes)} ({meaning.ask}): write the one that is meant" if meaning else further
        yield NameRow(kind=NameKind.TEST, found=draft.test_text, where="orders", proposed=proposed, note=note)


def _cells(raw: RawRound, column: str, separators: str) -> Iterator[tuple[str, str]]:
    """Yield the parts of a column's cells, with the table in which they stand."""
    for table in ("patients", "orders"):
        for record in raw.records(table):
            for part in re.split(f"[{separators}\n]", record.text(column)):
                if part.strip():
                    yield table, part.strip()


def _precautions(raw: RawRound, known: SiteNames) -> Iterator[NameRow]:
    for table, part in _cells(raw, "precautions", ";,+/"):
        meant = precaution_meaning(part)
        if meant is None and known.precaution(part) is None and infection_meaning(part) is None:
            means = precaution_proposal(part)
            yield NameRow(kind=NameKind.PRECAUTION, found=part, where=table, proposed=means, note=_SAFETY_WORD)


def _alerts(raw: RawRound, known: SiteNames) -> Iterator[NameRow]:
    for table, part in _cells(raw, "alerts", ";"):
        is_name = len(part.split()) <= _ALERT_WORDS and not any(c.isdigit() for c in part)
        if is_name and not is_known_alert(part) and known.alert(part) is None:
            yield NameRow(kind=NameKind.ALERT, found=part, where=table, proposed=alert_proposal(part))


def _wards(raw: RawRound, known: SiteNames) -> Iterator[NameRow]:
    """Yield the wards that the map does not have; without a map, those that the table of patients does not have."""
    on_map = map_wards(raw) or _wards_of(raw, "patients") or _wards_of(raw, "orders")

    def is_known(text: str) -> bool:
        return place_key(text) in on_map or known.ward(text) is not None

    of_policy = (("policy", ward) for ward in policy_wards(load_policy(raw.policy_text or "")[0]))
    of_lists = ((table, text) for table, text, _record in wards_named(raw))
    for table, text in (*of_lists, *of_policy):
        for part in wards_written(text, is_known) if table == "staff" else [text]:
            if on_map and not is_known(part):
                near = ward_proposals(part, on_map.values())
                if table == "policy" and not near:
                    continue  # a ward of the site that this round does not have
                note = "" if len(near) < 2 else f"can be {' or '.join(near)}: write the one that is meant"
                yield NameRow(
                    kind=NameKind.WARD, found=part, where=table, proposed=near[0] if len(near) == 1 else "", note=note
                )


def _wards_of(raw: RawRound, table: str) -> dict[str, str]:
    return {place_key(text): text for text in (r.text("ward") for r in raw.records(table)) if text}


def _counted(rows: Iterable[NameRow], noun: str) -> Iterator[NameRow]:
    """Yield each name once, its note with the number of rows or orders that have it."""
    first: dict[tuple[NameKind, str, str], NameRow] = {}
    count: dict[tuple[NameKind, str, str], int] = {}
    for row in rows:
        first.setdefault(row.key, row)
        count[row.key] = count.get(row.key, 0) + 1
    for key, row in first.items():
        number = f"{count[key]} {noun}{'' if count[key] == 1 else 's'}"
        yield replace(row, note="; ".join(filter(None, (number, row.note))))
