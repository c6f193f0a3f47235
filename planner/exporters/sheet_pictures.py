"""Lays out the sheet with map and timeline of each phlebotomist."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from planner.exporters.pictures import Picture, route_pictures
from planner.exporters.sheet_paper import Paper
from planner.exporters.sheet_text import Text
from planner.exporters.sheet_writer import SheetWriter
from planner.exporters.view import RoundView

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_HEADING_PT = 40.0
"""Room for the headings of a page of pictures."""


def write_pictures(sheet: Worksheet, view: RoundView, paper: Paper) -> SheetWriter:
    """Write the pictures of all routes; no picture is split across pages."""
    writer = SheetWriter(sheet, paper, (186.0,))
    writer.line(Text(text="Where and when: the numbers are those of the stops on the sheets", first=1, last=1, size=11))
    for index, route in enumerate(view.routes):
        pictures = route_pictures(view, index)
        with writer.block(with_next=bool(pictures)):
            summary = f"{route.name}: {route.summary}"
            writer.line(Text(text=summary, first=1, last=1, size=12, bold=True))
        scale = _points_an_inch(writer, pictures)
        for number, picture in enumerate(pictures, start=1):
            size = picture.width_in * scale, picture.height_in * scale
            writer.picture(picture.png, *size, with_next=number < len(pictures))
    return writer


def _points_an_inch(writer: SheetWriter, pictures: Sequence[Picture]) -> float:
    """Return how large the pictures are drawn: across the page, or less so that both are on one page."""
    if not pictures:
        return 0.0
    across = writer.width_pt(1, 1) / max(picture.width_in for picture in pictures)
    down = (writer.page_pt() - _HEADING_PT * writer.paper.zoom) / sum(picture.height_in for picture in pictures)
    return min(across, down)
