"""Confirmed rows of the table of names to names that are used: what cannot be is a finding, and is not used."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence

from planner.domain.orders import Precaution
from planner.domain.site_names import NameKind, SiteName
from planner.findings import Report, Severity
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.frame.places import place_key
from planner.loaders.names.known import JOINED, NOTHING, ONLY_PRINTED, name_key
from planner.loaders.names.propose import ward_proposals
from planner.loaders.names.row import Answer, NameRow
from planner.loaders.tables.headings import column_named
from planner.loaders.values.fields import word
from planner.loaders.values.precaution_words import precaution_alike, precaution_meaning
from planner.loaders.values.words import NO_PRECAUTION, PRECAUTIONS

_ALERT_LENGTH = 60
"""Most letters of the words that stand beside an alert: a card has room for a line (engineering choice)."""


class _NoMeaningError(ValueError):
    """A confirmed meaning is nothing that is known, or not one thing; the text says what to write."""


def column_names(rows: Iterable[NameRow], report: Report) -> tuple[SiteName, ...]:
    """Return the confirmed names of columns, and those of which a person said that they mean nothing here."""
    return _settled((r for r in rows if r.kind is NameKind.COLUMN), _column, _hidden_column, report)


def value_names(rows: Sequence[NameRow], tests: TestLookup, report: Report) -> tuple[SiteName, ...]:
    """Return the confirmed names of tests, precautions and alerts. ``tests`` is the look-up without them."""

    def hidden_test(row: NameRow, means: str) -> str:
        meaning = tests.meaning(row.found)
        is_choice = meaning is not None and meaning.sure is None and means in meaning.tests
        return "" if meaning is None or is_choice else " or ".join(meaning.tests)

    return (
        *_settled(_of(rows, NameKind.TEST), lambda row: _test(row, tests), hidden_test, report),
        *_settled(_of(rows, NameKind.PRECAUTION), _precaution, _hidden_precaution, report),
        *_settled(_of(rows, NameKind.ALERT), _alert, lambda _row, _means: "", report),
    )


def ward_names(
    rows: Iterable[NameRow], on_map: Mapping[str, str], used: Collection[str], report: Report
) -> tuple[SiteName, ...]:
    """Return the confirmed names of wards.

    Parameters
    ----------
    on_map
        The wards of the map by `place_key`; none: there is no map, and a name means what was written.
    used
        Keys of wards that the round names. A site's name for a ward that this round does not have is no fault.
    """

    def ward(row: NameRow) -> str:
        means = on_map.get(place_key(row.means), row.means)
        if on_map and means not in on_map.values() and name_key(NameKind.WARD, "", row.found)[2] in used:
            near = ward_proposals(row.means, on_map.values())
            known = f"nearest: {'; '.join(near)}" if near else f"known: {'; '.join(sorted(on_map.values()))}"
            raise _NoMeaningError(f"{row.means!r} is no ward of the place table; {known}")
        return means

    def hidden_ward(row: NameRow, _means: str) -> str:
        return on_map.get(place_key(row.found), "")

    return _settled(_of(rows, NameKind.WARD), ward, hidden_ward, report)


def report_open(rows: Iterable[NameRow], report: Report) -> None:
    """Say how many names of the table wait for a confirmation; nothing of them is used."""
    waiting = [row for row in rows if row.answer is Answer.OPEN]
    if waiting:
        what = "a name waits" if len(waiting) == 1 else f"{len(waiting)} names wait"
        message = f"{what} for a confirmation (column confirm: yes, no, or the meaning); nothing of it is used yet"
        report.add("name-open", Severity.NOTE, message, source=waiting[0].source)


def _of(rows: Iterable[NameRow], kind: NameKind) -> Iterator[NameRow]:
    return (row for row in rows if row.kind is kind)


def _settled(
    rows: Iterable[NameRow],
    meaning_of: Callable[[NameRow], str],
    hidden_by: Callable[[NameRow, str], str],
    report: Report,
) -> tuple[SiteName, ...]:
    """Return the confirmed names among rows of one kind.

    ``meaning_of`` returns a row's meaning in our words; ``hidden_by`` what the name means without the table, where
    that is something else, else nothing.
    """
    found: dict[tuple[NameKind, str, str], list[tuple[NameRow, str]]] = {}
    for row in rows:
        if row.answer is Answer.REFUSED and row.kind is NameKind.COLUMN:
            found.setdefault(row.key, []).append((row, ""))
        if row.answer is not Answer.CONFIRMED:
            continue
        try:
            means = meaning_of(row)
        except _NoMeaningError as error:
            message = f"{row.kind.value} {row.found!r}: {error}. The name is not used"
            report.add("name-means-nothing", Severity.ERROR, message, source=row.source)
            continue
        if (hidden := hidden_by(row, means)) and hidden != means:
            message = (
                f"{row.kind.value} {row.found!r} is known as {hidden} and cannot be made {means}; it stays {hidden}. "
                "Take the row away, or have the name changed where the list comes from"
            )
            report.add("name-hides-known", Severity.ERROR, message, source=row.source)
            continue
        found.setdefault(row.key, []).append((row, means))
    return tuple(name for group in found.values() for name in _one_meaning(group, report))


def _one_meaning(group: Sequence[tuple[NameRow, str]], report: Report) -> Iterator[SiteName]:
    """Yield the name that all rows agree on; where they do not, nothing is used."""
    row, means = group[0]
    meanings = list(dict.fromkeys(m for _, m in group))
    if len(meanings) > 1:
        where = " and ".join(str(r.source) for r, _ in group)
        listed = ", ".join(m or "no" for m in meanings)
        message = f"{row.kind.value} {row.found!r} has several meanings: {listed} ({where}); keep one row. None is used"
        report.add("name-twice", Severity.ERROR, message, source=group[-1][0].source)
        return
    yield SiteName(kind=row.kind, found=row.found, means=means, table=row.table)


def _column(row: NameRow) -> str:
    if (column := column_named(row.table, row.means)) is None:
        raise _NoMeaningError(f"{row.means!r} is no column of the table {row.table}; 'planner new' lists the columns")
    return column


def _hidden_column(row: NameRow, _means: str) -> str:
    return column_named(row.table, row.found) or ""


def _test(row: NameRow, tests: TestLookup) -> str:
    if (code := tests.find(row.means)) is None:
        raise _NoMeaningError(f"test {row.means!r} {tests.hint(row.means)}")
    return code


def _precaution(row: NameRow) -> str:
    said = word(row.means)
    if said == ONLY_PRINTED or said in NO_PRECAUTION:
        return ONLY_PRINTED if said == ONLY_PRINTED else NOTHING
    if (precautions := _precautions(row.means)) is None:
        words = ", ".join((*(p.value for p in Precaution), NOTHING, ONLY_PRINTED))
        raise _NoMeaningError(f"{row.means!r} is no precaution; write of {words} (several joined by {JOINED})")
    return precautions


def _precautions(text: str) -> str | None:
    """Return the precautions that a text names, in our words; None when it names anything else."""
    parts = {PRECAUTIONS.get(word(part)) for part in re.split(r"[+,;/]", text) if part.strip()}
    return JOINED.join(p.value for p in Precaution if p in parts) if parts and None not in parts else None


def _hidden_precaution(row: NameRow, _means: str) -> str:
    if precaution := precaution_alike(row.found):
        return precaution.value
    return "" if precaution_meaning(row.found) is None else NOTHING


def _alert(row: NameRow) -> str:
    if precautions := _precautions(row.means):
        return precautions
    if len(row.means) > _ALERT_LENGTH or not any(c.isalpha() for c in row.means):
        raise _NoMeaningError(f"write the words to print beside the alert, at most {_ALERT_LENGTH} letters")
    return row.means
