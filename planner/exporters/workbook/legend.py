"""Lays out the last sheet: cautions, words and signs, the tubes and the tests of the round."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from planner.exporters.view.paper import Paper
from planner.exporters.view.round_view import RoundView
from planner.exporters.workbook.text import HEAD_PT, Span, Text
from planner.exporters.workbook.writer import MEDIUM, SheetWriter

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_NUM_COLUMNS = 6
LEGEND_MM = (44.0, 18.0, 24.0, 42.0, 17.0, 41.0)
"""Columns of the legend."""
_TUBE_COLUMNS = ((1, 1), (2, 3), (4, 4), (5, 5), (6, 6))


def write_legend(sheet: Worksheet, view: RoundView, paper: Paper) -> SheetWriter:
    """Write cautions and legend, small but whole, so that they stay one page."""
    writer = SheetWriter(sheet, paper, LEGEND_MM)
    write_key(writer, view)
    return writer


def write_key(writer: SheetWriter, view: RoundView) -> None:
    """Write cautions and legend below what the sheet has already."""
    with writer.block():
        writer.line(Text(text="Cautions", first=1, last=_NUM_COLUMNS, size=HEAD_PT, bold=True))
        writer.line(Text(spans=caution_spans(view.cautions), first=1, last=_NUM_COLUMNS))
    _heading(writer, "Words and signs")
    meanings = [(Span(f"{word}: ", bold=True), Span(meaning)) for word, meaning in view.marks_key]
    _columns(writer, meanings, ((1, 3), (4, 6)))
    _heading(writer, "Tubes of this round, in order of draw")
    heads = ("Tube", "Cap", "Additive (ISO code)", "Invert", "Used for")
    writer.line(*_cells([(Span(head, bold=True),) for head in heads], _TUBE_COLUMNS, fill=MEDIUM))
    for tube in view.tube_key:
        texts = (tube.closure, tube.additive, tube.inversions, tube.note)
        spans = [(Span(tube.name, bold=True),), *((Span(text),) for text in texts)]
        writer.line(*_cells(spans, _TUBE_COLUMNS), rule=True)
    _heading(writer, "Tests of this round")
    names = tuple(s for t in view.test_key for s in (Span(f"{t.called}: ", bold=True), Span(f"{t.name}.   ")))
    if names:
        writer.line(Text(spans=names, first=1, last=_NUM_COLUMNS))


def caution_spans(cautions: Sequence[str]) -> tuple[Span, ...]:
    """Return the cautions one after the other, their numbers bold."""
    numbered = enumerate(cautions, start=1)
    return tuple(span for n, text in numbered for span in (Span(f"{n} ", bold=True), Span(f"{text}  ")))


def _heading(writer: SheetWriter, title: str) -> None:
    writer.gap(5)
    with writer.block(with_next=True):
        writer.line(Text(text=title, first=1, last=_NUM_COLUMNS, size=HEAD_PT, bold=True))


def _columns(writer: SheetWriter, items: Sequence[tuple[Span, ...]], places: Sequence[tuple[int, int]]) -> None:
    """Write items side by side, to be read down the first column, then down the next."""
    height = -(-len(items) // len(places))
    for row in range(height):
        own = [items[row + height * i] for i in range(len(places)) if row + height * i < len(items)]
        writer.line(*_cells(own, places), rule=True)


def _cells(items: Sequence[tuple[Span, ...]], places: Sequence[tuple[int, int]], *, fill: str = "") -> list[Text]:
    return [
        Text(spans=spans, first=first, last=last, fill=fill)
        for spans, (first, last) in zip(items, places, strict=False)
    ]
