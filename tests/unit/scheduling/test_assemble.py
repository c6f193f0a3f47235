"""From numbers to the plan: arrivals, hand-overs, couriers, breaks, missed wishes."""

from __future__ import annotations

import pytest

from planner.domain.orders import TimeWindow
from planner.domain.plan import Break, Handover, Visit
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import clock, make_order, make_patient, make_phlebotomist, make_pickup, make_problem

pytestmark = pytest.mark.slow

PARAMS = SolveParams(effort="quick")


def test_route_of_one_bed_and_one_courier() -> None:
    plan = plan_round(make_problem([make_order()], pickups=[make_pickup()]), PARAMS).plan
    ((visit, handover),) = [route.stops for route in plan.routes]
    assert isinstance(visit, Visit)
    assert isinstance(handover, Handover)
    # BASE to B1: 10 s. 300 s at the bed, the draw after 135 s. B1 to PICKUP, four positions on: 40 s; 60 s there.
    assert (visit.arrive_s, visit.start_s, visit.draw_s, visit.depart_s) == tuple(
        clock("05:00") + s for s in (10, 10, 145, 310)
    )
    assert (handover.arrive_s, handover.start_s, handover.depart_s) == tuple(
        clock("05:00") + s for s in (350, 350, 410)
    )
    # The 06:00 courier needs ten minutes.
    assert (handover.departs_s, handover.lab_arrival_s) == (clock("06:00"), clock("06:10"))
    assert [t.handover for t in visit.tubes] == [1]
    # time: 410 s less 300 s at the bed. Effort, in hundredths of a second: 110 s, a tenth of 70 min, 410 s.
    assert {g.name: (g.value, g.is_proven) for g in plan.goals} == {
        "left-out": (0, True),
        "service": (0, True),
        "effort": (100 * 110 + 10 * 70 * 60 + 100 * 410, True),
    }
    assert {part.name: (part.value, part.price) for goal in plan.goals for part in goal.parts} == {
        "uncollected": (0, 1),
        "late": (0, 1),
        "delivery": (0, 1),
        "stat-to-lab": (0, 1),
        "second-punctures": (0, 900),
        "changes": (0, 600),
        "time": (110, 100),
        "stat-wait": (0, 100),
        "last-minutes": (0, 100),
        "off-time": (0, 40),
        "arrival": (70 * 60, 10),
        "finish": (410, 100),
        "share": (0, 3),
        "precautions": (0, 9_000),
        "ward-changes": (0, 30_000),
        "other-wards": (0, 12_000),
        "protective-after-airborne": (0, 360_000),
    }


def test_waiting_lies_between_arrival_and_start() -> None:
    order = make_order(collect_from_s=clock("06:00"))
    ((visit, _handover),) = [r.stops for r in plan_round(make_problem([order]), PARAMS).plan.routes]
    # The draw at 06:00 starts 135 s before.
    assert (visit.arrive_s, visit.start_s) == (clock("05:00:10"), clock("05:57:45"))


def test_discard_tube_is_not_handed_over() -> None:
    ((visit, _handover),) = [r.stops for r in plan_round(make_problem([make_order(test="AT")]), PARAMS).plan.routes]
    assert [(t.tube.is_discard, t.handover) for t in visit.tubes] == [(True, None), (False, 1)]


def test_break_is_a_stop_where_she_is() -> None:
    who = make_phlebotomist(break_window=TimeWindow(earliest_s=clock("05:00"), latest_s=clock("05:30")), break_s=900)
    orders = [make_order("O1"), make_order("O2", "P2", collect_from_s=clock("06:00"))]
    plan = plan_round(make_problem(orders, staff=[who]), PARAMS).plan
    stops = plan.routes[0].stops
    (at,) = [n for n, stop in enumerate(stops) if isinstance(stop, Break)]
    rest = stops[at]
    assert rest.depart_s - rest.start_s == 900
    assert clock("05:00") <= rest.start_s <= clock("05:15")
    assert rest.place == (stops[at - 1].place if at else "BASE")


def test_who_has_no_stops_has_an_empty_route() -> None:
    staff = [make_phlebotomist("AB"), make_phlebotomist("CD", from_s=clock("08:00"))]
    plan = plan_round(make_problem([make_order()], staff=staff), PARAMS).plan
    assert [len(route.stops) for route in plan.routes] == [2, 0]
    assert [route.phlebotomist for route in plan.routes] == [0, 1]


def test_missed_wish_is_listed_and_costs_nothing() -> None:
    # LIPID wishes for a fast of 12 h; the patient ate at 21:00: only from 09:00 on.
    patient = make_patient(last_ate_s=clock("21:00") - 86_400)
    plan = plan_round(make_problem([make_order(test="LIPID")], [patient]), PARAMS).plan
    assert plan.preferences_missed == (("O1", "fasting"),)
    assert plan.goals[1].value == 0


def test_two_visits_of_one_patient_never_overlap() -> None:
    orders = [make_order("O1", test="TNT", series="S"), make_order("O2", test="TNT", series="S")]
    staff = [make_phlebotomist("AB"), make_phlebotomist("CD")]
    plan = plan_round(make_problem(orders, staff=staff), PARAMS).plan
    first, second = sorted((v for r in plan.routes for v in r.visits), key=lambda v: v.start_s)
    assert first.depart_s <= second.start_s


def test_same_round_twice_is_the_same_plan(four_bed_round) -> None:
    assert plan_round(four_bed_round, PARAMS).plan == plan_round(four_bed_round, PARAMS).plan
