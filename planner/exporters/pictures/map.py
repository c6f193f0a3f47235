"""Draws the ward from above, with the numbered stops of one route and the line along which she walks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, nan
from typing import TYPE_CHECKING, Any

from planner.exporters.pictures.words import Box, Word, any_overlap, draw_word, overlap
from planner.exporters.view.drawn.pictures import MapLine, MapStop, MapView, Point

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_EDGE_M = 2.5
_EDGE_PT = 42
_HEIGHT_IN = (1.5, 3.6)
_WIDTH_PT = 525
"""Width of the picture."""
_LANE_M = 1.6
"""Walks along one corridor are spread over this width, so that each can be seen."""
_LEAST_APART_PT = 2.2
"""From one walk to the next along a corridor, so that an eye can follow it (our choice)."""
_TIP, _HEAD_PT = 0.52, (2.8, 1.4)
"""Where along a leg the tip of its arrow is, how long the head and half its width."""
_PEN_UP = (nan, nan)
"""Between two lines that are drawn as one."""
_NOTE_PT = 6.5


@dataclass(frozen=True, slots=True, kw_only=True)
class MapLayout:
    """A map of which every word has its place. ``metres`` are those of a point (1/72 inch) of the print."""

    ward: MapView
    line: MapLine
    frame: Box
    metres: float
    words: tuple[Word, ...]

    @property
    def is_readable(self) -> bool:
        """True when no word covers another, and walks along one corridor are far enough apart to be followed."""
        if len(self.line.walks) * _LEAST_APART_PT > _LANE_M / self.metres:
            return False
        left, bottom, right, _ = self.frame
        note = Word(
            at=(right - (right - left) / 200, bottom), shift=(0, 5), text=self.ward.note, size=_NOTE_PT, side=-1
        )
        words = (*self.words, note) if self.ward.note else self.words
        return not any_overlap([word.box(self.metres) for word in words])

    def height_in(self, width_in: float) -> float:
        """Return the height that keeps the ward's shape, within limits."""
        left, bottom, right, top = self.frame
        least, most = _HEIGHT_IN
        return min(most, max(least, width_in * (top - bottom) / (right - left)))


def laid_out(ward: MapView, line: MapLine) -> MapLayout:
    """Return where every word of a route's map stands: beds, stops, and beside each of these its name or numbers.

    Where words cover one another, beds choose their side first, places with long names after them.
    """
    frame = _frame(ward)
    layout = _laid_out(ward, line, frame, beds_first=False)
    if layout.is_readable:
        return layout
    other = _laid_out(ward, line, frame, beds_first=True)
    return other if other.is_readable else layout


def _laid_out(ward: MapView, line: MapLine, frame: Box, *, beds_first: bool) -> MapLayout:
    left, bottom, right, top = frame
    most_pt = _HEIGHT_IN[1] * 72
    metres = max((right - left) / _WIDTH_PT, (top - bottom) / most_pt)
    stopped = {stop.key for stop in line.stops}
    others = [place for place in ward.places if place.key not in stopped | {line.start_key}]
    taken = [_box(place.at, place.name, metres) for place in others]
    words = [Word(at=place.at, text=place.name, size=6.5, look="other") for place in others]
    marks = [mark_of(stop, stop.name) for stop in line.stops]
    if line.start_key not in stopped:
        marks.append((line.start, "start", line.starts_at, False))
    taken += [_box(at, said, metres) for at, said, _, _ in marks]
    middle = sum(place.at[1] for place in ward.places) / len(ward.places)
    if beds_first:
        marks.sort(key=lambda mark: not mark[3])
    for at, said, name, is_bed in marks:
        words.append(Word(at=at, text=said, size=8.5, look="bed" if is_bed else "stop"))
        beside, box = _beside(at, name, frame, metres, middle, taken, size=6.5 if is_bed else 7.5)
        words.append(beside)
        taken.append(box)
    return MapLayout(ward=ward, line=line, frame=frame, metres=metres, words=tuple(words))


def draw_map(axes: Axes, layout: MapLayout) -> None:
    """Draw corridors, all beds, then the way and the stops of one route."""
    left, bottom, right, top = layout.frame
    axes.set_xlim(left, right)
    axes.set_ylim(bottom, top)
    axes.set_aspect("equal", adjustable="box")
    axes.set_axis_off()
    add_lines(axes, layout.ward.corridors, color="0.88", linewidth=7, solid_capstyle="round", zorder=1)
    draw_walks(axes, layout.line.walks, _LANE_M)
    for word in layout.words:
        draw_word(axes, word)
    if layout.ward.note:
        axes.text(
            0.995,
            0.01,
            layout.ward.note,
            transform=axes.transAxes,
            ha="right",
            va="bottom",
            fontsize=_NOTE_PT,
            color="0.25",
            parse_math=False,
        )


def mark_of(stop: MapStop, called: str) -> tuple[Point, str, str, bool]:
    """Return what stands in the box of a stop and what beside it: a bed's name inside, a place's name beside.

    Numbers of stops are always called so: a bed's label is often a number too.
    """
    said = said_of(stop.numbers)
    return (stop.at, called, said, True) if stop.is_bed else (stop.at, said, called, False)


def said_of(numbers: Sequence[int]) -> str:
    """Return the numbers of stops in words."""
    return f"stop{'s' if len(numbers) > 1 else ''} {','.join(map(str, numbers))}"


def add_lines(axes: Axes, lines: Sequence[Sequence[Point]], **look: Any) -> None:
    """Draw lines of one look as one: the library takes nearly as long for a line as for all of them.

    ``Axes.plot`` would also work out limits, which are set already.
    """
    from matplotlib.lines import Line2D

    points = [point for line in lines for point in (*line, _PEN_UP)]
    if points:
        axes.add_artist(Line2D(*zip(*points, strict=True), **look))


def draw_walks(axes: Axes, walks: Sequence[Sequence[Point]], wide: float) -> None:
    """Draw each walk in its own lane of a corridor so wide, with an arrow in its middle."""
    from matplotlib.collections import PolyCollection

    count = len(walks)
    lanes = [in_lane(walk, wide * ((n + 0.5) / count - 0.5)) for n, walk in enumerate(walks)]
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


def _box(at: Point, words: str, metres: float, shift: Point = (0.0, 0.0), size: float = 7.5) -> Box:
    """Return the room that words are reckoned to take on the map, when places for them are looked for."""
    half = (2.6 * max(2, len(words)) + 3 if size >= 7.5 else 2.0 * len(words)) * metres
    tall = 6.5 * metres
    x, y = at[0] + shift[0] * metres + half * _sign(shift[0]), at[1] + shift[1] * metres
    return x - half, y - tall, x + half, y + tall


def _is_centre(box: Box, at: Point) -> bool:
    return abs((box[0] + box[2]) / 2 - at[0]) < 1e-6 and abs((box[1] + box[3]) / 2 - at[1]) < 1e-6


def _sign(number: float) -> int:
    return (number > 0) - (number < 0)


def _beside(
    at: Point, label: str, frame: Box, metres: float, middle: float, taken: Sequence[Box], *, size: float
) -> tuple[Word, Box]:
    """Place the name of a place, or the stops at a bed, beside its box, where there is room, first outward."""
    outward = 1 if at[1] >= middle else -1
    left, _, right, _ = next(box for box in taken if _is_centre(box, at))
    aside = (right - left) / 2 / metres + 3
    far = 31 if size >= 7.5 else 27
    sides: list[Point] = [(0, 15 * outward), (0, far * outward), (aside, 0), (-aside, 0), (0, -15 * outward)]
    free = (s for s in sides if not any(overlap(_box(at, label, metres, s, size), box) for box in taken))
    side = next((s for s in free if s[0] == 0 or not _outside(_box(at, label, metres, s, size), frame)), sides[0])
    inward = _outside(_box(at, label, metres, side, size), frame)
    shift = (side[0] + inward / metres, side[1])
    word = Word(at=at, shift=shift, text=label, size=size, side=_sign(side[0]), look="beside")
    left, bottom, right, top = _box(at, label, metres, side, size)
    return word, (left + inward, bottom, right + inward, top)


def _outside(box: Box, frame: Box) -> float:
    """Return by how many metres a box must move to the right to lie inside the picture, to the left if negative."""
    left, _, right, _ = frame
    return max(0.0, left - box[0]) - max(0.0, box[2] - right)


def _frame(ward: MapView) -> Box:
    """Return left, bottom, right, top of what is drawn, with room for words at the edges."""
    points = [place.at for place in ward.places] + [p for line in ward.lines for walk in line.walks for p in walk]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    span = max(max(xs) - min(xs), 4 * _EDGE_M)
    edge = span * _EDGE_PT / (_WIDTH_PT - 2 * _EDGE_PT)
    return min(xs) - edge, min(ys) - edge, max(xs) + edge, max(ys) + edge
