"""Makes visits and plans of a round that has begun, without a planner: times as told, tubes as told."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from planner.domain.catalogue import TubeCode
from planner.domain.draws import DrawId, Needle, Tube
from planner.domain.orders import OrderId
from planner.domain.places import PickupKind, PlaceId
from planner.domain.plan import Handover, Plan, PlannedTube, Route, Stop, Visit
from planner.domain.problem import Problem
from tests.builders import clock

LEAD_S = 135
"""From the start at the bed to the draw: identify 75 s and prepare 60 s."""


def make_drawn_tube(tests: Iterable[str], orders: Iterable[str], kind: str = "HEPG", **changes: Any) -> Tube:
    """Return a tube of 4.5 mL at the first position unless changed."""
    fields: dict[str, Any] = {"size_ul": 4500, "volume_ul": 4500, "draw_position": 1} | changes
    return Tube(tube=TubeCode(kind), tests=tuple(tests), order_ids=tuple(OrderId(o) for o in orders), **fields)


def make_visit(problem: Problem, orders: Iterable[str], draw: str = "05:10", **changes: Any) -> Visit:
    """Return a visit of the patient of the orders; ``draw`` is the time of its first tube."""
    ids = tuple(OrderId(o) for o in orders)
    patient = problem.patient_of(problem.order(ids[0]))
    draw_s = clock(draw)
    tubes = tuple(PlannedTube(tube=tube, handover=handover) for tube, handover in changes.pop("tubes", ()))
    fields: dict[str, Any] = {
        "draw_id": DrawId(f"{patient.id}-{ids[0]}"),
        "place": patient.bed,
        "arrive_s": draw_s - LEAD_S,
        "start_s": draw_s - LEAD_S,
        "draw_s": draw_s,
        "depart_s": draw_s + 165,
        "needle": Needle(gauge=21, device="straight"),
    } | changes
    return Visit(patient_id=patient.id, order_ids=ids, tubes=tubes, **fields)


def make_handover(
    place: str = "PICKUP", depart: str = "05:55", departs: str = "06:00", arrival: str = "06:10"
) -> Handover:
    """Return a hand-over to the courier."""
    return Handover(
        place=PlaceId(place),
        kind=PickupKind.COURIER,
        arrive_s=clock(depart) - 60,
        start_s=clock(depart) - 60,
        depart_s=clock(depart),
        departs_s=clock(departs),
        lab_arrival_s=clock(arrival),
    )


def make_plan(*routes: Iterable[Stop], **changes: Any) -> Plan:
    """Return a plan with a route for each phlebotomist, nothing unplanned and no goals."""
    made = tuple(Route(phlebotomist=n, stops=tuple(stops)) for n, stops in enumerate(routes))
    return Plan(routes=made, **({"unplanned": (), "goals": ()} | changes))
