"""Time at the bed, allowed starts, weights."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from planner.domain.catalogue import TestCode, TubeCode
from planner.domain.draws import Device, DrawId, Needle, Tube, TubeSet
from planner.domain.orders import Precaution, Priority, TimeWindow
from planner.visits import build_draws, group_into_visits, order_windows
from planner.visits.draws import late_weight, service_parts, uncollected_weight
from tests.builders import clock, make_order, make_patient, make_problem


def tube_set(num_tubes: int = 1, sites: int = 1, num_discard: int = 0, order: str = "O1") -> TubeSet:
    tubes = tuple(
        Tube(
            tube=TubeCode("EDTA"),
            size_ul=4000,
            volume_ul=4000,
            draw_position=n + 1,
            tests=() if n < num_discard else (TestCode("CBC"),),
            order_ids=() if n < num_discard else (order,),
            site=1 + n % sites,
        )
        for n in range(num_tubes)
    )
    return TubeSet(tubes=tubes, needle=Needle(gauge=21, device=Device.STRAIGHT), num_separate=1, separate_ul=4000)


CHILD = {"birth_date": date(2015, 1, 1), "weight_g": 30_000}


@pytest.mark.parametrize(
    ("patient", "tubes", "expected"),
    [
        # identify 75 + prepare 60 = 135; + draw 75 + label 60 + tidy 30 = 300.
        ({}, {}, (135, 300)),
        ({}, {"num_tubes": 4}, (135, 300)),
        # The fifth tube and the sixth: 60 s each; a discard tube counts.
        ({}, {"num_tubes": 6, "num_discard": 1}, (135, 420)),
        # A second site: 120 s.
        ({}, {"num_tubes": 4, "sites": 2}, (135, 420)),
        (CHILD, {}, (135, 420)),
        # Without a birth date a weight under 40 kg means a child.
        ({"birth_date": None, "weight_g": 30_000}, {}, (135, 420)),
        ({"has_difficult_veins": True}, {}, (135, 420)),
        # Gown: 240 s protective, 180 contact, 300 airborne; half of it before the draw; the largest counts.
        ({"precautions": frozenset({Precaution.CONTACT})}, {}, (225, 480)),
        ({"precautions": frozenset({Precaution.CONTACT, Precaution.AIRBORNE})}, {}, (285, 600)),
    ],
)
def test_service_adds_up(patient: dict[str, Any], tubes: dict[str, int], expected: tuple[int, int]) -> None:
    problem = make_problem([make_order()], [make_patient(**patient)])
    assert service_parts(problem, problem.patients["P1"], tube_set(**tubes)) == expected


def test_half_of_an_odd_gown_time_is_rounded_down() -> None:
    problem = make_problem([make_order()], [make_patient(precautions=frozenset({Precaution.CONTACT}))])
    service = replace(problem.policy.service, gown_s={Precaution.CONTACT: 91})
    problem = replace(problem, policy=replace(problem.policy, service=service))
    assert service_parts(problem, problem.patients["P1"], tube_set()) == (135 + 45, 300 + 91)


def draws(order: dict[str, Any], patient: dict[str, Any]):
    problem = make_problem([make_order(**order)], [make_patient(**patient)])
    windows, _unplanned = order_windows(problem)
    requests = group_into_visits(problem, windows)
    return build_draws(problem, requests, {DrawId("P1#1"): tube_set()})


def test_start_is_the_draw_time_less_the_lead_within_the_round() -> None:
    ((draw,), unplanned) = draws({}, {})
    # Draws from 05:00, but nobody is there earlier; the stay of 300 s ends by 09:00.
    assert [(w.earliest_s, w.latest_s) for w in draw.start_windows] == [(clock("05:00"), clock("08:55"))]
    ((draw,), unplanned) = draws({"collect_from_s": clock("06:00"), "collect_to_s": clock("06:30")}, {})
    # 06:00 - 135 s = 05:57:45; 06:30 + 60 min - 135 s = 07:27:45; the target stays that of the draw time.
    assert [(w.earliest_s, w.latest_s) for w in draw.start_windows] == [(clock("05:57:45"), clock("07:27:45"))]
    assert draw.targets == ((clock("06:30"), 2),)
    assert unplanned == ()


def test_stay_may_touch_an_absence_but_not_overlap_it() -> None:
    away = (TimeWindow(earliest_s=clock("06:00"), latest_s=clock("07:00")),)
    ((draw,), _unplanned) = draws({}, {"away": away})
    # A stay of 300 s from 05:55 ends as the patient leaves. From 07:00 on she is back; a draw at 07:00 would
    # start at 06:57:45, while she is away.
    assert [(w.earliest_s, w.latest_s) for w in draw.start_windows] == [
        (clock("05:00"), clock("05:55")),
        (clock("07:00"), clock("08:55")),
    ]


def test_stay_that_fits_no_gap_between_absences_is_listed() -> None:
    away = (
        TimeWindow(earliest_s=clock("05:00"), latest_s=clock("07:00")),
        TimeWindow(earliest_s=clock("07:04:59"), latest_s=clock("09:00")),
    )
    made, unplanned = draws({}, {"away": away})
    assert made == ()
    assert [(u.order_id, u.reason.value) for u in unplanned] == [("O1", "no-common-window")]


def test_order_that_lost_its_tube_leaves_the_draw() -> None:
    problem = make_problem([make_order("O1"), make_order("O2", test="BMP", collect_from_s=clock("06:00"))])
    windows, _unplanned = order_windows(problem)
    requests = group_into_visits(problem, windows)
    ((draw,), _unplanned) = build_draws(problem, requests, {DrawId("P1#1"): tube_set(order="O1")})
    assert [o.id for o in draw.request.orders] == ["O1"]
    assert draw.start_windows[0].earliest_s == clock("05:00")  # O2's 06:00 no longer holds it back


@pytest.mark.parametrize(
    ("order", "uncollected", "late"),
    [
        ({}, 1, 1),
        ({"priority": Priority.STAT}, 100, 10),
        ({"priority": Priority.ASAP}, 30, 4),
        ({"priority": Priority.URGENT}, 20, 3),
        ({"collect_at_s": 20_000}, 10, 2),
        ({"collect_at_s": 20_000, "priority": Priority.STAT}, 100, 10),
        ({"test": "VANCT", "next_dose_s": 20_000}, 10, 1),
    ],
)
def test_weights(order: dict[str, Any], uncollected: int, late: int) -> None:
    problem = make_problem([make_order(**order)])
    assert uncollected_weight(problem, problem.orders[0]) == uncollected
    assert late_weight(problem, problem.orders[0]) == late
