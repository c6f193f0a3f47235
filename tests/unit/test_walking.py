"""Walking times against a shortest-path method written here, and the corridor that stands in for a map."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import product
from math import ceil, inf

import pytest

from planner.domain.places import Corridor, Place, PlaceId, PlaceKind
from planner.domain.policy import WalkingPolicy
from planner.walking import (
    BASE,
    LABORATORY,
    assumed_places,
    corridor_positions,
    natural_key,
    seconds_for,
    walking_times,
)

POLICY = WalkingPolicy()


def place(name: str, kind: PlaceKind = PlaceKind.BED, **more: float | str) -> Place:
    return Place(id=PlaceId(name), ward=str(more.pop("ward", "A")), kind=kind, **more)


def places(*listed: Place) -> dict[PlaceId, Place]:
    return {p.id: p for p in listed}


def corridor(start: str, end: str, **more: float | bool) -> Corridor:
    return Corridor(from_place=PlaceId(start), to_place=PlaceId(end), **more)


def floyd_warshall(names: list[str], corridors: list[Corridor]) -> dict[tuple[str, str], float]:
    """Return shortest seconds by pair, every place tried as a way station (Floyd 1962, Warshall 1962)."""
    best: dict[tuple[str, str], float] = {(a, b): 0 if a == b else inf for a, b in product(names, names)}
    for link in corridors:
        walk_s = link.seconds
        if walk_s is None:
            # 1.2 m/s is 6/5: metres * 5 / 6, rounded up; metres are whole here.
            walk_s = ceil(Fraction(int(link.metres or 0) * 5, 6))
        pairs = [(link.from_place, link.to_place)]
        pairs += [] if link.is_one_way else [(link.to_place, link.from_place)]
        for pair in pairs:
            best[pair] = min(best[pair], walk_s)
    for via, start, end in product(names, names, names):
        best[start, end] = min(best[start, end], best[start, via] + best[via, end])
    return best


def random_map(rng: random.Random) -> tuple[list[str], list[Corridor]]:
    names = [f"P{number}" for number in range(rng.randint(2, 12))]
    links = []
    for _ in range(rng.randint(1, 3 * len(names))):
        start, end = rng.sample(names, 2)
        length = {"metres": float(rng.randint(0, 60))} if rng.random() < 0.5 else {"seconds": rng.randint(0, 90)}
        links.append(corridor(start, end, is_one_way=rng.random() < 0.4, **length))
    return names, links


@pytest.mark.parametrize("seed", range(150))
def test_shortest_paths_equal_floyd_warshall(seed: int) -> None:
    rng = random.Random(seed)
    names, links = random_map(rng)
    stops = rng.sample(names, rng.randint(1, len(names)))
    times, unreachable = walking_times(places(*map(place, names)), links, POLICY, [PlaceId(stop) for stop in stops])
    expected = floyd_warshall(names, links)
    assert times.seconds == {
        (a, b): expected[a, b] for a, b in product(stops, stops) if a != b and expected[a, b] < inf
    }
    kept = [stop for stop in stops if stop not in unreachable]
    assert all(expected[a, b] < inf for a, b in product(kept, kept))
    # Nobody is named in vain: each one named misses a way to or from some stop that is kept.
    assert all(any(inf in (expected[u, k], expected[k, u]) for k in kept) for u in unreachable)


def test_the_random_maps_hold_unreachable_places_and_one_way_corridors() -> None:
    # The comparison above means something only if such maps occur among its seeds.
    maps = [random_map(random.Random(seed)) for seed in range(150)]
    assert sum(any(link.is_one_way for link in links) for _, links in maps) > 100
    assert sum(inf in floyd_warshall(names, links).values() for names, links in maps) > 20
    assert sum(inf not in floyd_warshall(names, links).values() for names, links in maps) > 20


def test_a_one_way_corridor_is_walked_in_its_direction_only() -> None:
    links = [corridor("a", "b", seconds=10, is_one_way=True), corridor("b", "a", seconds=50, is_one_way=True)]
    times, unreachable = walking_times(places(place("a"), place("b")), links, POLICY, [PlaceId("a"), PlaceId("b")])
    assert (times.seconds, unreachable) == ({("a", "b"): 10, ("b", "a"): 50}, [])


def test_the_quickest_of_parallel_corridors_counts() -> None:
    links = [corridor("a", "b", metres=120.0), corridor("b", "a", seconds=30)]
    times, _ = walking_times(places(place("a"), place("b")), links, POLICY, [PlaceId("a"), PlaceId("b")])
    assert times.between(PlaceId("a"), PlaceId("b")) == 30


def test_a_bed_that_no_corridor_reaches_is_named() -> None:
    listed = places(place("base", PlaceKind.BASE), place("1"), place("2"))
    times, unreachable = walking_times(listed, [corridor("base", "1", seconds=5)], POLICY, listed)
    assert unreachable == ["2"]
    assert times.seconds == {("base", "1"): 5, ("1", "base"): 5}


def test_of_two_equal_parts_the_one_with_the_base_is_kept() -> None:
    listed = places(place("1"), place("2"), place("base", PlaceKind.BASE), place("3"))
    links = [corridor("1", "2", seconds=5), corridor("base", "3", seconds=5)]
    assert walking_times(listed, links, POLICY, listed)[1] == ["1", "2"]


@pytest.mark.parametrize(
    ("metres", "speed", "seconds"),
    # 6.0 / 1.2 is exactly 5, and 4.2 / 0.7 exactly 6, though binary fractions give a little more.
    [(6.0, 1.2, 5), (6.1, 1.2, 6), (4.2, 0.7, 6), (0.0, 1.2, 0), (0.1, 1.2, 1), (120.0, 1.2, 100)],
)
def test_metres_become_whole_seconds_rounded_up_exactly(metres: float, speed: float, seconds: int) -> None:
    assert seconds_for(metres, WalkingPolicy(speed_m_per_s=speed)) == seconds


def test_without_corridors_coordinates_are_walked_at_right_angles() -> None:
    listed = places(place("a", x_m=0.0, y_m=0.0), place("b", x_m=3.0, y_m=-3.0), place("c", x_m=0.1, y_m=0.2))
    times, unreachable = walking_times(listed, [], POLICY, listed)
    # a-b: 6 m at 1.2 m/s = 5 s. a-c: 0.3 m = 0.25 s, up to 1. b-c: 2.9 + 3.2 = 6.1 m = 5.08 s, up to 6.
    expected = {("a", "b"): 5, ("a", "c"): 1, ("b", "c"): 6}
    assert times.seconds == expected | {(b, a): s for (a, b), s in expected.items()}
    assert unreachable == []


def test_one_stop_without_coordinates_means_the_assumed_corridor() -> None:
    listed = places(place("base", PlaceKind.BASE), place("1", x_m=0.0, y_m=0.0), place("2"))
    times, _ = walking_times(listed, [], POLICY, listed)
    # Beds at 4 and 8 m: 4 / 1.2 = 3.33, up to 4 s; 8 / 1.2 = 6.67, up to 7 s.
    assert times.between(PlaceId("base"), PlaceId("1")) == 4
    assert times.between(PlaceId("base"), PlaceId("2")) == 7
    assert times.between(PlaceId("1"), PlaceId("2")) == 4


def test_the_assumed_corridor_runs_through_the_wards_in_natural_order() -> None:
    listed = assumed_places({"Ward 10": [PlaceId("Z1")], "Ward 2": [PlaceId("10"), PlaceId("2"), PlaceId("2")]})
    assert list(listed) == [BASE, LABORATORY, "2", "10", "Z1"]
    assert [(p.ward, p.position) for p in listed.values()][2:] == [("Ward 2", 1), ("Ward 2", 2), ("Ward 10", 1)]
    # Spacing 4 m, gap 40 m: 4, 8, then 8 + 40 + 4.
    assert corridor_positions(listed.values(), POLICY) == {BASE: 0, LABORATORY: 0, "2": 4, "10": 8, "Z1": 52}
    times, unreachable = walking_times(listed, [], POLICY, listed)
    assert unreachable == []
    assert times.between(PlaceId("10"), PlaceId("Z1")) == 37  # 44 / 1.2 = 36.67
    assert times.between(BASE, LABORATORY) == 300
    assert times.between(PlaceId("Z1"), LABORATORY) == 300 + 44  # 52 / 1.2 = 43.33


def test_a_stated_position_along_the_corridor_wins_over_the_name() -> None:
    listed = places(place("1", position=2), place("2", position=1))
    assert corridor_positions(listed.values(), POLICY) == {"2": 4, "1": 8}


def test_way_out_of_a_ward_lies_on_that_ward() -> None:
    # Two wards of two beds and no metres: A at 4 m and 8 m, B at 8 + 40 + 4 and 56 m. B's station stands behind the
    # first bed in the order, its shelf, without a place in the order, at the door of the ward. A base stays the begin.
    listed = places(
        *(place(name, ward=name[0], position=n) for n, name in enumerate(("A1", "A2", "B1", "B2"), start=1)),
        place("station [lobby]", PlaceKind.TUBE_STATION, ward="B", position=3),
        place("shelf (left)", PlaceKind.PICKUP, ward="B"),
        place("lobby", PlaceKind.PICKUP, ward=""),
        place("store", PlaceKind.BASE, ward="A", position=2),
    )
    expected = {"A1": 4, "A2": 8, "B1": 52, "B2": 56}
    expected |= {"station [lobby]": 52, "shelf (left)": 48, "lobby": 0, "store": 0}
    assert corridor_positions(listed.values(), POLICY) == expected


def test_places_named_base_or_laboratory_among_the_beds_are_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="Base"):
        assumed_places({"A": [PlaceId("Base")]})


def test_natural_order() -> None:
    names = ["10", "H1", "2", "1", "A10", "a2", "H10", "H2", "B-3-12", "B-3-2", ""]
    assert sorted(names, key=natural_key) == [
        "", "1", "2", "10", "a2", "A10", "B-3-2", "B-3-12", "H1", "H2", "H10",
    ]  # fmt: skip
