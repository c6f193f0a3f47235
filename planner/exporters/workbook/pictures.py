"""Lays out the page of one phlebotomist that shows map and timeline, with the cautions under them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from planner.exporters.pictures.draw import Picture
from planner.exporters.pictures.glyphs import letters_without_picture
from planner.exporters.view.paper import Paper
from planner.exporters.view.round_view import RoundView
from planner.exporters.workbook.legend import LEGEND_MM, caution_spans, write_key
from planner.exporters.workbook.text import HEAD_PT, Span, Text
from planner.exporters.workbook.writer import SheetWriter

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_SQUARES = "Some places have names in letters that these pictures lack: empty squares. Go by the numbers of the stops."
_BESIDE_PT = 170.0
"""Room for the headings and the cautions of a page of pictures."""
_LEAST_SHARE = 0.8
"""Pictures that would be smaller than that on one page are spread over several."""


def write_pictures(
    sheet: Worksheet, view: RoundView, index: int, paper: Paper, pictures: Sequence[Picture]
) -> SheetWriter:
    """Write the pictures of one route, none split across pages, then the cautions; on a packet the legend too."""
    route = view.routes[index]
    writer = SheetWriter(sheet, paper, LEGEND_MM)
    last = len(LEGEND_MM)
    with writer.block(with_next=bool(pictures), is_framed=False):
        writer.line(Text(text=f"Where and when: {route.name}", first=1, last=last, size=HEAD_PT, bold=True))
        writer.line(Text(text=route.map_words, first=1, last=last))
        if letters_without_picture(_names(view, index)):
            writer.line(Text(text=_SQUARES, first=1, last=last))
    scales = _points_an_inch(writer, pictures)
    is_one_page = len(set(scales)) == 1 and sum(p.height_in for p in pictures) * scales[0] <= _room_pt(writer)
    for number, (picture, scale) in enumerate(zip(pictures, scales, strict=True), start=1):
        size = picture.width_in * scale, picture.height_in * scale
        writer.picture(picture.png, *size, with_next=is_one_page and number < len(pictures))
    if view.is_packet:
        writer.gap(6)
        write_key(writer, view)
    else:
        write_cautions(writer, view.cautions, last)
    return writer


def _names(view: RoundView, index: int) -> list[str]:
    """Return the names of places that stand in the pictures of a route."""
    return [*(place.name for place in view.map.places), *(bar.label for bar in view.timeline.rows[index].bars)]


def write_cautions(writer: SheetWriter, cautions: Sequence[str], last: int) -> None:
    """Write the cautions one after the other."""
    writer.gap(3)
    with writer.block():
        spans = (Span("CAUTIONS  ", bold=True), *caution_spans(cautions))
        writer.line(Text(spans=spans, first=1, last=last))


def _points_an_inch(writer: SheetWriter, pictures: Sequence[Picture]) -> list[float]:
    """Return how large each picture is drawn: across the page, or a little less so that all are on one page.

    Where they would become too small for that, each is as large as a page of its own lets it be.
    """
    if not pictures:
        return []
    across = writer.width_pt(1, len(LEGEND_MM)) / max(picture.width_in for picture in pictures)
    room = _room_pt(writer)
    together = min(across, room / sum(picture.height_in for picture in pictures))
    if together >= _LEAST_SHARE * across:
        return [together] * len(pictures)
    return [min(across, room / picture.height_in) for picture in pictures]


def _room_pt(writer: SheetWriter) -> float:
    return writer.page_pt() - _BESIDE_PT * writer.paper.zoom
