"""Several floors in few rows: x, y and floor of the beds, a row for a lift or stairs; corridors for some wards.

Five wards on three floors, each with beds 1A, 2A and 3A. Times by hand at 1.2 m/s: 6 m are 5 s, 12 m 10 s.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from planner.domain.places import PlaceId
from planner.domain.plan import Reason
from planner.domain.problem import Problem
from planner.loaders import LoadOptions, load
from planner.loaders.frame.floors import floor_key
from tests.builders import DAY
from tests.three_wards import plan_quickly

WARDS = {"Heron": "1", "Kite (South)": "1", "Rail, East": "2", "Teal": "2", "Wren/2": "-1"}
BEDS = ("1A", "2A", "3A")
LIFT = "Lift [old],,lift,0,0,\n"
STAIRS = "Stair B,,stairs,0,6,1-2\n"


def round_of(tmp_path: Path, *rows: str, corridors: str = "", without_floor: bool = False) -> Problem:
    """Return the round: base at 0, 0 on floor 1; the wards 60 m long, 12 m from bed to bed, one behind the other."""
    folder = tmp_path / "round"
    folder.mkdir(exist_ok=True)
    places, orders = ["place,ward,kind,x_m,y_m,floor\n", "Office,,base,0,0,1\n", "Laboratory,,laboratory,6,0,1\n"], []
    on_floor: dict[str, int] = {}
    for ward, floor in WARDS.items():
        first = on_floor.get(floor, 0)
        on_floor[floor] = first + 60
        for n, bed in enumerate(BEDS, start=1):
            places.append(f'{bed},"{ward}",bed,{first + 12 * n},0,{"" if without_floor else floor}\n')
            number = f"{floor}{first}{n}"
            orders.append(f'A{number},P{number},1950-01-0{n},"{ward}",{bed},CBC\n')
    (folder / "places.csv").write_text("".join([*places, *rows]), encoding="utf-8")
    (folder / "orders.csv").write_text(
        "order_number,patient_number,birth_date,ward,bed,test\n" + "".join(orders), encoding="utf-8"
    )
    if corridors:
        (folder / "corridors.csv").write_text("from,to,metres\n" + corridors, encoding="utf-8")
    problem = load(folder, LoadOptions(round_date=DAY)).problem
    assert problem is not None
    return problem


def bed(ward: str, number: str) -> PlaceId:
    return PlaceId(f"{ward}/{number}")


@pytest.mark.slow
def test_one_lift_row_joins_all_floors(tmp_path):
    problem = round_of(tmp_path, LIFT)
    assert problem.set_aside == ()
    walk = problem.walking.between
    assert walk(PlaceId("Office"), bed("Heron", "1A")) == 10
    assert walk(bed("Heron", "1A"), bed("Rail, East", "1A")) == 10 + 60 + 10, "to the lift, one lift, from the lift"
    assert walk(bed("Rail, East", "3A"), bed("Wren/2", "3A")) == 30 + 60 + 30, "a lift takes as long to any floor"
    assert walk(bed("Rail, East", "3A"), bed("Teal", "1A")) == 30, "36 m to 72 m on one floor"
    assert any("lifts and stairs" in sentence and "60 s" in sentence for sentence in problem.assumptions)
    plan_quickly(problem)  # the independent checker walks the same ways


def test_stairs_take_their_time_floor_by_floor(tmp_path):
    problem = round_of(tmp_path, LIFT, STAIRS)
    # 12 m and 6 m to the stairs: 15 s by the nearest places, 45 s, and back; the lift is 10 + 60 + 10
    assert problem.walking.between(bed("Heron", "1A"), bed("Rail, East", "1A")) == 15 + 45 + 15
    assert problem.walking.between(bed("Heron", "1A"), bed("Wren/2", "1A")) == 10 + 60 + 10


def test_floors_without_lift_or_stairs_are_not_walked_through(tmp_path):
    problem = round_of(tmp_path)
    aside = [u.bed for u in problem.set_aside if u.reason is Reason.UNREACHABLE]
    wards = {ward for ward in WARDS if any(place.startswith(f"{ward}/") for place in aside)}
    assert len(problem.orders) == 6
    assert {p.ward for p in problem.patients.values()} >= {"Heron", "Kite (South)"}
    assert wards == {"Rail, East", "Teal", "Wren/2"}


@pytest.mark.slow
def test_metres_count_where_corridors_are_given_for_one_ward_only(tmp_path):
    corridors = "Office,Heron/1A,60\nHeron/1A,Heron/2A,12\nHeron/2A,Heron/3A,12\n"
    problem = round_of(tmp_path, LIFT, STAIRS, corridors=corridors)
    assert problem.set_aside == ()
    walk = problem.walking.between
    assert walk(PlaceId("Office"), bed("Heron", "1A")) == 50, (
        "the corridor that is given, 60 m, not the 12 m by x and y"
    )
    assert walk(bed("Kite (South)", "1A"), bed("Kite (South)", "2A")) == 10
    assert any("by x and y" in sentence for sentence in problem.assumptions)
    plan_quickly(problem)


def test_corridors_that_join_everything_stay_as_they_are(tmp_path):
    names = ["Office", "Laboratory", *(f"{ward}/{number}" for ward in WARDS for number in BEDS)]
    corridors = "".join(f'"{one}","{other}",30\n' for one, other in pairwise(names))
    problem = round_of(tmp_path, corridors=corridors, without_floor=True)
    assert len(problem.corridors) == len(names) - 1


def test_table_that_calls_its_wards_floors_is_read_as_before(load_folder):
    loaded = load_folder(
        {
            "places.csv": "place,floor,kind,order\nBase,,base,0\n1A,East,bed,1\n1A,West,bed,2\nLift,,lift,3\n",
            "orders.csv": "order_number,patient_number,birth_date,floor,bed,test\nA1,P1,1950-01-01,West,1A,CBC\n",
        },
        round_date=DAY,
    )
    assert [p.ward for p in loaded.problem.patients.values()] == ["West"]
    assert loaded.problem.corridors == ()


@pytest.mark.slow
@pytest.mark.parametrize("cell", ["-1-2", "-1; 1; 2", "2/1/-1", ""])
def test_floors_of_a_lift_are_written_in_several_ways(tmp_path, cell):
    problem = round_of(tmp_path, LIFT.replace(",\n", f",{cell}\n"))
    stops = [place for place in problem.places if place.startswith("Lift")]
    assert stops == ["Lift [old] floor -1", "Lift [old] floor 1", "Lift [old] floor 2"] or cell == "-1-2"
    assert problem.set_aside == ()


def test_floors_go_up_by_value_then_by_name():
    assert sorted(["10", "roof", "2", "-1", "0"], key=floor_key) == ["-1", "0", "2", "10", "roof"]


@pytest.mark.parametrize("ground", ["ground", "Ground floor", "G", "EG", "Erdgeschoss", "RDC", "rez-de-chaussée", "0"])
@pytest.mark.parametrize("below", ["basement", "UG", "Keller", "b", "-1"])
def test_stairs_go_from_the_basement_over_the_ground_floor_up(load_folder, ground, below):
    """Five wards, one above the other, each with a bed 1A: stairs join each floor to the next one only."""
    wards = {"Heron": "3", "Kite (South)": ground, "Rail, East": "1", "Teal": below, "Wren/2": "2"}
    beds = [f'1A,"{ward}",bed,12,0,{floor}\n' for ward, floor in wards.items()]
    orders = [f'A{n},P{n},1950-01-0{n},"{ward}",1A,CBC\n' for n, ward in enumerate(wards, start=1)]
    head = "order_number,patient_number,birth_date,ward,bed,test\n"
    problem = load_folder(
        {
            "places.csv": f"place,ward,kind,x_m,y_m,floor\nOffice,,base,0,0,{ground}\nStair,,stairs,0,0,\n"
            + "".join(beds),
            "orders.csv": head + "".join(orders),
        },
        round_date=DAY,
    ).problem
    joined = [(c.from_place, c.to_place) for c in problem.corridors if c.seconds is not None]
    assert joined == [
        (f"Stair floor {one}", f"Stair floor {other}") for one, other in pairwise((below, ground, "1", "2", "3"))
    ]
    assert problem.set_aside == ()
