"""Small instances in numbers, so that a test of the routes says only what it is about."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from planner.domain.orders import TimeWindow
from planner.scheduling.timing.instance import NO_LIMIT_S, CollectorData, Instance, PickupData, SpecimenData, VisitData
from planner.scheduling.timing.turns import isolation_turns

BASE = 0
"""Node of everybody's start."""


def specimen(limit_s: int = NO_LIMIT_S, by_hand: bool = False, need_weight: int = 1) -> SpecimenData:
    return SpecimenData(by_hand=by_hand, limit_s=limit_s, need_weight=need_weight)


def visit(node: int, *windows: tuple[int, int], **changes: Any) -> VisitData:
    """Return a visit of 300 s that may start at any time of a long day, one specimen without a limit."""
    fields: dict[str, Any] = {
        "service_s": 300,
        "targets": (),
        "weight": 1,
        "specimens": (specimen(),),
        "need_by_s": None,
        "able": frozenset({0}),
    } | changes
    spans = windows or ((0, 100_000),)
    return VisitData(node=node, windows=tuple(TimeWindow(earliest_s=a, latest_s=b) for a, b in spans), **fields)


def courier(node: int, *departures_s: int, transit_s: int = 600) -> PickupData:
    return PickupData(node=node, takes_hand=True, departures_s=departures_s, transit_s=transit_s)


def station(node: int, transit_s: int = 180) -> PickupData:
    return PickupData(node=node, takes_hand=False, departures_s=(), transit_s=transit_s)


def carried(node: int, transit_s: int = 0) -> PickupData:
    return PickupData(node=node, takes_hand=True, departures_s=(), transit_s=transit_s)


def instance(
    visits: Sequence[VisitData],
    pickups: Sequence[PickupData],
    collectors: Sequence[CollectorData] = (CollectorData(node=BASE, from_s=0, until_s=100_000),),
    *,
    step_s: int = 10,
    **changes: Any,
) -> Instance:
    """Return an instance on a line: from node a to node b it is ``step_s * |a - b|`` seconds."""
    nodes = 1 + max(p.node for p in (*visits, *pickups, *collectors))
    walk = tuple(tuple(step_s * abs(a - b) for b in range(nodes)) for a in range(nodes))
    turns, exposures = isolation_turns(visits, walk)
    fields: dict[str, Any] = {"start_s": 0, "handover_s": 60, "max_sends": 6, "turns": turns, "exposures": exposures}
    fields |= changes
    return Instance(
        walk=walk,
        visits=tuple(visits),
        pickups=tuple(pickups),
        collectors=tuple(collectors),
        **fields,
    )
