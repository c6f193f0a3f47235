"""A small round with a plan made by hand that keeps every rule, and ways to change one thing in it.

The corridor is BASE 0, B1 to B4 at 1 to 4, PICKUP 5, STATION 6, LAB 33: 10 s a position (tests/builders.py).
AB works from 05:00 (18 000 s), CD from 06:00 (21 600 s), both to 09:00 (32 400 s). The lead is 75 + 60 = 135 s,
the service 75 + 60 + 75 + 60 + 30 = 300 s for up to four containers and 60 s more for the fifth:

    AB  B1  arrive 18 010, draw 18 145, depart 18 310   EDTA for O1 and O9 (the same test twice)
        B2  arrive 18 320, draw 18 455, depart 18 620   HEPG for O2 and O3, shared
        B3  arrive 18 630, draw 18 765, depart 18 990   two bottles, discard, CIT, EDTA: five containers, 360 s
        B4  arrive 19 000, draw 19 135, depart 19 300   FLU
        PICKUP  19 310 to 19 370, courier 06:00 = 21 600, laboratory ten minutes later, 22 200
    CD  B1  arrive 21 610, draw 21 745, depart 21 910   HEPG for a troponin
        STATION  50 s on: 21 960 to 22 020, three minutes to the laboratory, 22 200

O8 is left out; X1 was set aside when it was read.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from planner.domain.catalogue import Handling, LabTest, TestCode, TransportMode, TubeCode
from planner.domain.draws import Device, DrawId, Needle, Tube
from planner.domain.orders import Order, OrderId, PatientId, TimeWindow
from planner.domain.places import PickupKind, PlaceId
from planner.domain.plan import (
    Break,
    Goal,
    GoalPart,
    Handover,
    Plan,
    PlannedTube,
    Reason,
    Route,
    Stop,
    Unplanned,
    Visit,
)
from planner.domain.policy import Policy
from planner.domain.problem import Problem
from tests.builders import clock, make_catalogue, make_order, make_phlebotomist, make_problem

PARTS = {
    # O8 is routine and not timed: weight 1.
    "uncollected": ("left-out", "weight", 1, 1),
    "late": ("service", "weighted s", 0, 1),
    "delivery": ("service", "weighted s", 0, 1),
    "stat-to-lab": ("service", "weighted s", 0, 1),
    # Five visits of four patients; a quarter of an hour each.
    "second-punctures": ("service", "draws", 1, 900),
    "changes": ("service", "visits", 0, 600),
    # AB: 19 370 - 18 000 - (3 * 300 + 360) = 110; CD: 22 020 - 21 600 - 300 = 120.
    "time": ("effort", "s", 230, 100),
    "stat-wait": ("effort", "s", 0, 100),
    "last-minutes": ("effort", "s", 0, 100),
    "off-time": ("effort", "s", 0, 40),
    # Five visits, all in the laboratory at the same second: 5 * (22 200 - 18 000).
    "arrival": ("effort", "s", 21_000, 10),
    # 22 020 - 18 000
    "finish": ("effort", "s", 4020, 100),
    # AB is there 14 400 s of 25 200: 57 %. 3 * 300 + 360 = 1260 s of 1560 at beds: 126 000 - 57 * 1560.
    "share": ("effort", "s/100", 37_080, 3),
    "ward-changes": ("effort", "changes", 0, 30_000),
    "other-wards": ("effort", "visits", 0, 12_000),
    "precautions": ("effort", "pairs", 0, 9_000),
    "protective-after-airborne": ("effort", "pairs", 0, 360_000),
}
"""The parts of the clean plan's goals: tier, unit, value and price."""

TIERS = {"left-out": "weight", "service": "weighted s", "effort": "s/100"}


def make_planned_tube(
    kind: str, size_ul: int, position: int, tests: str = "", orders: str = "", handover: int | None = 4, **changes: Any
) -> PlannedTube:
    """Return a full tube at room temperature; ``tests`` and ``orders`` are separated by blanks."""
    fields: dict[str, Any] = {"volume_ul": size_ul, "stability_s": clock("02:00")} | changes
    fields["handling"] = frozenset(Handling(code) for code in fields.get("handling", "").split())
    tube = Tube(
        tube=TubeCode(kind),
        size_ul=size_ul,
        draw_position=position,
        tests=tuple(TestCode(test) for test in tests.split()),
        order_ids=tuple(OrderId(order) for order in orders.split()),
        mode=TransportMode.ROOM,
        **fields,
    )
    return PlannedTube(tube=tube, handover=handover)


def make_visit(patient: str, orders: str, arrive_s: int, tubes: tuple[PlannedTube, ...], service_s: int = 300) -> Visit:
    """Return a visit of patient P<n> in bed B<n> that starts on arrival, with a lead of 135 s."""
    return Visit(
        draw_id=DrawId(f"{patient}-{orders.split()[0]}"),
        patient_id=PatientId(patient),
        place=PlaceId(f"B{patient[1:]}"),
        order_ids=tuple(OrderId(order) for order in orders.split()),
        arrive_s=arrive_s,
        start_s=arrive_s,
        draw_s=arrive_s + 135,
        depart_s=arrive_s + service_s,
        tubes=tubes,
        needle=Needle(gauge=21, device=Device.STRAIGHT),
    )


def counting(problem: Problem, **values: int) -> tuple[Problem, Plan]:
    """Return a problem with the clean plan, some parts of whose goals are other ones."""
    return problem, replace(PLAN, goals=make_goals(**values))


def make_goals(**values: int) -> tuple[Goal, ...]:
    """Return the clean plan's tiers, proven, with some parts changed (a hyphen is written as an underscore)."""
    stated = {name: values.get(name.replace("-", "_"), value) for name, (_, _, value, _) in PARTS.items()}
    tiers = []
    for tier, unit in TIERS.items():
        parts = tuple(
            GoalPart(name=name, unit=its, value=stated[name], price=price)
            for name, (of, its, _, price) in PARTS.items()
            if of == tier
        )
        total = sum(part.counted for part in parts)
        tiers.append(Goal(name=tier, unit=unit, value=total, bound=total, parts=parts))
    return tuple(tiers)


ORDERS = (
    make_order("O1", "P1", "CBC"),
    make_order("O2", "P2", "BMP"),
    make_order("O3", "P2", "LFT"),
    make_order("O4", "P3", "AT"),
    make_order("O5", "P3", "CBC"),
    make_order("O6", "P3", "BC"),
    make_order("O7", "P4", "FGLU"),
    make_order("O8", "P1", "CORTAM"),
    make_order("O9", "P1", "CBC"),
    make_order("T1", "P1", "TNT"),
)

SET_ASIDE = Unplanned(order_id=OrderId("X1"), reason=Reason.UNKNOWN_TEST, detail="test NONE is not known")

PROBLEM = make_problem(
    ORDERS,
    staff=(make_phlebotomist("AB"), make_phlebotomist("CD", from_s=clock("06:00"))),
    set_aside=(SET_ASIDE,),
)

CULTURE = "asepsis before_antibiotics hand_deliver no_ice record_time"

PLAN = Plan(
    routes=(
        Route(
            phlebotomist=0,
            stops=(
                make_visit(
                    "P1",
                    "O1 O9",
                    18_010,
                    (make_planned_tube("EDTA", 3000, 1, "CBC", "O1 O9", stability_s=clock("24:00")),),
                ),
                make_visit(
                    "P2",
                    "O2 O3",
                    18_320,
                    (make_planned_tube("HEPG", 3000, 1, "BMP LFT", "O2 O3", handling="no_ice no_fist"),),
                ),
                make_visit(
                    "P3",
                    "O4 O5 O6",
                    18_630,
                    (
                        # One set: 20 mL over two bottles.
                        make_planned_tube("BCA", 10_000, 1, "BC", "O6", handling=CULTURE),
                        make_planned_tube("BCN", 10_000, 2, "BC", "O6", handling=CULTURE),
                        make_planned_tube("DIS", 1000, 3, handover=None, stability_s=None),
                        make_planned_tube(
                            "CIT",
                            2700,
                            4,
                            "AT",
                            "O4",
                            stability_s=clock("04:00"),
                            handling="full_fill no_ice discard_first",
                        ),
                        make_planned_tube("EDTA", 3000, 5, "CBC", "O5", stability_s=clock("24:00")),
                    ),
                    service_s=360,
                ),
                make_visit("P4", "O7", 19_000, (make_planned_tube("FLU", 2000, 1, "FGLU", "O7"),)),
                Handover(
                    place=PlaceId("PICKUP"),
                    kind=PickupKind.COURIER,
                    arrive_s=19_310,
                    start_s=19_310,
                    depart_s=19_370,
                    departs_s=21_600,
                    lab_arrival_s=22_200,
                ),
            ),
        ),
        Route(
            phlebotomist=1,
            stops=(
                make_visit(
                    "P1",
                    "T1",
                    21_610,
                    (make_planned_tube("HEPG", 3000, 1, "TNT", "T1", handover=1, handling="record_time"),),
                ),
                Handover(
                    place=PlaceId("STATION"),
                    kind=PickupKind.TUBE,
                    arrive_s=21_960,
                    start_s=21_960,
                    depart_s=22_020,
                    departs_s=None,
                    lab_arrival_s=22_200,
                ),
            ),
        ),
    ),
    unplanned=(SET_ASIDE, Unplanned(order_id=OrderId("O8"), reason=Reason.NO_TIME, detail="the round is full")),
    goals=make_goals(),
)


def with_stop(index: int, plan: Plan = PLAN, route: int = 0, **changes: Any) -> Plan:
    """Return the plan with some fields of one stop changed."""
    stops = list(plan.routes[route].stops)
    stops[index] = replace(stops[index], **changes)
    return with_stops(tuple(stops), plan, route)


def with_stops(stops: tuple[Stop, ...], plan: Plan = PLAN, route: int = 0) -> Plan:
    """Return the plan with other stops on one route."""
    routes = list(plan.routes)
    routes[route] = replace(routes[route], stops=stops)
    return replace(plan, routes=tuple(routes))


def with_tube(
    stop: int, position: int, plan: Plan = PLAN, route: int = 0, handover: int | str | None = "same", **changes: Any
) -> Plan:
    """Return the plan with some fields of the tube at a draw position changed."""
    visit = plan.routes[route].stops[stop]
    assert isinstance(visit, Visit)
    tubes = list(visit.tubes)
    at = next(index for index, planned in enumerate(tubes) if planned.tube.draw_position == position)
    tubes[at] = replace(
        tubes[at],
        tube=replace(tubes[at].tube, **changes),
        handover=tubes[at].handover if handover == "same" else handover,
    )
    return with_stop(stop, plan, route, tubes=tuple(tubes))


def with_order(order: str, problem: Problem = PROBLEM, **changes: Any) -> Problem:
    """Return the problem with some fields of one order changed."""
    orders: tuple[Order, ...] = tuple(replace(o, **changes) if o.id == order else o for o in problem.orders)
    return replace(problem, orders=orders)


def with_patient(patient: str, problem: Problem = PROBLEM, **changes: Any) -> Problem:
    """Return the problem with some fields of one patient changed."""
    return replace(
        problem,
        patients={key: replace(p, **changes) if key == patient else p for key, p in problem.patients.items()},
    )


def with_test(test: str, problem: Problem = PROBLEM, **changes: Any) -> Problem:
    """Return the problem with some fields of one laboratory test changed."""
    changed: LabTest = replace(problem.catalogue.tests[TestCode(test)], **changes)
    return replace(problem, catalogue=make_catalogue(extra_tests=[changed]))


def with_staff(index: int, problem: Problem = PROBLEM, **changes: Any) -> Problem:
    """Return the problem with some fields of one phlebotomist changed."""
    staff = list(problem.staff)
    staff[index] = replace(staff[index], **changes)
    return replace(problem, staff=tuple(staff))


def with_policy(**parts: Any) -> Problem:
    """Return the problem with some parts of its policy changed."""
    return replace(PROBLEM, policy=Policy(**parts))


def window(from_s: int, to_s: int) -> TimeWindow:
    """Return a span, both ends included."""
    return TimeWindow(earliest_s=from_s, latest_s=to_s)


class Changes:
    """A list of changes to the clean round: the code of the rule that breaks, in words, and the round afterwards."""

    def __init__(self) -> None:
        self.all: list[tuple[str, str, Callable[[], tuple[Problem, Plan]]]] = []

    def add(self, code: str, says: str, make: Callable[[], Problem | Plan | tuple[Problem, Plan]]) -> None:
        """Add one change; what it leaves alone, problem or plan, need not be given back."""

        def both() -> tuple[Problem, Plan]:
            made = make()
            if isinstance(made, Problem):
                return made, PLAN
            return (PROBLEM, made) if isinstance(made, Plan) else made

        self.all.append((code, says, both))


def make_break(place: str, start_s: int, length_s: int) -> Break:
    """Return a break that starts on arrival."""
    return Break(place=PlaceId(place), arrive_s=start_s, start_s=start_s, depart_s=start_s + length_s)
