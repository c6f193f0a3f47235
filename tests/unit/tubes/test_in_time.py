"""A tube kind in which a test cannot reach the laboratory in time gives way to one in which it can."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.catalogue import TubeCode, TubeLimit
from planner.domain.orders import TimeWindow
from planner.domain.places import PickupKind
from planner.tubes import choose_tubes
from tests.builders import clock, make_order, make_pickup, make_problem
from tests.unit.tubes.bedside import PARAMS, make_catalogue, make_kind, make_request, make_test, written

# T keeps 24 h in A and an hour in B, where it could share with U. Bed B1 is 40 s from the shelf: with 165 s from the
# draw to leaving the bed (75 + 60 + 30) and 60 s at the shelf a tube is ready 265 s = 4:25 after the draw.
LIMITS = (TubeLimit(tube=TubeCode("B"), max_room_s=3600),)
TESTS = [make_test("T", "A;B", 500, 100, max_room_s=86_400, tube_limits=LIMITS), make_test("U", "B", 500, 100)]
CATALOGUE = make_catalogue(TESTS, [make_kind("A", 2000), make_kind("B", 2000)])


def tubes(pickups, catalogue=CATALOGUE, window=("05:00", "06:00")):
    orders = [make_order("O1", "P1", "T"), make_order("O2", "P1", "U")]
    problem = make_problem(orders, catalogue=catalogue, pickups=pickups)
    earliest_s, latest_s = map(clock, window)
    request = replace(
        make_request(problem.patients["P1"], orders),
        bed="B1",
        windows=(TimeWindow(earliest_s=earliest_s, latest_s=latest_s),),
    )
    (found,) = choose_tubes(problem, [request], PARAMS).tube_sets.values()
    return written(found)


def courier(departs: str, transit_s: int):
    return [make_pickup("PICKUP", departures_s=(clock(departs),), transit_s=transit_s)]


@pytest.mark.parametrize(
    ("departs", "transit_s", "expected"),
    [
        # Drawn at 05:55:35 at the latest for the 06:00; in the laboratory 265 s + transit later.
        ("06:00", 3600 - 265, ["B 2 T+U"]),
        ("06:00", 3600 - 264, ["A 2 T", "B 2 U"]),
        # Drawn at 06:00 at the latest, 55:35 after it the 07:00 could still take it; transit is what counts.
        ("07:00", 60, ["A 2 T", "B 2 U"]),
        ("06:30", 1800, ["B 2 T+U"]),
        ("06:30", 1801, ["A 2 T", "B 2 U"]),
        # Gone before anything is drawn.
        ("05:00", 60, ["B 2 T+U"]),
    ],
)
def test_kind_is_left_out_when_no_courier_is_in_time(departs, transit_s, expected):
    assert tubes(courier(departs, transit_s)) == expected


def test_pneumatic_tube_and_carrying_count_from_the_draw():
    # BASE 0, B1 1, ..., PICKUP 5, STATION 6: 50 s to the station.
    station = [make_pickup("STATION", PickupKind.TUBE, transit_s=3600 - 275)]
    assert tubes(station) == ["B 2 T+U"]
    assert tubes([replace(station[0], transit_s=3600 - 274)]) == ["A 2 T", "B 2 U"]


def test_where_no_kind_is_in_time_nothing_is_left_out():
    # Both are late: the tube set is as it would be, and the scheduler says that no hand-over is in time.
    short = replace(TESTS[0], max_room_s=60)
    catalogue = make_catalogue([short, TESTS[1]], CATALOGUE.tubes.values())
    assert tubes(courier("06:00", 7200), catalogue) == ["B 2 T+U"]


def test_first_choice_stays_first():
    first = replace(TESTS[0], accepts=(("B",), ("A",)), first_choice=True)
    catalogue = make_catalogue([first, TESTS[1]], CATALOGUE.tubes.values())
    assert tubes(courier("06:00", 7200), catalogue) == ["B 2 T+U"]
