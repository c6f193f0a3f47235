"""Makes visits and plans of a round that has begun, without a planner: times as told, tubes as told."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from planner.domain.catalogue import TubeCode
from planner.domain.draws import Device, DrawId, Needle, Tube
from planner.domain.orders import OrderId, Priority
from planner.domain.places import PickupKind, PlaceId, PlaceKind
from planner.domain.plan import Handover, Outcome, Plan, PlannedTube, Route, Stop, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.changes import NeverCame
from planner.domain.revisions.reported import Reported
from planner.replanning.next_problem import next_problem
from tests.builders import clock, make_order, make_patient, make_phlebotomist, make_place, make_problem

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
        "needle": Needle(gauge=21, device=Device.STRAIGHT),
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


WARDS = ("Heron", "Juniper", "Larch (north)", "St. Anne, 2nd floor", "Kestrel")
"""Five wards with untidy names; each has the beds 1A, 1B and 2A."""


def five_wards(**changes: Any) -> tuple[Problem, Plan]:
    """Return P1 to P5 in bed 1A of each of five wards, with O1 to O5 drawn by AB at 05:10, 05:11 to 05:14."""
    places = [make_place("BASE", PlaceKind.BASE, position=0), make_place("SHELF", PlaceKind.PICKUP, position=99)]
    for n, ward in enumerate(WARDS):
        for m, bed in enumerate(("1A", "1B", "2A")):
            places.append(make_place(f"{ward}/{bed}", ward=ward, label=bed, position=1 + 10 * n + m))
    patients = [make_patient(f"P{n}", f"{ward}/1A", ward=ward) for n, ward in enumerate(WARDS, start=1)]
    orders = [make_order(f"O{n}", f"P{n}") for n in range(1, 6)]
    problem = make_problem(orders, patients, places=places, **changes)
    visits = [make_visit(problem, [f"O{n}"], f"05:{9 + n}") for n in range(1, 6)]
    return problem, make_plan(visits, *[[] for _ in problem.staff[1:]])


TWO = (make_phlebotomist("AB", name="Ann Bell"), make_phlebotomist("CD", name="Carl Dee-Dale"))


def given_to_another(*, never_came: bool = False, is_stat: bool = False) -> tuple[Problem, Plan]:
    """Return revision 2, made at 05:30: P2 in Juniper 1A, whom AB had at 05:20, is CD's at 06:10.

    ``is_stat``: the draw of P2 has been a stat from the start.
    """
    problem, _ = five_wards(staff=TWO)
    if is_stat:
        orders = tuple(replace(o, priority=Priority.STAT) if o.id == "O2" else o for o in problem.orders)
        problem = replace(problem, orders=orders)
    due = [make_visit(problem, [f"O{n}"], draw) for n, draw in enumerate(("05:10", "05:20", "05:50"), start=1)]
    rest = [make_visit(problem, [f"O{n}"], draw) for n, draw in enumerate(("05:40", "06:30"), start=4)]
    first = Reported(order_ids=due[0].order_ids, draw_id=due[0].draw_id, outcome=Outcome.COLLECTED)
    changes = [NeverCame(name="AB")] if never_came else []
    reports = [] if never_came else [first]
    told = next_problem(
        problem, make_plan(due, rest), parent=1, now_s=clock("05:30"), reports=reports, changes=changes
    ).problem
    tube = make_drawn_tube(["CBC"], ["O2"], "EDTA")
    later = make_visit(problem, ["O2"], "06:10", tubes=[(tube, None)])
    assert told.replan is not None
    past = told.replan.past[0].stops
    return told, make_plan([*past, due[2]], [rest[0], later, rest[1]])
