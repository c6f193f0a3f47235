"""Draws the ward from above, with the numbered stops of one route and the line along which she walks."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import hypot, nan
from typing import TYPE_CHECKING, Any

from planner.exporters.view_pictures import MapLine, MapStop, MapView, Point

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_EDGE_M = 2.5
_EDGE_PT = 42
_HEIGHT_IN = (1.5, 3.6)
_WIDTH_PT = 525
"""Width of the picture."""
_LANE_M = 1.6
"""Walks along one corridor are spread over this width, so that each can be seen."""
_TIP, _HEAD_PT = 0.52, (2.8, 1.4)
"""Where along a leg the tip of its arrow is, how long the head and half its width."""
_PEN_UP = (nan, nan)
"""Between two lines that are drawn as one."""


def map_height_in(ward: MapView, width_in: float) -> float:
    """Return the height that keeps the ward's shape, within limits."""
    left, bottom, right, top = _frame(ward)
    least, most = _HEIGHT_IN
    return min(most, max(least, width_in * (top - bottom) / (right - left)))


def draw_map(axes: Axes, ward: MapView, line: MapLine) -> None:
    """Draw corridors, all beds, then the way and the stops of one route."""
    frame = left, bottom, right, top = _frame(ward)
    axes.set_xlim(left, right)
    axes.set_ylim(bottom, top)
    axes.set_aspect("equal", adjustable="box")
    axes.set_axis_off()
    add_lines(axes, ward.corridors, color="0.88", linewidth=7, solid_capstyle="round", zorder=1)
    stopped = {stop.at for stop in line.stops}
    taken = [_box(place.at, place.label, frame) for place in ward.places if place.at not in stopped | {line.start}]
    for place in ward.places:
        if place.at not in stopped | {line.start}:
            _word(axes, place.at, place.label, size=6.5, colour="0.35", edge="0.7", fill="white", zorder=2)
    _walks(axes, line)
    marks = [_mark(stop) for stop in line.stops]
    if line.start not in stopped:
        name = next((place.label for place in ward.places if place.at == line.start), "")
        marks.append((line.start, "start", name, False))
    taken += [_box(at, words, frame) for at, words, _, _ in marks]
    middle = sum(place.at[1] for place in ward.places) / len(ward.places)
    for at, words, name, is_bed in marks:
        colour, fill = ("white", "black") if is_bed else ("black", "0.85")
        _word(axes, at, words, size=8.5, colour=colour, edge="black", fill=fill, zorder=6, is_bold=True)
        taken.append(_beside(axes, at, name, frame, middle, taken, size=6.5 if is_bed else 7.5))
    if ward.note:
        axes.text(
            0.995,
            0.01,
            ward.note,
            transform=axes.transAxes,
            ha="right",
            va="bottom",
            fontsize=6.5,
            color="0.25",
            parse_math=False,
        )


def _mark(stop: MapStop) -> tuple[Point, str, str, bool]:
    """Return what stands in the box of a stop and what beside it: a bed's label inside, a place's name beside.

    Numbers of stops are always called so: a bed's label is often a number too.
    """
    said = f"stop{'s' if len(stop.numbers) > 1 else ''} {','.join(map(str, stop.numbers))}"
    return (stop.at, stop.label, said, True) if stop.is_bed else (stop.at, said, stop.label, False)


def add_lines(axes: Axes, lines: Sequence[Sequence[Point]], **look: Any) -> None:
    """Draw lines of one look as one: the library takes nearly as long for a line as for all of them.

    ``Axes.plot`` would also work out limits, which are set already.
    """
    from matplotlib.lines import Line2D

    points = [point for line in lines for point in (*line, _PEN_UP)]
    if points:
        axes.add_artist(Line2D(*zip(*points, strict=True), **look))


def _walks(axes: Axes, line: MapLine) -> None:
    """Draw each walk in its own lane, with an arrow in its middle."""
    from matplotlib.collections import PolyCollection

    count = len(line.walks)
    lanes = [in_lane(walk, _LANE_M * ((n + 0.5) / count - 0.5)) for n, walk in enumerate(line.walks)]
    add_lines(axes, lanes, color="0.15", linewidth=0.9, zorder=4, solid_joinstyle="round")
    metres = _metres_a_point(axes)
    legs = [max(pairwise(points), key=lambda leg: _length(*leg)) for points in lanes]
    heads = [_head(*leg, metres) for leg in legs if _length(*leg)]
    axes.add_artist(PolyCollection(heads, facecolor="0.15", edgecolor="0.15", linewidth=0.6, zorder=4))


def _metres_a_point(axes: Axes) -> float:
    """Return how many metres a point (1/72 inch) of the print is on the map."""
    axes.apply_aspect()
    (left, _), (right, _) = axes.transData.transform([(0.0, 0.0), (1.0, 0.0)])
    return float(axes.figure.dpi / 72 / (right - left))


def _head(start: Point, end: Point, metres: float) -> list[Point]:
    """Return the corners of an arrow's head just past the middle of a leg; ``metres`` as in `_metres_a_point`."""
    (x1, y1), (x2, y2) = start, end
    span = hypot(x2 - x1, y2 - y1)
    along_x, along_y = (x2 - x1) / span * metres, (y2 - y1) / span * metres
    tip_x, tip_y = x1 + (x2 - x1) * _TIP, y1 + (y2 - y1) * _TIP
    long, wide = _HEAD_PT
    foot_x, foot_y = tip_x - long * along_x, tip_y - long * along_y
    return [
        (foot_x - wide * along_y, foot_y + wide * along_x),
        (tip_x, tip_y),
        (foot_x + wide * along_y, foot_y - wide * along_x),
    ]


def in_lane(walk: Sequence[Point], shift: float) -> list[Point]:
    """Return a walk moved to its lane: along a corridor to the side, into a room straight on."""
    last = len(walk) - 1
    points = list(walk)
    for i in range(1, last):
        x, y = walk[i]
        legs = [(a, b) for a, b in ((i - 1, i), (i, i + 1)) if a > 0 and b < last]
        runs_across = any(abs(walk[a][0] - walk[b][0]) >= abs(walk[a][1] - walk[b][1]) for a, b in legs)
        runs_up = any(abs(walk[a][0] - walk[b][0]) < abs(walk[a][1] - walk[b][1]) for a, b in legs)
        points[i] = (x + (shift if runs_up else 0.0), y + (shift if runs_across else 0.0))
    return points


def _length(start: Point, end: Point) -> float:
    return abs(start[0] - end[0]) + abs(start[1] - end[1])


Box = tuple[float, float, float, float]
"""Left, bottom, right, top in metres."""


def _box(at: Point, words: str, frame: Box, shift: Point = (0.0, 0.0), size: float = 7.5) -> Box:
    """Return the room that words take on the map of this frame."""
    metres = _metres(frame) / _WIDTH_PT
    half = (2.6 * max(2, len(words)) + 3 if size >= 7.5 else 2.0 * len(words)) * metres
    tall = 6.5 * metres
    x, y = at[0] + shift[0] * metres + half * _sign(shift[0]), at[1] + shift[1] * metres
    return x - half, y - tall, x + half, y + tall


def _metres(frame: Box) -> float:
    left, _, right, _ = frame
    return right - left


def _is_centre(box: Box, at: Point) -> bool:
    return abs((box[0] + box[2]) / 2 - at[0]) < 1e-6 and abs((box[1] + box[3]) / 2 - at[1]) < 1e-6


def _sign(number: float) -> int:
    return (number > 0) - (number < 0)


def _beside(axes: Axes, at: Point, label: str, frame: Box, middle: float, taken: Sequence[Box], *, size: float) -> Box:
    """Write the name of a place, or the stops at a bed, beside its box, where there is room, first outward."""
    outward = 1 if at[1] >= middle else -1
    left, _, right, _ = next(box for box in taken if _is_centre(box, at))
    aside = (right - left) / 2 * _WIDTH_PT / _metres(frame) + 3
    far = 31 if size >= 7.5 else 27
    sides: list[Point] = [(0, 15 * outward), (0, far * outward), (aside, 0), (-aside, 0), (0, -15 * outward)]
    free = (s for s in sides if not any(_overlap(_box(at, label, frame, s, size), box) for box in taken))
    side = next((s for s in free if s[0] == 0 or not _outside(_box(at, label, frame, s, size), frame)), sides[0])
    inward = _outside(_box(at, label, frame, side, size), frame)
    axes.annotate(
        label,
        xy=at,
        xytext=(side[0] + inward * _WIDTH_PT / _metres(frame), side[1]),
        textcoords="offset points",
        ha={0: "center", 1: "left", -1: "right"}[_sign(side[0])],
        va="center",
        fontsize=size,
        fontweight="bold",
        zorder=7,
        bbox={"boxstyle": "square,pad=0.05", "facecolor": "white", "edgecolor": "none", "alpha": 0.85},
        parse_math=False,
    )
    left, bottom, right, top = _box(at, label, frame, side, size)
    return left + inward, bottom, right + inward, top


def _outside(box: Box, frame: Box) -> float:
    """Return by how many metres a box must move to the right to lie inside the picture, to the left if negative."""
    left, _, right, _ = frame
    return max(0.0, left - box[0]) - max(0.0, box[2] - right)


def _overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _word(
    axes: Axes,
    at: Point,
    text: str,
    *,
    size: float,
    colour: str,
    edge: str,
    fill: str,
    zorder: int,
    is_bold: bool = False,
) -> None:
    axes.text(
        *at,
        text,
        ha="center",
        va="center",
        fontsize=size,
        color=colour,
        fontweight="bold" if is_bold else "normal",
        bbox={"boxstyle": "round,pad=0.25", "facecolor": fill, "edgecolor": edge, "linewidth": 0.7},
        zorder=zorder,
        parse_math=False,
    )


def _frame(ward: MapView) -> Box:
    """Return left, bottom, right, top of what is drawn, with room for words at the edges."""
    points = [place.at for place in ward.places] + [p for line in ward.lines for walk in line.walks for p in walk]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    span = max(max(xs) - min(xs), 4 * _EDGE_M)
    edge = span * _EDGE_PT / (_WIDTH_PT - 2 * _EDGE_PT)
    return min(xs) - edge, min(ys) - edge, max(xs) + edge, max(ys) + edge
