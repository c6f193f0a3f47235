"""Order rows to drafts: numbers given or made, duplicates found, cells with several tests taken apart."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from planner.domain.orders import OrderId
from planner.domain.plan import Reason, SetAside
from planner.findings import Report, Severity
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.tables.records import Record, Table, rows_of
from planner.loaders.values.fields import word

_MOST_ROWS = 10
"""Rows named in one finding."""

_TOTALS = "a row of totals at the end of the list"


@dataclass(slots=True)
class OrderDraft:
    """An order as far as its row tells; ``fault`` is why it is not planned."""

    id: OrderId
    record: Record
    test_text: str
    fault: SetAside | None = None

    def set_aside(self, reason: Reason, detail: str) -> None:
        """Give the order its reason, unless it has one already."""
        self.fault = self.fault or SetAside(reason, detail)


def read_order_rows(tables: Iterable[Table], tests: TestLookup, report: Report) -> list[OrderDraft]:
    """Return one draft for each order of the tables, under ids that stand once."""
    drafts: list[OrderDraft] = []
    for table in tables:
        shapes = shapes_of(table.records)
        totals = [r for r in table.records if not r.source.is_message and are_totals(r, shapes)]
        _note_totals(totals, report)
        set_aside = {id(record) for record in totals}
        differ: list[Record] = []
        for record in table.records:
            fault = SetAside(Reason.TOTALS_ROW, _TOTALS) if id(record) in set_aside else record.fault
            parts = [(record.text("test"), record)] if fault else _parts(record, tests, report, differ)
            own = _own_number(record)
            for index, (text, of_part) in enumerate(parts, start=1):
                order_id = OrderId(f"{own}.{index}" if len(parts) > 1 else own)
                drafts.append(OrderDraft(order_id, of_part, text, fault))
        _report_other_tests(differ, report)
        _note_made_numbers([r for r in table.records if id(r) not in set_aside], report)
    _settle_numbers(drafts, report)
    return drafts


def _own_number(record: Record) -> str:
    return record.text("order_number") or f"row-{record.source.row}"


def _parts(record: Record, tests: TestLookup, report: Report, differ: list[Record]) -> list[tuple[str, Record]]:
    """Return what names each test of a row, with the row as it holds for that test.

    A row whose columns of tests name different ones is added to ``differ``.
    """
    if record.source.is_message:
        return [(record.text("test"), record)]
    texts = tests.several(_test_text(record, tests))
    if len(texts) > 1:
        message = f"one cell holds {len(texts)} tests; each was read as an order of its own"
        report.add("several-tests", Severity.NOTE, message, source=record.at("test"))
    if others := _others(record, tests):
        differ.append(record)
    others = [text for text in others if tests.meaning(text)]
    return [part for text in (*texts, *others) for part in _counted(text, record, tests, report)]


def _others(record: Record, tests: TestLookup) -> list[str]:
    """Return what further columns of tests say that is no other name of a test of the row."""
    if not record.other_tests:
        return []
    own = [*tests.several(_test_text(record, tests)), record.text("test_name"), record.text("loinc")]
    known = {tests.find(text) or text.casefold() for text in own}
    texts = [part for text in record.other_tests for part in tests.several(text)]
    return list({key: text for text in texts if (key := tests.find(text) or text.casefold()) not in known}.values())


def _report_other_tests(differ: Sequence[Record], report: Report) -> None:
    """Ask about rows whose columns of tests name different ones."""
    if differ:
        message = (
            f"{_row_numbers(differ)}: two columns mean the test and name different ones; each that is known was read "
            "as an order, other words were not. Look at the rows, and rename the column that is not meant"
        )
        report.add("heading-twice", Severity.ERROR, message, source=differ[0].at("test"))


def _counted(text: str, record: Record, tests: TestLookup, report: Report) -> list[tuple[str, Record]]:
    """Return one part for each culture set that a name asks for; of other tests one, and a warning."""
    if (counted := tests.counted(text)) is None:
        return [(text, record)]
    name, number = counted
    code = tests.find(name)
    if number == 1 or code is None:
        return [(name, record)]
    if not tests.test(code).is_culture:
        message = (
            f"{text!r} asks for {number} draws of {code}; one is planned. For draws at several times write a row each, "
            "with its time and one name in the column 'series'"
        )
        report.add(
            "count-not-used", Severity.WARNING, message, source=record.at("test"), order_ids=[_own_number(record)]
        )
        return [(name, record)]
    message = f"{text!r}: {number} culture sets, each an order of its own, drawn from its own site"
    report.add("culture-sets-counted", Severity.NOTE, message, source=record.at("test"))
    series = record.text("series") or f"{_own_number(record)} {code}"
    return [(name, replace(record, values={**record.values, "series": series}))] * number


def _test_text(record: Record, tests: TestLookup) -> str:
    """Return what names the test: the first of code, LOINC code and name that is known, else the first filled."""
    texts = [text for name in ("test", "loinc", "test_name") if (text := record.text(name))]
    known = [text for text in texts if tests.find(text) or len(tests.several(text)) > 1 or tests.counted(text)]
    open_ones = [text for text in texts if tests.meaning(text)]
    return next(iter((*known, *open_ones, *texts)), "")


def _note_totals(records: Sequence[Record], report: Report) -> None:
    if records:
        message = f"{_row_numbers(records)}: totals of the list, no orders; listed, not planned"
        report.add("totals-row", Severity.NOTE, message, source=records[0].source)


def _row_numbers(records: Sequence[Record]) -> str:
    """Return 'row 4', or 'rows 4, 7', the first ten of many."""
    shown = ", ".join(str(record.source.row) for record in records[:_MOST_ROWS])
    more = f" and {len(records) - _MOST_ROWS} more" if len(records) > _MOST_ROWS else ""
    return f"{'row' if len(records) == 1 else 'rows'} {shown}{more}"


def _note_made_numbers(records: Iterable[Record], report: Report) -> None:
    missing = [r for r in records if not r.text("order_number")]
    if missing:
        message = (
            f"no order number in {_row_numbers(missing)}; an order without a number is identified by its row, such as "
            f"row-{missing[0].source.row}. Give every order its number, so that later lists can be matched"
        )
        report.add("number-missing", Severity.WARNING, message, source=missing[0].at("order_number"))


def _settle_numbers(drafts: Sequence[OrderDraft], report: Report) -> None:
    """Make every id stand once; orders that share a number by mistake are set aside."""
    by_id: dict[str, list[OrderDraft]] = {}
    for draft in drafts:
        by_id.setdefault(draft.id, []).append(draft)
    taken = set(by_id)
    for group in by_id.values():
        if len(group) > 1:
            _settle_group(group, taken, report)


def _settle_group(group: list[OrderDraft], taken: set[str], report: Report) -> None:
    number, has_number = group[0].id, bool(group[0].record.text("order_number"))
    if not has_number:
        _rename(group[1:], taken)
        return
    distinct = _without_copies(group, taken, report)
    if len(distinct) == 1:
        return
    patients = {d.record.text("patient_number") for d in distinct}
    tests = {d.test_text.casefold() for d in distinct}
    if len(patients) == 1 and len(tests) == len(distinct):
        for draft in distinct:
            draft.id = _free(f"{number}/{draft.test_text}", taken)
        message = (
            f"{len(distinct)} orders of one patient share the number {number}; they go by number and test, such as "
            f"{distinct[0].id}"
        )
        ids = [d.id for d in distinct]
        report.add("number-shared", Severity.NOTE, message, source=distinct[0].record.at("order_number"), order_ids=ids)
        return
    where = rows_of([d.record for d in distinct])
    message = (
        f"order number {number} stands in {where} with different contents; all of them are set aside. Correct the "
        "numbers"
    )
    for draft in distinct:
        draft.set_aside(Reason.DUPLICATE_NUMBER, message)
    _rename(distinct[1:], taken)
    ids = [d.id for d in distinct]
    report.add("duplicate-number", Severity.ERROR, message, source=distinct[1].record.at("order_number"), order_ids=ids)


def _without_copies(group: Sequence[OrderDraft], taken: set[str], report: Report) -> list[OrderDraft]:
    """Return the orders that differ; a copy of an earlier row is set aside."""
    distinct: list[OrderDraft] = []
    for draft in group:
        twin = next((d for d in distinct if _same(d, draft)), None)
        if twin is None:
            distinct.append(draft)
            continue
        message = f"one order stands twice ({rows_of([twin.record, draft.record])}); only the first is planned"
        draft.set_aside(Reason.DUPLICATE_NUMBER, message)
        _rename([draft], taken)
        report.add(
            "duplicate-number",
            Severity.WARNING,
            message,
            source=draft.record.at("order_number"),
            order_ids=[draft.id],
        )
    return distinct


def _same(one: OrderDraft, other: OrderDraft) -> bool:
    return (one.record.values, one.record.flags, one.test_text) == (
        other.record.values,
        other.record.flags,
        other.test_text,
    )


def _rename(drafts: Iterable[OrderDraft], taken: set[str]) -> None:
    """Name orders whose number is another's by their row: 'Z6 (row 7)'."""
    for draft in drafts:
        row = draft.record.source.row
        draft.id = _free(draft.id if row is None else f"{draft.id} (row {row})", taken)


def _free(wanted: str, taken: set[str]) -> OrderId:
    """Return the id itself, or with the first free '(2)', '(3)', ...; it counts as taken from now on."""
    number, name = 2, wanted
    while name in taken:
        name = f"{wanted} ({number})"
        number += 1
    taken.add(name)
    return OrderId(name)


_TOTAL = re.compile(
    r"^(?:(?:grand|sub)[ -]?total|totals?|sum|summe|gesamt(?:summe|zahl)?|anzahl(?: auftrage)?|zwischensumme|count|"
    r"row count|record count|number of (?:orders|rows|records|tests)|total(?: number)?(?: of)? "
    r"(?:orders|rows|records|tests|patients|requests)|somme|nombre(?: total)?|total general|cantidad|suma)"
    r"\s*[:=]?\s*(?P<number>\d[\d.,' ]*)?$"
)
_NUMBER = re.compile(r"^\d[\d.,' ]*$")


def are_totals(record: Record, shapes: frozenset[str]) -> bool:
    """Return whether a row is clearly one of totals and no order.

    One cell must say so, every other must be a bare number, and none may be an order number of the shape that
    the other rows' have (``shapes``), a patient, a bed or a date.
    """
    if record.flags or not record.values:
        return False
    cells = {name: word(text) for name, text in record.values.items()}
    said = {name for name, text in cells.items() if _TOTAL.match(text)}
    if not said or any(name not in said and not _NUMBER.match(text) for name, text in cells.items()):
        return False
    if "bed" in cells or ("patient_number" in cells and "patient_number" not in said):
        return False
    number = record.text("order_number")
    return not number or "order_number" in said or shape(number) not in shapes


def shape(number: str) -> str:
    """Return what an order number looks like: 'AL1001' is 'A9', '0017-3' is '9-9'."""
    return re.sub(r"[^\W\d_]+", "A", re.sub(r"\d+", "9", number))


def shapes_of(records: Iterable[Record]) -> frozenset[str]:
    """Return the shapes of the order numbers of rows that name a patient."""
    return frozenset(
        shape(record.text("order_number"))
        for record in records
        if record.text("order_number") and record.text("patient_number")
    )
