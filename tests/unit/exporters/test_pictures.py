"""Map and timeline: what they show, where things lie, and the same bytes each time."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from PIL import Image

from planner.domain.places import Corridor, PlaceKind
from planner.domain.policy import WalkingPolicy
from planner.exporters.pictures import map as pictures_map
from planner.exporters.pictures.draw import picture_of, route_maps, route_pictures
from planner.exporters.pictures.map import in_lane
from planner.exporters.pictures.timeline import _shown, _width_pt
from planner.exporters.view.build import build_view
from planner.exporters.view.drawn.assumed_map import AssumedCorridor
from planner.exporters.view.drawn.pictures import MapView
from planner.exporters.view.drawn.ways import shortest_way
from planner.exporters.view.round_view import RoundView
from planner.visits.windows import order_windows
from tests.builders import make_place
from tests.three_wards import five_ward_tables, load_tables, plan_quickly
from tests.unit.exporters.rounds import make_round

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def view() -> RoundView:
    problem, plan, windows = make_round()
    return build_view(problem, plan, windows, revision=1)


def texts_of(svg: bytes) -> list[str]:
    return [text for node in ET.fromstring(svg).iter() if (text := (node.text or "").strip())]


def test_map_shows_every_stop_with_its_number_and_place(view: RoundView) -> None:
    for index, route in enumerate(view.routes):
        words = texts_of(route_pictures(view, index)[0].svg)
        said = [word.split(" ", 1)[1] for word in words if word.startswith(("stop ", "stops "))]
        numbers = {n for numbers in said for n in numbers.split(",")}
        assert {str(stop.number) for stop in route.stops} <= numbers
        assert {visit.bed for visit in route.visits} <= set(words)


def test_map_without_coordinates_says_which_part_of_the_map_is_missing() -> None:
    """Corridors in seconds or metres say how long the ways are, and not where anything is."""
    problem, plan, windows = make_round()
    bed = next(place for place in problem.places.values() if place.kind is PlaceKind.BED)
    problem = replace(problem, places=dict(problem.places) | {bed.id: replace(bed, x_m=None, y_m=None)})
    corridor = Corridor(from_place=problem.staff[0].starts_at, to_place=bed.id, metres=4.0)
    notes = [
        build_view(replace(problem, corridors=corridors), plan, windows, revision=1).map.note
        for corridors in ((), (corridor,))
    ]
    assert notes[0].startswith("No map is given: ")
    assert notes[1].startswith("The map has no coordinates: ")


def test_view_does_not_depend_on_the_order_of_the_places(view: RoundView) -> None:
    problem, plan, windows = make_round()
    turned = replace(problem, places=dict(reversed(problem.places.items())))
    assert build_view(turned, plan, windows, revision=1) == view


def test_edges_of_a_map_are_worked_out_once_for_all_its_words(view: RoundView, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a map of 165 beds, once a word was half the time of printing."""
    found: list[MapView] = []

    def counted(ward: MapView) -> tuple[float, float, float, float]:
        found.append(ward)
        return frame(ward)

    frame = pictures_map._frame
    monkeypatch.setattr(pictures_map, "_frame", counted)
    picture_of.cache_clear()
    route_maps.cache_clear()
    picture_of(view, 0, "map")
    assert len(found) == 1


def test_timeline_shows_every_stop_and_the_couriers(view: RoundView) -> None:
    words = texts_of(route_pictures(view, 0)[1].svg)
    for bar in view.timeline.rows[0].bars:
        assert " ".join(bar.label.split()) in [" ".join(word.split()) for word in words]
    assert "courier 06:15" in words


def test_beds_of_five_wards_stand_whole_on_the_timeline(tmp_path: Path) -> None:
    problem = load_tables(five_ward_tables(), tmp_path / "round")
    view = build_view(problem, plan_quickly(problem).plan, order_windows(problem)[0], revision=1)
    labels = [bar.label for row in view.timeline.rows for bar in row.bars if bar.kind == "visit"]
    assert any(label.endswith("bed Kite (South) 2B") for label in labels)
    for index, row in enumerate(view.timeline.rows):
        words = [" ".join(word.split()) for word in texts_of(route_pictures(view, index)[1].svg)]
        assert {" ".join(bar.label.split()) for bar in row.bars if bar.kind == "visit"} <= set(words)


def test_label_without_room_keeps_its_number_and_its_bed() -> None:
    label = f"12  bed {'Long ward ' * 9}3B"
    shown = _shown(label, 7.5, 120.0)
    assert shown.startswith("12  bed Long") and shown.endswith(" 3B") and "..." in shown
    assert _width_pt(shown, 7.5) <= 120.0


def test_pictures_are_the_same_bytes_and_grey(view: RoundView) -> None:
    once = route_pictures(view, 0)
    picture_of.cache_clear()
    again = route_pictures(view, 0)
    assert [(p.svg, p.png) for p in once] == [(p.svg, p.png) for p in again]
    for picture in once:
        with Image.open(io.BytesIO(picture.png)) as image:
            pixels = image.convert("RGB").getcolors(maxcolors=1000)
            assert pixels is not None
            assert all(red == green == blue for _, (red, green, blue) in pixels)


def test_empty_route_has_no_pictures() -> None:
    problem, plan, windows = make_round(1, 2)
    view = build_view(problem, plan, windows, revision=1)
    assert route_pictures(view, 1) == ()


def test_data_are_never_read_as_formulas(view: RoundView) -> None:
    row = view.timeline.rows[0]
    odd = replace(row, bars=(replace(row.bars[0], label="$x_1$ <b>&"), *row.bars[1:]))
    changed = replace(view, timeline=replace(view.timeline, rows=(odd, *view.timeline.rows[1:])))
    assert "$x_1$ <b>&" in texts_of(route_pictures(changed, 0)[1].svg)


def test_window_of_a_draw_is_drawn_from_its_rules(view: RoundView) -> None:
    # Bed 104: troponin timed 05:30, tolerance 30 min, given up 60 min later: 05:00 to 06:00, at most 07:00. The test
    # is part of a series, so that the drug tolerance of 15 min holds: 05:15 to 05:45, at most 06:45.
    bar = next(bar for bar in view.timeline.rows[0].bars if bar.label.endswith("bed 104"))
    minutes = [None if s is None else s / 60 for s in (bar.from_s, bar.wished_to_s, bar.to_s)]
    assert minutes == [5 * 60 + 15, 5 * 60 + 45, 6 * 60 + 45]


def test_way_is_the_quickest_over_the_corridors() -> None:
    # Straight on 10 m (8.3 s at 1.2 m/s); round by the door 3 s + 4 s; the door opens one way only.
    a, b, door = (make_place(name).id for name in ("A", "B", "Door"))
    corridors = (
        Corridor(from_place=a, to_place=b, metres=10),
        Corridor(from_place=a, to_place=door, seconds=3, is_one_way=True),
        Corridor(from_place=door, to_place=b, seconds=4),
    )
    assert shortest_way(corridors, WalkingPolicy(), a, b) == (a, door, b)
    assert shortest_way(corridors, WalkingPolicy(), b, a) == (b, a)
    assert shortest_way(corridors[1:], WalkingPolicy(), b, a) == (b, a)  # no way: a straight line


def test_assumed_corridor_has_a_stretch_for_each_ward() -> None:
    beds = [make_place(f"{ward}{n}", ward=ward, position=n) for ward in ("Elm", "Oak") for n in (1, 2, 3)]
    base = make_place("Base", PlaceKind.BASE)
    corridor = AssumedCorridor.of([*beds, base])
    at = corridor.at
    assert len(set(at.values())) == 7
    assert at[beds[0].id][0] == at[beds[1].id][0]  # two sides of the corridor
    assert at[beds[3].id][1] < at[beds[1].id][1]  # the second ward lies below the first
    way = corridor.way(beds[0].id, beds[3].id)
    for (x1, y1), (x2, y2) in pairwise(way):
        assert x1 == x2 or y1 == y2


def test_lanes_are_beside_the_corridor_and_rooms_straight() -> None:
    walk = [(0.0, 4.0), (0.0, 0.0), (10.0, 0.0), (10.0, 4.0)]
    assert in_lane(walk, 0.5) == [(0.0, 4.0), (0.0, 0.5), (10.0, 0.5), (10.0, 4.0)]


def test_names_of_places_stay_inside_the_picture() -> None:
    """At the left edge stand two places with long names; a letter of 7.5 points is about 5 points wide."""
    problem, plan, windows = make_round(60, 3)
    view = build_view(problem, plan, windows, revision=1)
    svg = route_pictures(view, 0)[0].svg.decode("utf-8")
    width = float(re.findall(r'viewBox="0 0 ([\d.]+)', svg)[0])
    for name in ("Nurses' station", "Tube station, clean utility"):
        found = re.search(rf'text-anchor: (\w+)"[^>]*x="([\d.-]+)"[^>]*>{re.escape(name)}<', svg)
        assert found is not None
        begin = {"middle": 0.5, "start": 0.0, "end": 1.0}[found[1]]
        left = float(found[2]) - begin * 5 * len(name)
        assert left >= 0
        assert left + 5 * len(name) <= width
