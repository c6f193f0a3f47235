"""Orders the places of each ward along its corridor, for maps too dense to be drawn to scale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from statistics import fmean

from planner.domain.derived.metrics import natural_key
from planner.domain.places import Place, PlaceId, PlaceKind
from planner.exporters.view.drawn.assumed_map import bed_key
from planner.exporters.view.drawn.pictures import Point

Side = tuple[float, bool]
"""How far along the corridor of its ward a place is, and whether it lies on the other side."""


def sides_assumed(shown: Sequence[Place]) -> dict[PlaceId, Side]:
    """Return the places in their order, one on this side and one on the other; what is no bed comes first."""
    sides: dict[PlaceId, Side] = {}
    for own in _by_ward(shown):
        beds = sorted((p for p in own if p.kind is PlaceKind.BED), key=bed_key)
        others = sorted((p for p in own if p.kind is not PlaceKind.BED), key=lambda p: natural_key(p.id))
        first = -(-len(others) // 2)
        sides |= {place.id: (n // 2, n % 2 > 0) for n, place in enumerate(others)}
        sides |= {place.id: (first + n // 2, n % 2 > 0) for n, place in enumerate(beds)}
    return sides


def sides_measured(shown: Sequence[Place], at: Mapping[PlaceId, Point]) -> dict[PlaceId, Side]:
    """Return the places as they lie along the longer extent of their ward: from the left, or else from above."""
    sides: dict[PlaceId, Side] = {}
    for own in _by_ward(shown):
        xs, ys = zip(*(at[place.id] for place in own), strict=True)
        if max(xs) - min(xs) >= max(ys) - min(ys):
            middle = fmean(ys)  # not half-way: a bay far off the corridor would put all others on one side
            sides |= {place.id: (at[place.id][0], at[place.id][1] < middle) for place in own}
        else:
            middle = fmean(xs)
            sides |= {place.id: (-at[place.id][1], at[place.id][0] < middle) for place in own}
    return sides


def _by_ward(shown: Sequence[Place]) -> list[list[Place]]:
    wards: dict[str, list[Place]] = {}
    for place in shown:
        wards.setdefault(place.ward, []).append(place)
    return list(wards.values())
