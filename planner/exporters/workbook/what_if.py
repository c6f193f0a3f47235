"""Lays out what one phlebotomist needs when something goes wrong, and at the end: what-if card, strip to sign out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.exporters.view.paper import Paper
from planner.exporters.view.round_view import RouteView
from planner.exporters.view.sign_out import NOT_DRAWN_HEADS, NOT_DRAWN_ROWS, SIGN_OUT_TITLE
from planner.exporters.view.words import WHAT_IF_HEADS, WHAT_IF_TITLE
from planner.exporters.workbook.text import HEAD_PT, Text
from planner.exporters.workbook.writer import MEDIUM, WRITE_PT, SheetWriter

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_WIDTHS_MM = (31.0, 83.0, 34.5, 34.5)


def write_what_if(sheet: Worksheet, route: RouteView, paper: Paper) -> SheetWriter:
    """Write the card: whole on one page, but for large print."""
    writer = SheetWriter(sheet, paper, _WIDTHS_MM)
    last = len(_WIDTHS_MM)
    with writer.block(with_next=True, is_framed=False):
        writer.line(Text(text=f"{WHAT_IF_TITLE}: {route.name}", first=1, last=last, size=HEAD_PT, bold=True))
        heads = enumerate(WHAT_IF_HEADS, start=1)
        writer.line(*(Text(text=head, first=n, last=n, bold=True, fill=MEDIUM) for n, head in heads))
    for line in route.what_if:
        texts = (line.title, line.do, line.write, line.phone)
        cells = (Text(text=t, first=n, last=n, bold=n in (1, last)) for n, t in enumerate(texts, start=1))
        writer.line(*cells, rule=True)
    writer.box(1)
    writer.gap(10)
    _sign_out(writer, route)
    return writer


def _sign_out(writer: SheetWriter, route: RouteView) -> None:
    """Write the strip that is filled in at the end of the route: beds not drawn, counts, whom it was told."""
    last = len(_WIDTHS_MM)
    first = writer.row + 1
    with writer.block():
        writer.line(Text(text=SIGN_OUT_TITLE, first=1, last=last, size=HEAD_PT, bold=True))
        places = ((1, 1), (2, 2), (3, last))
        heads = zip(NOT_DRAWN_HEADS, places, strict=True)
        writer.line(*(Text(text=head, first=a, last=b, bold=True, fill=MEDIUM) for head, (a, b) in heads))
        for _ in range(NOT_DRAWN_ROWS):
            writer.line(*(Text(first=a, last=b, is_boxed=True) for a, b in places), min_pt=WRITE_PT)
        for words in route.sign_out:
            writer.line(Text(text=words, first=1, last=last, middle=True), min_pt=WRITE_PT)
    writer.box(first)
