"""Rule ``tray-limit`` on a timed route: where more is carried than the tray holds, and what goes sooner for it.

Specimens go with the stop that brings them in first, which may be a later one than the next. Where the tray would be
too full on the way there, those carried past that place are given away before it, as far as some stop can take them:
all of them, though fewer might do. Which ones is not weighed, so here, and here only, a route may be timed later than
it could be, or refused though some choice would keep all rules. The exact model chooses freely: its bounds stay true.

Example: a tray of two tubes, stops bed 0, bed 1, courier, bed 2, station. Both tubes go to the courier, though one of
them could wait for the station.
"""

from __future__ import annotations

from planner.scheduling.timing.instance import Instance

Takers = tuple[tuple[tuple[int, ...], ...], ...]
"""For each stop and each of its specimens, the positions of the later stops that may take them."""

Chosen = tuple[tuple[int, ...], ...]
"""For each stop and each of its specimens, the position of the stop that takes them."""


def full_tray(instance: Instance, stops: tuple[int, ...], chosen: Chosen) -> int | None:
    """Return the first stop behind which more tubes are carried than the tray holds (those there already apart)."""
    most = instance.tray_limit
    if most is None:
        return None
    held = carried(instance, stops, chosen)
    return next((position for position, num in enumerate(held) if num > most), None)


def carried(instance: Instance, stops: tuple[int, ...], chosen: Chosen) -> list[int]:
    """Return how many tubes are carried behind each stop (those there already apart)."""
    held = [0] * len(stops)
    for position, takers in enumerate(chosen):
        if not takers or instance.visits[stops[position]].is_tray:
            continue
        for specimens, taker in zip(instance.visits[stops[position]].specimens, takers, strict=True):
            for between in range(position, taker):
                held[between] += specimens.num_tubes
    return held


def given_before(instance: Instance, stops: tuple[int, ...], takers: Takers, chosen: Chosen, full: int) -> Takers:
    """Return the stops that may take specimens: of those carried past a full tray, the ones before it, if there are."""
    return tuple(
        tuple(
            tuple(p for p in options if p < full) or options if taker > full else options
            for options, taker in zip(mine, taken, strict=True)
        )
        if mine and not instance.visits[stops[position]].is_tray
        else mine
        for position, (mine, taken) in enumerate(zip(takers, chosen, strict=True))
    )
