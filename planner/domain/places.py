"""Where things are: beds, bases, pickups and the laboratory, and how specimens leave the ward."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import NewType

PlaceId = NewType("PlaceId", str)


class PlaceKind(Enum):
    """What a place is used for."""

    BED = "bed"
    BASE = "base"
    PICKUP = "pickup"
    TUBE_STATION = "tube station"
    LABORATORY = "laboratory"
    WAYPOINT = "waypoint"


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place on the map. Coordinates are metres; ``position`` is its order along the ward's corridor.

    ``label`` is the name as the site writes it, to be printed with the ward; the id may hold the ward as well.
    Empty: the id is the label.
    """

    id: PlaceId
    ward: str
    kind: PlaceKind
    x_m: float | None = None
    y_m: float | None = None
    position: int | None = None
    label: str = ""
    floor: str = ""
    """Floor, as the site names it; metres of two places compare on one floor only. Empty: the map has no floors."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Corridor:
    """A walkable link. Exactly one of ``metres`` and ``seconds`` is given; seconds include doors and lifts."""

    from_place: PlaceId
    to_place: PlaceId
    metres: float | None = None
    seconds: int | None = None
    is_one_way: bool = False


@dataclass(frozen=True, slots=True)
class WalkingTimes:
    """Shortest walking times between all places that a route may touch, whole seconds; from, then to."""

    seconds: Mapping[tuple[PlaceId, PlaceId], int]

    def between(self, from_place: PlaceId, to_place: PlaceId) -> int:
        """Return the shortest walking time in seconds, 0 for a place to itself.

        Raises
        ------
        KeyError
            If there is no way from one to the other.
        """
        return 0 if from_place == to_place else self.seconds[from_place, to_place]


class PickupKind(Enum):
    """How specimens leave the ward."""

    COURIER = "courier"
    """A courier takes what lies at the place at each departure."""
    TUBE = "tube"
    """A pneumatic tube station sends at once."""
    CARRIED = "carried"
    """The phlebotomist carries the specimens to the place herself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pickup:
    """A place where specimens leave the phlebotomist's hands.

    ``departures_s`` (ascending) is empty for a tube station and for carrying: they send at once. A specimen
    reaches the laboratory ``transit_s`` after the departure (courier) or after the hand-over ends (others).
    """

    place: PlaceId
    kind: PickupKind
    departures_s: tuple[int, ...] = ()
    transit_s: int = 0
