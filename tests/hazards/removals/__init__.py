"""All that takes the control of a hazard away, by the room that the control is in; ``rest`` has the small rooms."""

from __future__ import annotations

from tests.hazards.removal import Removal
from tests.hazards.removals import domain, exporters, loaders, replanning, rest, tubes, visits

BY_ROOM: dict[str, tuple[Removal, ...]] = {
    "domain": domain.REMOVALS,
    "exporters": exporters.REMOVALS,
    "loaders": loaders.REMOVALS,
    "replanning": replanning.REMOVALS,
    "rest": rest.REMOVALS,
    "tubes": tubes.REMOVALS,
    "visits": visits.REMOVALS,
}
REMOVALS: tuple[Removal, ...] = tuple(removal for room in BY_ROOM.values() for removal in room)
