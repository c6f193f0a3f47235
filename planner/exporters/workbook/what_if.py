"""Lays out the what-if card of one phlebotomist: a box with a row for each thing that may go wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.exporters.view.paper import Paper
from planner.exporters.view.round_view import RouteView
from planner.exporters.view.words import WHAT_IF_HEADS, WHAT_IF_TITLE
from planner.exporters.workbook.text import Text
from planner.exporters.workbook.writer import MEDIUM, SheetWriter

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_WIDTHS_MM = (31.0, 83.0, 34.5, 34.5)


def write_what_if(sheet: Worksheet, route: RouteView, paper: Paper) -> SheetWriter:
    """Write the card: whole on one page, but for large print."""
    writer = SheetWriter(sheet, paper, _WIDTHS_MM)
    last = len(_WIDTHS_MM)
    with writer.block(with_next=True, is_framed=False):
        writer.line(Text(text=f"{WHAT_IF_TITLE}: {route.name}", first=1, last=last, size=13, bold=True))
        heads = enumerate(WHAT_IF_HEADS, start=1)
        writer.line(*(Text(text=head, first=n, last=n, bold=True, fill=MEDIUM) for n, head in heads))
    for line in route.what_if:
        texts = (line.title, line.do, line.write, line.phone)
        cells = (Text(text=t, first=n, last=n, bold=n in (1, last)) for n, t in enumerate(texts, start=1))
        writer.line(*cells, rule=True)
    writer.box(1)
    return writer
