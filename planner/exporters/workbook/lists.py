"""Lays out the sheets beside the routes: overview with decisions, and supplies with hand-overs."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from planner.exporters.view.notes.changes import ReplanView
from planner.exporters.view.paper import Paper
from planner.exporters.view.round_view import RoundView
from planner.exporters.view.rows import CollectionLine, DecisionLine
from planner.exporters.view.words import ALSO, BOX, JUDGED, SHAPED, count_words
from planner.exporters.workbook.changes import (
    ADDON_HEADS,
    CHANGE_HEADS,
    addon_rows,
    addon_title,
    change_rows,
    change_title,
    given_words,
)
from planner.exporters.workbook.text import HEAD_PT, LARGE_PT, Span, Text
from planner.exporters.workbook.writer import LIGHT, MEDIUM, SheetWriter

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_SUPPLIES_MM = 186.0


_PACKET_MM = (10.0, 19.0, 31.0, 34.0, 32.0, 20.0, 20.0, 20.0)
_OVERVIEW, _SUPPLIES = ((1, 2), (3, 3), (4, 4), (5, 6), (7, 8)), ((1, 1), (2, 5), (6, 6), (7, 7), (8, 8))
"""Columns of a packet's first sheet, and which of them make those of the overview, and of the supplies."""


def write_first_sheet(sheet: Worksheet, view: RoundView, paper: Paper) -> SheetWriter:
    """Write the first sheet of a packet: what must be known before the round, then what to take along."""
    writer = SheetWriter(sheet, paper, _PACKET_MM)
    writer.use(_OVERVIEW)
    _overview(writer, view)
    writer.gap(8)
    writer.use(_SUPPLIES)
    _supplies(writer, view)
    return writer


def write_overview(sheet: Worksheet, view: RoundView, paper: Paper) -> SheetWriter:
    """Write the first sheet: what needs a decision, what is late, who goes where, how good the plan is."""
    writer = SheetWriter(sheet, paper, (29.0, 31.0, 34.0, 51.0, 41.0))
    _overview(writer, view)
    return writer


def _overview(writer: SheetWriter, view: RoundView) -> None:
    if view.newest:
        writer.line(Text(text=view.newest, first=1, last=5, size=HEAD_PT, bold=True))
    writer.line(Text(text=view.heading, first=1, last=5, size=LARGE_PT, bold=True))
    line = "   ".join(text for text in (view.date, view.wards, view.revision, view.printed) if text)
    writer.line(Text(text=line, first=1, last=5, size=HEAD_PT))
    writer.line(Text(text="; ".join(view.summary) + ".", first=1, last=5, size=HEAD_PT))
    if view.unconfirmed:
        writer.line(Text(text=f"{view.unconfirmed}.", first=1, last=5, size=HEAD_PT, bold=True))
    if view.replan is not None:
        _changes(writer, view, view.replan)
    _decisions(writer, view)
    if view.late:
        _heading(
            writer, f"Late ({len(view.late)})", ("Bed", "Late by", "Orders", "Should be drawn by", "Planned, by whom")
        )
        for late in view.late:
            _row(writer, (late.where, late.late, late.orders, late.due, f"{late.planned}, {late.phlebotomist}"))
    if not view.is_packet:
        _heading(writer, "Who goes", ("Phlebotomist", "Starts", "First stop", "Hand-overs", "In all"))
        for route in view.routes:
            first = f"bed {route.visits[0].bed} at {route.visits[0].at}" if route.visits else "none"
            _row(writer, (route.called, route.starts, first, route.hand_overs, route.summary))
        if any(route.shaped for route in view.routes):
            _heading(writer, SHAPED, ())
            for route in view.routes:
                writer.line(Text(text=f"{route.called}: {route.shaped}.", first=1, last=5))
    if view.index:
        writer.line(Text(text=view.index, first=1, last=5))
    if view.others:
        others = f"Also on this round, each with a sheet of their own (ask the lead for it): {', '.join(view.others)}."
        writer.line(Text(text=others, first=1, last=5))
    if view.checks:
        _heading(writer, "Please check", ())
        for check in view.checks:
            writer.line(Text(text=f"{BOX} {check.text}", first=1, last=5))
    if view.for_information:
        _heading(
            writer,
            f"Not planned, for information ({_num_orders(view.for_information)})",
            ("Bed", "Orders", "Tests", "Why", "Detail"),
        )
        for item in view.for_information:
            _row(writer, (item.where, item.orders, item.tests, item.what, item.detail))
    if view.assumptions and not view.is_packet:  # for the lead
        _heading(writer, "Assumed, because nothing was given", ())
        for text in view.assumptions:
            writer.line(Text(text=text, first=1, last=5))
    if view.judged:
        writer.gap(8)
        spans = (Span(f"{JUDGED}: ", bold=True), Span(view.judged))
        writer.line(Text(spans=spans, first=1, last=5))


def _changes(writer: SheetWriter, view: RoundView, replan: ReplanView) -> None:
    """Write what a replanned round says first: what changed, and the add-ons to phone through."""
    if replan.addons:
        _heading(writer, addon_title(replan), ADDON_HEADS)
        for cells in addon_rows(replan):
            _row(writer, cells)
    _heading(writer, change_title(view), CHANGE_HEADS if replan.changes else ())
    for cells in change_rows(replan):
        _row(writer, cells)
    for text in (given_words(replan), "" if replan.changes else "No stop changed."):
        if text:
            writer.line(Text(text=text, first=1, last=5))


def _decisions(writer: SheetWriter, view: RoundView) -> None:
    if not view.decisions:
        _heading(writer, "Needs a decision: nothing", (), with_next=False)
        return
    title = f"NEEDS A DECISION ({view.decision_count})"
    _heading(writer, title, ("Bed", "Orders", "Tests", "What was found", ""))
    for group in view.decision_groups:
        with writer.block(with_next=True):
            spans = (Span(f"{group.title}: ", bold=True), Span(group.action))
            writer.line(Text(spans=spans, first=1, last=5, fill=LIGHT))
        for bed, orders, tests, detail in group.rows():
            writer.line(
                Text(text=f"{BOX} {bed}", first=1, last=1, bold=True),
                Text(text=orders, first=2, last=2),
                Text(text=tests, first=3, last=3),
                Text(text=detail, first=4, last=5),
                rule=True,
            )


def _num_orders(decisions: Sequence[DecisionLine]) -> int:
    return sum(decision.num_orders for decision in decisions)


def _heading(writer: SheetWriter, title: str, columns: Sequence[str], *, with_next: bool = True) -> None:
    writer.gap(8)
    with writer.block(with_next=with_next):
        writer.line(Text(text=title, first=1, last=5, size=HEAD_PT, bold=True))
        if columns:
            writer.line(
                *(Text(text=c, first=i, last=i, bold=True, fill=MEDIUM) for i, c in enumerate(columns, start=1))
            )


def _row(writer: SheetWriter, texts: Sequence[str]) -> None:
    writer.line(
        *(Text(text=t, first=i, last=i, bold=i == 1) for i, t in enumerate(texts, start=1)),
        rule=True,
    )


def write_supplies(sheet: Worksheet, view: RoundView, paper: Paper) -> SheetWriter:
    """Write what to take along and, for each collection, what lies there to tick off."""
    numbers = view.supply_heads
    width = min(19.0, 100.0 / len(numbers))
    writer = SheetWriter(sheet, paper, (10.0, _SUPPLIES_MM - 10.0 - width * len(numbers), *(width for _ in numbers)))
    sheet.freeze_panes = "A2"
    _supplies(writer, view)
    return writer


def _supplies(writer: SheetWriter, view: RoundView) -> None:
    numbers = view.supply_heads
    last, is_first = 2 + len(numbers), not writer.row
    heads = ("", "Take along", *numbers)
    with writer.block(is_framed=False):
        writer.line(*(Text(text=h, first=i, last=i, bold=True, fill=MEDIUM) for i, h in enumerate(heads, start=1)))
        writer.line(Text(text=view.supply_note, first=1, last=last))
    if view.loading:
        writer.line(Text(text=view.loading, first=1, last=last, bold=True))
    for group, lines in groupby(view.supplies, key=lambda line: line.group):
        with writer.block():
            writer.line(Text(text=group, first=1, last=last, bold=True, fill=LIGHT))
            for line in lines:
                cells = (BOX, line.item, *view.supply_cells(line))
                writer.line(
                    *(Text(text=text, first=i, last=i, bold=i in (2, last)) for i, text in enumerate(cells, start=1)),
                    rule=True,
                )
    with writer.block():
        writer.line(
            Text(text=BOX, first=1, last=1),
            Text(text=ALSO, first=2, last=last, bold=True),
        )
    if is_first:
        writer.repeat_first_row_beyond_a_page()  # else the heading of the supplies would stand above the hand-overs
    for number, cold in enumerate(view.cold_lines):
        if not number:
            writer.gap(8)
            writer.line(Text(text="On ice, by bed", first=1, last=last, size=HEAD_PT, bold=True))
        writer.line(
            Text(text=BOX, first=1, last=1),
            Text(text=cold, first=2, last=last),
            rule=True,
        )
    writer.gap(8)
    writer.line(Text(text="Hand-overs: count, then tick", first=1, last=last, size=HEAD_PT, bold=True))
    if view.is_packet:
        for item in view.collections:
            writer.line(
                Text(text=BOX, first=1, last=1),
                Text(spans=_own_collection(item), first=2, last=last),
                rule=True,
            )
        return
    for key, collections in groupby(view.collections, key=lambda c: (c.place, c.leaves)):
        with writer.block():
            writer.line(Text(text=f"{key[0]}: {key[1]}", first=1, last=last, bold=True, size=HEAD_PT, fill=LIGHT))
            for item in collections:
                writer.line(
                    Text(text=BOX, first=1, last=1, size=HEAD_PT),
                    Text(spans=_collection(item), first=2, last=last),
                    rule=True,
                )


def _own_collection(item: CollectionLine) -> tuple[Span, ...]:
    """Return a hand-over of the one person whose packet it is: when, where, how, and what to count."""
    head = Span(f"{item.at} {item.place}. {item.leaves}, {count_words(item.num_tubes, 'tube')}: ", bold=True)
    more = tuple(Span(f"; {words}", bold=True) for words in (item.special, item.missed) if words)
    return (head, Span(f"{item.contents}; {item.beds}"), *more)


def _collection(item: CollectionLine) -> tuple[Span, ...]:
    head = Span(f"{item.at} {item.phlebotomist}, {count_words(item.num_tubes, 'tube')}: ", bold=True)
    more = tuple(Span(f"\n{words}", bold=True) for words in (item.special, item.missed) if words)
    return (head, Span(f"{item.contents}\n{item.beds}"), *more)
