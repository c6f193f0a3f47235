"""Draws the stops of one route over time: windows behind, stays in front, couriers as lines across."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from planner.exporters.pictures.map import add_lines
from planner.exporters.pictures.text_layout import text_width_pt
from planner.exporters.view.drawn.pictures import TimeBar, TimelineView, TimeRow

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_ROW_IN, _EDGE_IN, _MOST_IN = 0.15, 0.62, 9.0
_LABEL_SHARE, _MOST_LABEL_SHARE = 0.19, 0.36
"""Parts of the width that the names of the stops take: as much as the longest needs, between these two."""
_LABEL_END = 7
_LETTERS_WIDER = 1.2
"""So much wider than estimated the letters of the pictures are at most (measured over the names of the tests)."""
_GAP_PT = 10.0
"""White before and after the labels."""


def _width_pt(label: str, size_pt: float) -> float:
    return text_width_pt(label, size_pt, bold=True) * _LETTERS_WIDER


def _label_share(labels: Sequence[str], size_pt: float, width_in: float) -> float:
    """Return the part of the width for the labels: a bed of a ward with a long name needs more."""
    widest_pt = max((_width_pt(label, size_pt) for label in labels), default=0.0) + _GAP_PT
    return min(_MOST_LABEL_SHARE, max(_LABEL_SHARE, widest_pt / (width_in * 72)))


def _shown(label: str, size_pt: float, room_pt: float) -> str:
    """Return a label that fits: of a long one the middle is left out, for the number and the bed stand at its ends."""
    shown, kept = label, len(label) - _LABEL_END - 1
    while kept > 0 and _width_pt(shown, size_pt) > room_pt:
        shown, kept = f"{label[:kept].rstrip()}...{label[-_LABEL_END:].lstrip()}", kept - 1
    return shown


def timeline_height_in(row: TimeRow) -> float:
    """Return the height that the stops need; very long routes get narrower rows."""
    return min(_MOST_IN, _EDGE_IN + _ROW_IN * max(3, len(row.bars)))


def draw_timeline(axes: Axes, timeline: TimelineView, row: TimeRow) -> None:
    """Draw a row a stop, from the top."""
    height_in = timeline_height_in(row)
    size = min(7.5, 72 * _ROW_IN * (height_in - _EDGE_IN) / (_ROW_IN * max(3, len(row.bars))) * 0.72)
    width_in = axes.figure.bbox.width / axes.figure.dpi
    share = _label_share([bar.label for bar in row.bars], size, width_in)
    axes.set_position((share, 0.36 / height_in, 0.97 - share, 1 - _EDGE_IN / height_in))
    axes.set_xlim(timeline.from_s, timeline.to_s)
    axes.set_ylim(len(row.bars) - 0.4, -0.6)
    axes.set_yticks([])
    axes.set_xticks([s for s, _ in timeline.ticks], [words for _, words in timeline.ticks], fontsize=7)
    axes.tick_params(length=2)
    axes.grid(axis="x", color="0.85", linewidth=0.5)
    axes.set_axisbelow(True)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    for number, bar in enumerate(row.bars):
        _bar(axes, timeline, number, bar)
        weight = "normal" if bar.kind == "visit" and not bar.is_late else "bold"
        axes.annotate(
            _shown(bar.label, size, share * width_in * 72 - _GAP_PT),
            xy=(timeline.from_s, number),
            xytext=(-4, 0),
            textcoords="offset points",
            ha="right",
            va="center",
            fontsize=size,
            fontweight=weight,
            annotation_clip=False,
            parse_math=False,
        )
    for at_s, words in row.couriers:
        axes.axvline(at_s, color="black", linewidth=1.1, linestyle=(0, (4, 2)), zorder=4)
        axes.annotate(
            words,
            xy=(at_s, 1),
            xycoords=("data", "axes fraction"),
            xytext=(0, 2),
            textcoords="offset points",
            ha="center",
            va="bottom",
            fontsize=7,
            fontweight="bold",
            parse_math=False,
        )
    draws = [
        ((bar.draw_s, number - 0.25), (bar.draw_s, number + 0.25))
        for number, bar in enumerate(row.bars)
        if bar.draw_s is not None
    ]
    add_lines(axes, draws, color="white", linewidth=1.2, zorder=6)
    _key(axes, height_in)


def _bar(axes: Axes, timeline: TimelineView, number: int, bar: TimeBar) -> None:
    if bar.has_window:
        from_s = timeline.from_s if bar.from_s is None else max(timeline.from_s, bar.from_s)
        ends = [e for e in (bar.wished_to_s, bar.to_s) if e is not None]
        wished_s = min(timeline.to_s, min(ends, default=timeline.to_s))
        last_s = timeline.to_s if bar.to_s is None else min(timeline.to_s, bar.to_s)
        _span(axes, number, from_s, wished_s, height=0.78, facecolor="0.85", edgecolor="0.45", linewidth=0.6)
        if bar.wished_to_s is not None and bar.to_s is not None and last_s > wished_s:
            _span(
                axes,
                number,
                max(from_s, wished_s),
                last_s,
                height=0.78,
                facecolor="white",
                edgecolor="0.6",
                linewidth=0.4,
                hatch="/////",
            )
    face = {"visit": "black", "handover": "white", "break": "0.6"}[bar.kind]
    width_s = max(bar.end_s, bar.start_s + (timeline.to_s - timeline.from_s) // 250)
    _span(axes, number, bar.start_s, width_s, height=0.5, facecolor=face, edgecolor="black", linewidth=0.9, zorder=5)
    if bar.is_late:
        axes.annotate(
            "LATE",
            xy=(width_s, number),
            xytext=(2, 0),
            textcoords="offset points",
            va="center",
            fontsize=6.5,
            fontweight="bold",
            zorder=6,
        )


def _span(axes: Axes, number: int, start_s: int, end_s: int, *, height: float, zorder: int = 3, **look: Any) -> None:
    if end_s > start_s:
        from matplotlib.patches import Rectangle

        corner = (start_s, number - height / 2)
        axes.add_artist(Rectangle(corner, end_s - start_s, height, zorder=zorder, **look))  # the limits are set already


def _key(axes: Axes, height_in: float) -> None:
    words = "black: at the bed, draw at its white line; grey: when to draw; hatched: late; white: hand-over"
    axes.figure.text(0.5, 0.03 / height_in, words, fontsize=6.5, ha="center", va="bottom", color="0.2")
