"""Draws a route whose map would be too dense: a strip a ward, in the order in which the route comes to them.

In a strip the places of a ward stand in their order along its corridor, on their side of it. Each column is as wide
as its words, so that no word covers another, however long names are and however many beds there are. Each walk has a
lane of the corridor to itself, the first uppermost, and leaves and reaches its doors beside all others: lines cross,
but none lies on another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING

from planner.exporters.pictures.map import add_lines, draw_walks, mark_of, said_of
from planner.exporters.pictures.words import Word, draw_flat, extent_pt, in_lines, shortened
from planner.exporters.view.drawn.pictures import MapLine, MapPlace, MapView, Point

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_WIDTH_PT = 525.6
_ROOM_PT = 517.0
_PAGE_PT = 560.0
"""Height of a picture at most: what a page of the sheet, or of the printed page, shows without making it smaller."""
_GAP_PT = 5.0
_TITLE_PT, _NOTE_PT = 8.5, 7.5
_LINE = 1.35
_ABOVE_PT = 4.0
"""White above the title of a ward."""
_BESIDE_PT, _BOX_PT = 29.5, 16.5
"""From the middle of the corridor to the words beside a box, and to the box."""
_HALVES_PT = (9.0, 27.0, 36.0)
"""From the middle of the corridor to where a row ends: no place on that side, none with words beside, one with."""
_LANE_PT, _PITCH_PT = 11.0, 2.4
"""Width of a corridor at least, and from one walk to the next along it."""
_DOOR_PT = 2.4
"""From one walk to the next where they leave or reach a column."""
_BETWEEN_PT = 22.0
"""Between strips that stand side by side."""
_LETTERS = 24
"""Numbers of stops at one place that stand in one box: those of more letters are shared among several."""
_NO_WARD = "Outside the wards"
_WHY = "Too much for one map: each ward is drawn apart, along one corridor, in the order of the places, not to scale."


@dataclass(frozen=True, slots=True)
class _Cell:
    """A place in a strip: its box, what stands beside it, and how wide both are."""

    place: MapPlace
    words: tuple[Word, ...]
    wide: float
    is_stop: bool

    @classmethod
    def of(cls, place: MapPlace, said: str, name: str, *, is_stop: bool) -> _Cell:
        up = -1 if place.is_across else 1
        is_plain = not is_stop and not name
        box = Word(
            at=(0.0, up * _BOX_PT),
            text=shortened(said, _ROOM_PT - 8, 6.5 if is_plain else 8.5, is_bold=not is_plain),
            size=6.5 if is_plain else 8.5,
            look="other" if is_plain else "bed" if place.is_bed and is_stop else "stop",
        )
        words = [box]
        if name:
            size = 6.5 if place.is_bed else 7.5
            text = shortened(name, _ROOM_PT - 8, size, is_bold=True)
            words.append(Word(at=(0.0, up * _BESIDE_PT), text=text, size=size, look="beside"))
        boxes = [word.box(1.0) for word in words]
        return cls(place, tuple(words), max(right - left for left, _, right, _ in boxes), is_stop)


_Column = tuple[_Cell, ...]


@dataclass(frozen=True, slots=True)
class _Block:
    """What stands together on one page: lines of words, then perhaps a stretch of a ward's corridor."""

    lines: tuple[Word, ...]
    columns: tuple[_Column, ...] = ()
    walks: tuple[tuple[Point, Point], ...] = ()
    """From place to place within the stretch, in order."""

    @property
    def height_pt(self) -> float:
        corridor = self.half_pt(is_across=False) + self.half_pt(is_across=True)
        return self.above_pt + sum(line.size * _LINE for line in self.lines) + corridor

    @property
    def wide_pt(self) -> float:
        """Return the width of what is widest."""
        texts = [extent_pt(line.text, line.size, is_bold=line.look == "beside")[0] for line in self.lines]
        return max(sum(map(_wide, self.columns)), *texts)

    @property
    def lane_pt(self) -> float:
        """Return how wide the corridor is: as its walks need."""
        return max(_LANE_PT, (len(self.walks) + 1) * _PITCH_PT)

    @property
    def above_pt(self) -> float:
        """Return the white above a title."""
        return _ABOVE_PT if self.lines and self.columns else 0.0

    def half_pt(self, *, is_across: bool) -> float:
        """Return the room on one side of the corridor."""
        own = [len(c.words) for column in self.columns for c in column if c.place.is_across == is_across]
        return _HALVES_PT[max(own, default=0)] + (self.lane_pt - _LANE_PT) / 2 if self.columns else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StripPage:
    """The strips of one picture, in points from its left lower corner."""

    height_pt: float
    words: tuple[Word, ...]
    corridors: tuple[tuple[Point, Point, float], ...]
    """Both ends, and the width."""
    walks: tuple[tuple[Point, ...], ...]


def strip_pages(ward: MapView, line: MapLine) -> tuple[StripPage, ...]:
    """Return the strips of the wards that a route touches, over as many pictures as they need."""
    pages: list[list[_Row]] = [[]]
    for row in _rows(_blocks(ward, line)):
        if pages[-1] and sum(map(_height_pt, (*pages[-1], row))) > _PAGE_PT:
            pages.append([])
        pages[-1].append(row)
    return tuple(_page(rows) for rows in pages)


_Row = Sequence[_Block]
"""Blocks side by side."""


def _height_pt(row: _Row) -> float:
    return max(block.height_pt for block in row)


def _rows(blocks: Iterable[_Block]) -> list[list[_Block]]:
    """Return blocks side by side as far as the paper is wide; lines of words alone stand alone."""
    rows: list[list[_Block]] = []
    for block in blocks:
        before = rows[-1] if rows and block.columns and all(b.columns for b in rows[-1]) else None
        if before and sum(b.wide_pt + _BETWEEN_PT for b in before) + block.wide_pt <= _ROOM_PT:
            before.append(block)
        else:
            rows.append([block])
    return rows


def draw_strips(axes: Axes, page: StripPage) -> None:
    """Draw strips: corridors, then walks between stops of the same strip, then the words."""
    axes.set_xlim(0.0, _WIDTH_PT)
    axes.set_ylim(0.0, page.height_pt)
    axes.set_axis_off()
    for width in sorted({width for _, _, width in page.corridors}):
        lines = [(start, end) for start, end, own in page.corridors if own == width]
        add_lines(axes, lines, color="0.88", linewidth=width, solid_capstyle="butt", zorder=1)
    draw_walks(axes, page.walks, 0.0)
    draw_flat(axes, page.words)


def _blocks(ward: MapView, line: MapLine) -> Iterator[_Block]:
    """Yield the way from ward to ward, then for each ward the stretches of its corridor that have a stop."""
    lying = Counter(place.at for place in ward.places)
    walks = [(w[0], w[-1]) for w in line.walks if lying[w[0]] == lying[w[-1]] == 1]  # else: between which?
    ward_of = {place.key: place.ward for place in ward.places}
    stops = sorted((number, stop) for stop in line.stops for number in stop.numbers)
    numbered = [(number, ward_of[stop.key] or _NO_WARD) for number, stop in stops]
    hops = [(name, [n for n, _ in own]) for name, own in groupby(numbered, key=lambda of: of[1])]
    chain = [f"Start: {line.starts_at}", *(f"> {name}: {_spans(own)}" for name, own in hops)]
    yield _Block((*_text(chain, _NOTE_PT), *_text(_WHY.split(" "), _NOTE_PT - 1)))
    for name in dict.fromkeys(name for _, name in numbered):
        own = [number for number, of in numbered if of == name]
        title = f"{name}: {_spans(own)}"
        stretches = list(_stretches(_places(ward, name, line), line))
        kept = [
            (stretch, _walks_in(stretch, walks))
            for stretch in stretches
            if any(cell.is_stop for column in stretch for cell in column)
        ]
        if len(kept) < len(stretches):
            title += " (stretches without a stop left out)"
        yield _Block(_text(title.split(" "), _TITLE_PT, is_bold=True), *kept[0])
        further = [*name.split(" "), "(further along)"]
        yield from (_Block(_text(further, _TITLE_PT, is_bold=True), *stretch) for stretch in kept[1:])


def _places(ward: MapView, name: str, line: MapLine) -> list[MapPlace]:
    """Return the places of a ward; where it is only assumed how they lie, beds say nothing of where a hand-over is."""
    own = [place for place in ward.places if (place.ward or _NO_WARD) == name]
    stopped = {stop.key for stop in line.stops}
    if ward.is_assumed and not any(place.is_bed and place.key in stopped for place in own):
        return [place for place in own if not place.is_bed]
    return own


def _text(parts: Sequence[str], size: float, *, is_bold: bool = False) -> tuple[Word, ...]:
    lines = in_lines(parts, _ROOM_PT, size, is_bold=is_bold)
    return tuple(Word(at=(0.0, 0.0), text=t, size=size, side=1, look="beside" if is_bold else "plain") for t in lines)


def _spans(numbers: Sequence[int]) -> str:
    """Return numbers of stops, those in a row as a span: 'stops 1,4-6'."""
    spans: list[list[int]] = []
    for number in numbers:
        if spans and number == spans[-1][-1] + 1:
            spans[-1].append(number)
        else:
            spans.append([number])
    words = ",".join(str(s[0]) if len(s) == 1 else f"{s[0]}-{s[-1]}" for s in spans)
    return f"stop{'s' if len(numbers) > 1 else ''} {words}"


def _stretches(places: Sequence[MapPlace], line: MapLine) -> Iterator[tuple[_Column, ...]]:
    """Yield the columns of a ward, as many together as the paper is wide."""
    row: list[_Column] = []
    for column in _columns(places, line):
        if row and sum(_wide(c) for c in (*row, column)) > _ROOM_PT:
            yield tuple(row)
            row = []
        row.append(column)
    yield tuple(row)


def _columns(places: Sequence[MapPlace], line: MapLine) -> Iterator[_Column]:
    """Yield one place or two, one on each side of the corridor."""
    before: _Cell | None = None
    for place in sorted(places, key=lambda p: (p.along, p.is_across)):
        for cell in _cells(place, line):
            if before is not None and before.place.is_across != place.is_across:
                yield before, cell
                before = None
                continue
            if before is not None:
                yield (before,)
            before = cell
    if before is not None:
        yield (before,)


def _cells(place: MapPlace, line: MapLine) -> Iterator[_Cell]:
    stop = next((stop for stop in line.stops if stop.key == place.key), None)
    if stop is None:
        is_start = place.key == line.start_key
        yield _Cell.of(place, "start" if is_start else place.label, place.label if is_start else "", is_stop=False)
        return
    for numbers in _shares(stop.numbers):
        _, said, name, _ = mark_of(replace(stop, numbers=numbers), stop.label)
        yield _Cell.of(place, said, name, is_stop=True)


def _shares(numbers: Sequence[int]) -> Iterator[tuple[int, ...]]:
    share: tuple[int, ...] = ()
    for number in numbers:
        if share and len(said_of((*share, number))) > _LETTERS:
            yield share
            share = ()
        share = (*share, number)
    yield share


def _wide(column: _Column) -> float:
    return max(cell.wide for cell in column) + _GAP_PT


def _walks_in(columns: Sequence[_Column], walks: Sequence[tuple[Point, Point]]) -> tuple[tuple[Point, Point], ...]:
    """Return the walks that begin and end in some columns."""
    own = {cell.place.at for column in columns for cell in column}
    return tuple(walk for walk in walks if own.issuperset(walk))


def _page(rows: Sequence[_Row]) -> StripPage:
    height = sum(map(_height_pt, rows))
    top, words, corridors, walks = height, list[Word](), list[tuple[Point, Point, float]](), list[tuple[Point, ...]]()
    for row in rows:
        left = (_WIDTH_PT - _ROOM_PT) / 2
        for block in row:
            y = top - block.above_pt
            for text in block.lines:
                words.append(_moved(text, left, y - text.size * _LINE / 2))
                y -= text.size * _LINE
            if block.columns:
                _corridor(block, left, y - block.half_pt(is_across=False), words, corridors, walks)
            left += block.wide_pt + _BETWEEN_PT
        top -= _height_pt(row)
    return StripPage(height_pt=height, words=tuple(words), corridors=tuple(corridors), walks=tuple(walks))


def _corridor(
    block: _Block,
    left: float,
    y: float,
    words: list[Word],
    corridors: list[tuple[Point, Point, float]],
    walks: list[tuple[Point, ...]],
) -> None:
    """Lay a stretch of corridor out, its middle at height ``y``: places, lanes, and the walks in them."""
    x = left
    doors: dict[Point, Point] = {}
    wider = (block.lane_pt - _LANE_PT) / 2
    for column in block.columns:
        middle = x + _wide(column) / 2
        for cell in column:
            beside = y - wider if cell.place.is_across else y + wider
            words += [_moved(word, middle, beside) for word in cell.words]
            doors.setdefault(cell.place.at, (middle, beside + cell.words[0].at[1]))
        x += _wide(column)
    corridors.append(((left, y), (x, y), block.lane_pt))
    ends = Counter(doors[at][0] for walk in block.walks for at in walk)
    used: Counter[float] = Counter()
    for number, walk in enumerate(block.walks):
        lane = y + ((len(block.walks) - 1) / 2 - number) * _PITCH_PT
        points = []
        for at in walk:
            middle, door = doors[at]
            beside = middle + (used[middle] - (ends[middle] - 1) / 2) * _DOOR_PT
            used[middle] += 1
            points.append((beside, door))
        (x1, y1), (x2, y2) = points
        walks.append(((x1, y1), (x1, lane), (x2, lane), (x2, y2)))


def _moved(word: Word, x: float, y: float) -> Word:
    return Word(at=(word.at[0] + x, word.at[1] + y), text=word.text, size=word.size, look=word.look, side=word.side)
