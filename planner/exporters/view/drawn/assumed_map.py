"""Draws up a ward of which no map is given: beds on both sides of a corridor, other places at its begin."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.domain.derived.metrics import natural_key
from planner.domain.places import Place, PlaceId, PlaceKind
from planner.exporters.view.drawn.pictures import Point

_STEP_M = 4.0
_SIDE_M = 3.0
_COLUMNS = 20
"""Beds on one side of a stretch of corridor; the next stretch lies below."""
_ROW_M = 12.0


@dataclass(frozen=True, slots=True)
class AssumedCorridor:
    """Where everything is put, and the stretches of corridor. Not to scale."""

    at: dict[PlaceId, Point]
    corridors: tuple[tuple[Point, Point], ...]

    @classmethod
    def of(cls, places: Sequence[Place]) -> AssumedCorridor:
        """Return the corridor: a stretch for each ward, more where a ward has many beds."""
        beds = sorted((p for p in places if p.kind is PlaceKind.BED), key=bed_key)
        others = sorted((p for p in places if p.kind is not PlaceKind.BED), key=lambda p: natural_key(p.id))
        at: dict[PlaceId, Point] = {}
        row, place, ward = 0, 0, beds[0].ward if beds else ""
        ends = [0.0]
        for bed in beds:
            if bed.ward != ward or place == 2 * _COLUMNS:
                row, place, ward = row + 1, 0, bed.ward
                ends.append(0.0)
            x = (place // 2 + 1) * _STEP_M
            at[bed.id] = (x, -row * _ROW_M + (_SIDE_M if place % 2 == 0 else -_SIDE_M))
            ends[row] = x
            place += 1
        for n, other in enumerate(others):
            at[other.id] = (-(n // 2 + 1) * 1.5 * _STEP_M, _SIDE_M if n % 2 == 0 else -_SIDE_M)
        first = min([0.0, *(x for x, _ in at.values())])
        stretches = [((first if r == 0 else 0.0, -r * _ROW_M), (end, -r * _ROW_M)) for r, end in enumerate(ends)]
        down = [((0.0, 0.0), (0.0, -row * _ROW_M))] if row else []
        return cls(at, (*stretches, *down))

    def way(self, start: PlaceId, end: PlaceId) -> tuple[Point, ...]:
        """Return the points from one place to another: out to the corridor, along it, and in."""
        (x1, y1), (x2, y2) = self.at[start], self.at[end]
        from_y, to_y = (-_row(y) * _ROW_M for y in (y1, y2))
        down = ((0.0, from_y), (0.0, to_y)) if from_y != to_y else ()
        between = ((x1, from_y), *down, (x2, to_y))
        return ((x1, y1), *between, (x2, y2))


def _row(y: float) -> int:
    return round(-y / _ROW_M)


def bed_key(bed: Place) -> tuple[object, ...]:
    """Return what orders the beds of a round along their corridors."""
    return (natural_key(bed.ward), bed.position is None, bed.position or 0, natural_key(bed.id))
