"""Before each bed of another ward than the one before a row says where to go; on one ward there is none."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.domain.places import PlaceId
from planner.domain.plan import Handover
from planner.exporters.view.build import build_view
from planner.exporters.view.context import ViewContext
from planner.exporters.view.legs import Ways
from planner.exporters.view.round_view import RoundView
from planner.exporters.view.stop_view import HandoverView
from planner.exporters.view.texts import TextCleaner
from planner.visits import order_windows
from tests.three_wards import Tables, five_ward_tables, load_tables, plan_quickly
from tests.unit.exporters.rounds import make_round
from tests.unit.loaders.frame.test_floors import LIFT, WARDS, round_of

pytestmark = pytest.mark.slow


def view_of(tables: Tables, folder: Path) -> RoundView:
    problem = load_tables(tables, folder / "round")
    windows, _ = order_windows(problem)
    return build_view(problem, plan_quickly(problem).plan, windows, revision=1)


def test_every_change_of_ward_has_a_row_and_nothing_else_has(tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["staff"] = tables["staff"][:1]
    view = view_of(tables, tmp_path)
    changes = 0
    for route in view.routes:
        before = ""
        for visit in route.visits:
            assert visit.way.startswith(f"GO TO {visit.ward}") == (visit.ward != before)
            assert bool(visit.way) == (visit.ward != before)
            changes += visit.ward != before
            before = visit.ward
    assert changes >= 5, "one person goes to all five wards"


def test_a_round_of_one_ward_has_none() -> None:
    problem, plan, windows = make_round(6, 1)
    view = build_view(problem, plan, windows, revision=1)
    assert not any(visit.way for route in view.routes for visit in route.visits)


def test_floor_and_lift_are_named_where_the_floor_changes(tmp_path: Path) -> None:
    problem = round_of(tmp_path, LIFT)
    windows, _ = order_windows(problem)
    view = build_view(problem, plan_quickly(problem).plan, windows, revision=1)
    ways = {visit.ward: visit.way for route in view.routes for visit in route.visits if visit.way}
    assert set(ways) == set(WARDS)
    for ward, way in ways.items():
        assert way.startswith(f"GO TO {ward}, floor {WARDS[ward]}")
    lifted = [way for way in ways.values() if "Lift [old]" in way]
    # Three floors: from the first to the second and on to the third there are at least two rides.
    assert len(lifted) >= 2


def corridors_of(*links: tuple[str, str, str, str]) -> list[dict[str, str]]:
    return [{"from": a, "to": b, "metres": metres, "seconds": seconds} for a, b, metres, seconds in links]


def mapped(tables: Tables) -> Tables:
    """Lay two wards with equal beds out by hand; a lift between the floors is a link in seconds.

    Floor 1, x to the right: Desk (0, 0), Lift 1 (10, 0), Hall A 1 (20, 0), Hall A 2 (30, 0). Bed 1A of Heron lies above
    Hall A 1, bed 1A of Kite beyond the lift on floor 2: Lift 2 (10, 0), Door K (10, 10), Hall K 1 (20, 10), then up.
    """
    places = {
        "Desk": ("", "base", 0, 0, "1"),
        "Lift 1": ("", "waypoint", 10, 0, "1"),
        "Hall A 1": ("Heron", "waypoint", 20, 0, "1"),
        "Hall A 2": ("Heron", "waypoint", 30, 0, "1"),
        "Heron/1A": ("Heron", "bed", 20, 5, "1"),
        "Shelf": ("", "pickup", 40, 0, "1"),
        "Lift 2": ("", "waypoint", 10, 0, "2"),
        "Door K": ("Kite (South)", "waypoint", 10, 10, "2"),
        "Hall K 1": ("Kite (South)", "waypoint", 20, 10, "2"),
        "Kite (South)/1A": ("Kite (South)", "bed", 20, 15, "2"),
    }
    tables["places"] = [
        {"place": name.split("/")[-1], "ward": ward, "kind": kind, "x_m": str(x), "y_m": str(y), "floor": floor}
        for name, (ward, kind, x, y, floor) in places.items()
    ]
    links = [
        ("Desk", "Lift 1", "10", ""),
        ("Lift 1", "Hall A 1", "10", ""),
        ("Hall A 1", "Hall A 2", "10", ""),
        ("Hall A 1", "Heron 1A", "5", ""),
        ("Hall A 2", "Shelf", "10", ""),
        ("Lift 1", "Lift 2", "", "60"),
        ("Lift 2", "Door K", "10", ""),
        ("Door K", "Hall K 1", "10", ""),
        ("Hall K 1", "Kite (South) 1A", "5", ""),
    ]
    tables["corridors"] = corridors_of(*links)
    tables["patients"] = [p for p in tables["patients"] if p["bed"] == "1A" and p["ward"] in ("Heron", "Kite (South)")]
    numbers = {p["patient_number"] for p in tables["patients"]}
    tables["orders"] = [o for o in tables["orders"] if o["patient_number"] in numbers]
    tables["staff"] = [tables["staff"][0] | {"starts_at": "Desk"}]
    tables["pickups"] = [{"place": "Shelf", "kind": "courier", "departs": "07:15; 08:15", "transit_minutes": "10"}]
    return tables


def test_left_and_right_are_those_of_the_map_and_a_lift_says_up_or_down(tmp_path: Path) -> None:
    problem = load_tables(mapped(five_ward_tables()), tmp_path / "round")
    ways = Ways(ViewContext(problem, plan_quickly(problem).plan, {}, TextCleaner()))

    def way(start: str, end: str) -> str:
        return ways.words(PlaceId(start), PlaceId(end))

    # Walking along growing x, what lies at greater y is on the left.
    assert way("Desk", "Heron/1A") == "past Lift 1; left in at Hall A 1"
    # From the bed down to the hall, then towards the lift (smaller x): a turn to the right.
    assert way("Heron/1A", "Desk") == "out at Hall A 1, right; past Lift 1"
    assert way("Desk", "Kite (South)/1A") == "Lift 1 up to floor 2; right in at Door K; turn left at Hall K 1"
    assert way("Kite (South)/1A", "Heron/1A") == (
        "turn right at Hall K 1; out at Door K, left; Lift 2 down to floor 1; left in at Hall A 1"
    )
    assert way("Desk", "Shelf") == "past Lift 1, Hall A 1; out at Hall A 2"


def test_who_left_a_ward_for_a_hand_over_is_led_back(tmp_path: Path) -> None:
    """From the shelf, outside the ward, to its next bed: the way is said as it is for another ward."""
    problem = load_tables(mapped(five_ward_tables()), tmp_path / "round")
    plan = plan_quickly(problem).plan
    route = plan.routes[0]
    first, second = route.visits[:2]
    shelf = next(stop for stop in route.stops if isinstance(stop, Handover))
    again = replace(second, place=first.place)
    ways = Ways(ViewContext(problem, plan, {}, TextCleaner()))
    floor, ward = problem.places[first.place].floor, problem.places[first.place].ward
    there = ways.legs(replace(route, stops=(first, shelf, again)))
    way = ways.words(shelf.place, first.place)
    assert way
    assert there[1].endswith("; same way back")
    assert 2 not in there
    other = replace(first, place=PlaceId("Heron/1A" if ward != "Heron" else "Kite (South)/1A"))
    elsewhere = ways.legs(replace(route, stops=(other, shelf, again)))
    assert elsewhere[2].startswith(f"GO TO {ward}, floor {floor} (leg 2, from Shelf): ")
    assert set(ways.legs(replace(route, stops=(first, again)))) == {0}


def test_legs_are_numbered_and_say_from_where_and_to_which_floor(tmp_path: Path) -> None:
    view = view_of(mapped(five_ward_tables()), tmp_path)
    [route] = view.routes
    legs = [visit.way for visit in route.visits]
    assert len(legs) == 2
    for number, (leg, visit) in enumerate(zip(legs, route.visits, strict=True), start=1):
        floor = {"Heron": "1", "Kite (South)": "2"}[visit.ward]
        start = "Desk" if number == 1 else route.visits[0].bed
        assert leg.startswith(f"GO TO {visit.ward}, floor {floor} (leg {number}, from {start}): ")
    assert any(stop.way.startswith("Way: ") for stop in route.stops if isinstance(stop, HandoverView))
