"""What the pictures of a round show: the ward with numbered stops and the walking line, and the visits over time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

Point = tuple[float, float]
"""Metres to the right and upwards on the map."""

PlaceKey = tuple[Point, str, str]
"""What tells a place from others, for several may lie at one point: point, ward, and its name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MapPlace:
    """A place that is drawn, whether somebody stops there or not.

    ``along`` orders the places of a ward along its corridor; ``is_across`` tells those of the other side.
    """

    name: str
    """What it is called: a bed with its ward on a round of several wards."""
    label: str
    """The name without the ward, for a picture that has the ward above it."""
    is_bed: bool
    at: Point
    ward: str = ""
    along: float = 0.0
    is_across: bool = False

    @property
    def key(self) -> PlaceKey:
        """What tells it from others."""
        return self.at, self.ward, self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class MapStop:
    """All stops of one route at one place: their numbers, ascending."""

    numbers: tuple[int, ...]
    name: str
    label: str
    is_bed: bool
    at: Point
    ward: str = ""

    @property
    def key(self) -> PlaceKey:
        """As that of its place."""
        return self.at, self.ward, self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class MapLine:
    """The way of one phlebotomist: where it begins, its stops, and one walk from each stop to the next."""

    start: Point
    starts_at: str
    """The name of the place where it begins."""
    stops: tuple[MapStop, ...]
    walks: tuple[tuple[Point, ...], ...]
    start_ward: str = ""

    @property
    def start_key(self) -> PlaceKey:
        """As that of the place where it begins."""
        return self.start, self.start_ward, self.starts_at


@dataclass(frozen=True, slots=True, kw_only=True)
class MapView:
    """The ward from above. ``note`` says what is not true to scale; empty when all of it is."""

    places: tuple[MapPlace, ...]
    corridors: tuple[tuple[Point, Point], ...]
    lines: tuple[MapLine, ...]
    """One a route, in the order of the routes."""
    note: str
    is_assumed: bool = False
    """True when it is not known where anything lies."""
    nearer: tuple[MapView, ...] = ()
    """For each route a map of the wards alone that it touches; empty where that would be the same map."""

    def only_for(self, kept: Sequence[int]) -> MapView:
        """Return the map of the routes with these indices."""
        nearer = tuple(self.nearer[i] for i in kept) if self.nearer else ()
        return replace(self, lines=tuple(self.lines[i] for i in kept), nearer=nearer)


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeBar:
    """One stop over time, in seconds after midnight. A window that is open on one side has None there.

    ``kind`` is ``visit``, ``handover`` or ``break``. ``wished_to_s`` is the time by which the draw should be made,
    ``to_s`` the last at which it may; a draw without a window has neither.
    """

    kind: str
    label: str
    start_s: int
    end_s: int
    draw_s: int | None = None
    from_s: int | None = None
    wished_to_s: int | None = None
    to_s: int | None = None
    is_late: bool = False

    @property
    def has_window(self) -> bool:
        """True when the draw may not be made at any time."""
        return (self.from_s, self.wished_to_s, self.to_s) != (None, None, None)


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeRow:
    """The bars of one route in the order of its stops, with the couriers that it catches (time, words)."""

    bars: tuple[TimeBar, ...]
    couriers: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TimelineView:
    """The round over time; ``ticks`` are (seconds after midnight, as the wall shows it)."""

    from_s: int
    to_s: int
    ticks: tuple[tuple[int, str], ...]
    rows: tuple[TimeRow, ...]
    """One a route, in the order of the routes."""
