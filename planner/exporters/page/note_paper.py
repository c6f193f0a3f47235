"""Chooses how large a change note is printed from the page: the largest letters that keep it on one sheet."""

from __future__ import annotations

from planner.exporters.pictures.text_layout import wrap
from planner.exporters.view.paper import Paper
from planner.exporters.view.round_view import RouteView

_SIZES = (("", 12.0, 1.25, 5.7), ("small", 10.5, 1.15, 2.9), ("smallest", 9.5, 1.12, 2.0))
"""Class in the style sheet, letters and white under each sentence in points, height of a line in letters."""
_DETAIL = 0.92
"""Size of a detail beside its sentence."""
_INDENT_MM, _HEAD_PT, _FILLED = 10.0, 75.0, 0.93
"""White before the sentences; heading and the line to sign; share of the page that is filled: letters are estimated."""
_PT_PER_MM = 72 / 25.4


def note_size(route: RouteView, paper: Paper) -> str:
    """Return the class of the largest letters in which the note is one page; of the smallest, if none is."""
    room = (paper.height_mm - paper.top_mm - paper.bottom_mm) * _PT_PER_MM * _FILLED - _HEAD_PT * paper.zoom
    for name, size_pt, line, white_pt in _SIZES:
        if _height_pt(route, paper, size_pt * paper.zoom, line, white_pt, is_joined=name == "smallest") <= room:
            return name
    return _SIZES[-1][0]


def _height_pt(
    route: RouteView, paper: Paper, size_pt: float, line: float, white_pt: float, *, is_joined: bool
) -> float:
    """Return how high the sentences are; in the smallest letters the details of each run on in one paragraph."""
    width = (paper.width_mm - 2 * paper.side_mm - _INDENT_MM * paper.zoom) * _PT_PER_MM
    total = 0.0
    for said in route.note:
        total += len(wrap(said.text, width, size_pt, bold=bool(said.details))) * size_pt * line + white_pt
        details = (" ".join(said.details),) if is_joined and said.details else said.details
        for detail in details:
            total += len(wrap(detail, width, size_pt * _DETAIL)) * size_pt * _DETAIL * line
    return total
