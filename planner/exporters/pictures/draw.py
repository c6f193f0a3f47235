"""Draws the map and the timeline of one route: one drawing, as vector for pages and as pixels for workbooks.

Matplotlib is imported only here and only when something is drawn. It was chosen over writing vector graphics by hand
beside a raster library: one drawing gives both kinds, so workbook and page cannot disagree, and its own font makes
the same bytes on every machine.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from importlib import import_module
from typing import TYPE_CHECKING, Any, Literal

from planner.exporters.pictures.map import MapLayout, draw_map, laid_out
from planner.exporters.pictures.strips import StripPage, draw_strips, strip_pages
from planner.exporters.pictures.timeline import draw_timeline, timeline_height_in
from planner.exporters.view.drawn.pictures import MapView
from planner.exporters.view.round_view import RoundView

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.backends.backend_agg import FigureCanvasAgg

Drawn = Callable[[], tuple[tuple["Picture", ...], ...]]
"""Gives the pictures of all routes when they are needed: another process may draw them meanwhile."""

PictureKind = Literal["map", "timeline"]

WIDTH_IN = 7.3
_DOTS_PER_INCH = 200
_SHADES, _STEP = 16, 17
"""Shades from black to white (255), a step apart."""
_NEAREST = [round(value / _STEP) for value in range(256)]
"""The shade nearest to each grey."""

_SETTINGS: dict[Any, Any] = {
    "font.family": ["DejaVu Sans"],
    "svg.fonttype": "none",
    "svg.hashsalt": "round sheet",
    "path.simplify": False,
    "hatch.linewidth": 0.6,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture in both forms, its size in inches, and what it shows in words."""

    svg: bytes
    png: bytes
    width_in: float
    height_in: float
    words: str


def load_drawing() -> None:
    """Load what drawing needs; that takes a while, and can be done before there is anything to draw."""
    for name in ("figure", "backends.backend_agg", "backends.backend_svg"):
        import_module(f"matplotlib.{name}")
    import_module("PIL.Image")


def round_pictures(view: RoundView) -> tuple[tuple[Picture, ...], ...]:
    """Return map and timeline of every route, in their order; nothing for an empty route."""
    return arranged(view, [picture_of(view, *which) for which in pictures_wanted(view)])


def pictures_wanted(view: RoundView) -> list[tuple[int, PictureKind, int]]:
    """Return every picture of a round, each of which can be drawn apart: index of the route, kind, and which of them.

    Only of maps there may be more than one.
    """
    return [wanted for index, route in enumerate(view.routes) if route.stops for wanted in _wanted(view, index)]


def _wanted(view: RoundView, index: int) -> list[tuple[int, PictureKind, int]]:
    maps: list[tuple[int, PictureKind, int]] = [(index, "map", n) for n in range(len(route_maps(view.map, index)))]
    return [*maps, (index, "timeline", 0)]


def arranged(view: RoundView, pictures: Sequence[Picture]) -> tuple[tuple[Picture, ...], ...]:
    """Return the pictures that are wanted, drawn in their order, by route."""
    pairs = list(zip(pictures_wanted(view), pictures, strict=True))
    return tuple(tuple(p for (of, *_), p in pairs if of == index) for index in range(len(view.routes)))


def route_pictures(view: RoundView, index: int) -> tuple[Picture, ...]:
    """Return map and timeline of the route with this index; nothing for an empty route."""
    return tuple(picture_of(view, *which) for which in _wanted(view, index)) if view.routes[index].stops else ()


@lru_cache(maxsize=64)
def route_maps(ward: MapView, index: int) -> tuple[MapLayout | StripPage, ...]:
    """Return the map of a route: all wards, else those that it touches, else a strip for each of these.

    The first of which every word can be read is taken.
    """
    nearer = ward.nearer[index : index + 1]
    for one, line in ((ward, ward.lines[index]), *((near, near.lines[0]) for near in nearer)):
        layout = laid_out(one, line)
        if layout.is_readable:
            return (layout,)
    return strip_pages(ward, ward.lines[index])


@lru_cache(maxsize=64)
def picture_of(view: RoundView, index: int, kind: PictureKind, part: int = 0) -> Picture:
    """Return map (or a part of it) or timeline of the route with this index, which has stops."""
    route, timeline, row = view.routes[index], view.timeline, view.timeline.rows[index]
    stops = "; ".join(bar.label for bar in row.bars)
    if kind == "map":
        maps = route_maps(view.map, index)
        of = f", part {part + 1} of {len(maps)}" if len(maps) > 1 else ""
        words = f"Map of the ward with the way of {route.name}{of}. Start at {route.starts}. Stops: {stops}."
        one = maps[part]
        if isinstance(one, StripPage):
            return _picture(lambda axes: draw_strips(axes, one), one.height_pt / 72, words)
        return _picture(lambda axes: draw_map(axes, one), one.height_in(WIDTH_IN), words)
    return _picture(
        lambda axes: draw_timeline(axes, timeline, row),
        timeline_height_in(row),
        f"Timeline of {route.name}: {stops}. Times and windows stand at each stop.",
    )


def _picture(draw: Callable[[Axes], None], height_in: float, words: str) -> Picture:
    with _plain_settings():
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.backends.backend_svg import FigureCanvasSVG
        from matplotlib.figure import Figure

        figure = Figure(figsize=(WIDTH_IN, height_in))
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        draw(axes)
        svg = io.BytesIO()
        FigureCanvasSVG(figure)
        figure.savefig(svg, format="svg", metadata={"Date": None, "Creator": None})
        canvas = FigureCanvasAgg(figure)
        figure.dpi = _DOTS_PER_INCH
        canvas.draw()  # type: ignore[no-untyped-call]  # the library does not type it
        png = _grey(canvas)
    return Picture(svg=svg.getvalue(), png=png, width_in=WIDTH_IN, height_in=height_in, words=words)


@contextmanager
def _plain_settings() -> Iterator[None]:
    """Draw as the library does out of the box, whatever the user's own settings are."""
    import matplotlib

    with matplotlib.rc_context(), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        matplotlib.rcdefaults()
        for name, value in _SETTINGS.items():
            matplotlib.rcParams[name] = value
        yield


def _grey(canvas: FigureCanvasAgg) -> bytes:
    """Return what is drawn in 16 even shades of grey: four bits a dot, and no palette to be searched for."""
    from PIL import Image

    width, height = canvas.get_width_height(physical=True)
    dots = canvas.buffer_rgba()  # type: ignore[no-untyped-call]  # nor this
    grey = Image.frombuffer("RGBA", (width, height), dots, "raw", "RGBA", 0, 1).convert("L")
    shades = Image.frombytes("P", grey.size, grey.point(_NEAREST).tobytes())
    shades.putpalette([part for shade in range(_SHADES) for part in 3 * (shade * _STEP,)])
    result = io.BytesIO()
    shades.save(result, format="PNG", bits=4)
    return result.getvalue()
