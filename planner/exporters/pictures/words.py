"""Words in a picture: how they look, and the room that they take in print, so that none covers another."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal

from planner.exporters.view.drawn.pictures import Point

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Look = Literal["other", "bed", "stop", "beside", "plain"]
"""A place without a stop, a bed with one, another stop, what stands beside these, words of their own."""
_BOXES: dict[Look, tuple[str, str, str]] = {
    "other": ("0.35", "0.7", "white"),
    "bed": ("white", "black", "black"),
    "stop": ("black", "black", "0.85"),
}
"""Colour of the words, of the edge of their box and of what fills it."""
_BOLD = ("bed", "stop", "beside")
_PADS: dict[Look, float] = {"other": 0.25, "bed": 0.25, "stop": 0.25, "beside": 0.05, "plain": 0.0}
"""White around the words, in sizes of the font."""
_EDGE_PT = 0.7

Box = tuple[float, float, float, float]
"""Left, bottom, right, top, in the units of the drawing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """Words at a point, moved from there by so many points (1/72 inch): ``side`` 0 in its middle, 1 to the right."""

    at: Point
    text: str
    size: float
    look: Look = "plain"
    shift: Point = (0.0, 0.0)
    side: int = 0

    def box(self, unit: float) -> Box:
        """Return the room that the words take with their box; ``unit`` of the drawing is a point of the print."""
        wide, tall = extent_pt(self.text, self.size, is_bold=self.look in _BOLD)
        pad = _PADS[self.look] * self.size + (_EDGE_PT / 2 if self.look in _BOXES else 0.0)
        x = self.at[0] + (self.shift[0] + self.side * wide / 2) * unit
        y = self.at[1] + self.shift[1] * unit
        half, up = (wide / 2 + pad) * unit, (tall / 2 + pad) * unit
        return x - half, y - up, x + half, y + up


@lru_cache(maxsize=4096)
def extent_pt(text: str, size: float, *, is_bold: bool) -> tuple[float, float]:
    """Return how wide and how high a line of words prints, in points."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(family=["DejaVu Sans"], size=size, weight="bold" if is_bold else "normal")
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        wide, tall, _ = text_to_path.get_text_width_height_descent(text, font, ismath=False)
    _, least, _ = text_to_path.get_text_width_height_descent("lp", font, ismath=False)
    return float(wide), float(max(tall, least))


def overlap(one: Box, other: Box) -> bool:
    """Return whether two boxes share more than an edge."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def any_overlap(boxes: Sequence[Box]) -> bool:
    """Return whether any two of these boxes overlap."""
    ordered = sorted(boxes)
    for n, box in enumerate(ordered):
        for other in ordered[n + 1 :]:
            if other[0] >= box[2]:
                break
            if overlap(box, other):
                return True
    return False


def shortened(text: str, room_pt: float, size: float, *, is_bold: bool) -> str:
    """Return a text, cut where it would be wider than the room."""
    if extent_pt(text, size, is_bold=is_bold)[0] <= room_pt:
        return text
    last = len(text) - 1
    while last and extent_pt(f"{text[:last].rstrip()}...", size, is_bold=is_bold)[0] > room_pt:
        last -= 1
    return f"{text[:last].rstrip()}..."


def in_lines(parts: Sequence[str], room_pt: float, size: float, *, is_bold: bool = False) -> list[str]:
    """Return parts of a sentence in lines of the room; no part is broken, one wider than the room is cut."""
    lines: list[str] = []
    for part in parts:
        longer = f"{lines[-1]} {part}" if lines else ""
        if longer and extent_pt(longer, size, is_bold=is_bold)[0] <= room_pt:
            lines[-1] = longer
        else:
            lines.append(shortened(part, room_pt, size, is_bold=is_bold))
    return lines


def draw_word(axes: Axes, word: Word) -> None:
    """Draw words in the box of their look."""
    if word.look == "beside":
        _annotate(axes, word)
        return
    colour, edge, fill = _BOXES[word.look]
    box: dict[str, Any] = {"boxstyle": "round,pad=0.25", "facecolor": fill, "edgecolor": edge, "linewidth": _EDGE_PT}
    axes.text(
        *word.at,
        word.text,
        ha="center",
        va="center",
        fontsize=word.size,
        color=colour,
        fontweight="bold" if word.look in _BOLD else "normal",
        bbox=box,
        zorder=2 if word.look == "other" else 6,
        parse_math=False,
    )


def draw_flat(axes: Axes, words: Sequence[Word]) -> None:
    """Draw words on axes in points, as large as the picture; the boxes of a look as one, and nothing is cut: faster."""
    from matplotlib.collections import PolyCollection

    wide, tall = axes.get_xlim()[1], axes.get_ylim()[1]
    for look, (_, edge, fill) in _BOXES.items():
        boxes = [word.box(1.0) for word in words if word.look == look]
        corners = [[(x1, y1), (x2, y1), (x2, y2), (x1, y2)] for x1, y1, x2, y2 in boxes]
        if corners:
            axes.add_artist(PolyCollection(corners, facecolor=fill, edgecolor=edge, linewidth=_EDGE_PT, zorder=5))
    for word in words:
        axes.figure.text(
            (word.at[0] + word.shift[0]) / wide,
            (word.at[1] + word.shift[1]) / tall,
            word.text,
            ha={0: "center", 1: "left", -1: "right"}[word.side],
            va="center",
            fontsize=word.size,
            color=_BOXES[word.look][0] if word.look in _BOXES else "black",
            fontweight="bold" if word.look in _BOLD else "normal",
            zorder=6,
            parse_math=False,
        )


def _annotate(axes: Axes, word: Word) -> None:
    axes.annotate(
        word.text,
        xy=word.at,
        xytext=word.shift,
        textcoords="offset points",
        ha={0: "center", 1: "left", -1: "right"}[word.side],
        va="center",
        fontsize=word.size,
        fontweight="bold",
        zorder=7,
        bbox={"boxstyle": "square,pad=0.05", "facecolor": "white", "edgecolor": "none", "alpha": 0.85},
        parse_math=False,
    )
