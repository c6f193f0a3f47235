"""A bed is ward and bed as soon as the round has more than one ward: style guide of the project, no outside source."""

from __future__ import annotations

import pytest

from planner.domain.beds import PlaceNames, find_beds, names_listed, with_ward
from planner.domain.places import Place, PlaceId, PlaceKind
from tests.builders import make_place
from tests.three_wards import BEDS, STATION, WARDS


def wards(*names: str) -> list[Place]:
    return [make_place(f"{ward}/{bed}", ward=ward, label=bed) for ward in names for bed in BEDS]


def test_bed_of_one_ward_is_the_bed_alone() -> None:
    assert PlaceNames(wards("Heron"))("Heron/3A") == "3A"


def test_bed_of_several_wards_is_ward_and_bed() -> None:
    name = PlaceNames(wards(*WARDS))
    assert [name(f"{ward}/3A") for ward in WARDS] == ["Heron 3A", "Kite (South) 3A", "Rail, East 3A"]


def test_no_two_places_have_one_name_and_each_name_finds_its_bed() -> None:
    places = wards(*WARDS, "Ward 1", "Ward 11", "1", "11")
    name = PlaceNames(places)
    assert len({name(place.id) for place in places}) == len(places)
    assert [find_beds(places, name(place.id)) for place in places] == [(place.id,) for place in places]


def test_other_place_has_its_ward_where_its_name_stands_twice() -> None:
    stations = [make_place(f"{w}/{STATION}", PlaceKind.TUBE_STATION, ward=w, label=STATION) for w in WARDS[:2]]
    shelf = make_place("Shelf", PlaceKind.PICKUP, ward="Heron")
    name = PlaceNames([*wards(*WARDS), *stations, shelf])
    assert [name(place.id) for place in (*stations, shelf)] == [f"Heron {STATION}", f"Kite (South) {STATION}", "Shelf"]


def test_number_that_is_no_place_stays() -> None:
    assert PlaceNames(wards(*WARDS))("9Z") == "9Z"
    assert PlaceNames(wards(*WARDS)).of_bed("Heron", "9Z") == "Heron 9Z"
    assert PlaceNames(wards("Heron")).of_bed("Heron", "9Z") == "9Z"
    assert PlaceNames(wards(*WARDS)).of_bed("Heron", "") == ""


def test_wards_that_differ_in_case_and_blanks_are_one() -> None:
    assert not PlaceNames(wards("Heron", " heron")).has_several_wards


@pytest.mark.parametrize(
    ("ward", "label", "name"),
    [
        ("Heron", "3A", "Heron 3A"),
        ("Heron", "Heron 3A", "Heron 3A"),
        ("Heron", "heron/3A", "heron/3A"),
        ("Ward 3", "12", "Ward 3/12"),
        ("3", "3-2", "3/3-2"),
        ("B", "B", "B B"),
        ("", "3A", "3A"),
    ],
)
def test_ward_stands_before_the_bed_once(ward: str, label: str, name: str) -> None:
    assert with_ward(ward, label) == name


def test_list_is_divided_by_what_no_name_holds() -> None:
    assert names_listed(["Heron 1A", "Kite (South) 1A", "Heron 1A"]) == "Heron 1A, Kite (South) 1A"
    assert names_listed(["Heron 1A", "Rail, East 1A"]) == "Heron 1A; Rail, East 1A"
    assert (
        PlaceNames(wards(*WARDS)).listed([PlaceId("Heron/1A"), PlaceId("Rail, East/1A")]) == "Heron 1A; Rail, East 1A"
    )
