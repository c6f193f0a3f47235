"""Maps of small and large houses: no word covers another, every stop is there, and how large they are drawn."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import combinations, pairwise

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from planner.domain.places import Place, PlaceId, PlaceKind
from planner.domain.problem import Problem
from planner.exporters.pictures.draw import WIDTH_IN, picture_of, pictures_wanted, route_maps
from planner.exporters.pictures.map import MapLayout, draw_map, laid_out
from planner.exporters.pictures.strips import StripPage, draw_strips
from planner.exporters.pictures.words import Word, overlap
from planner.exporters.view.build import build_view
from planner.exporters.view.drawn.pictures import Point
from planner.exporters.view.round_view import RoundView
from planner.units import hours_to_s
from tests.benchmark.rounds import generated_problem
from tests.unit.exporters.rounds import make_round, walked

pytestmark = pytest.mark.slow

PAGE_IN = 7.8
"""A map that is higher would be made smaller on the printed page: 200 mm, see round-sheet.css."""
DOTS = 200
"""Dots an inch of the workbook's pictures: letters are rounded to whole dots."""
TOUCH_PT = 0.3
"""Edges of boxes may touch: half a line, and what rounding to dots makes of it."""


def house_problem() -> Problem:
    """Return 120 patients in eleven wards, with couriers all day: these tests do not plan."""
    problem = generated_problem(1, 120, 6, extras=False)
    hours = tuple(hours_to_s(hour) for hour in range(6, 24))
    return replace(problem, pickups=tuple(replace(p, departures_s=p.departures_s and hours) for p in problem.pickups))


def dealt_out(problem: Problem) -> RoundView:
    """Return a round in which the patients were dealt out to six people without regard to wards."""
    patients = list(problem.patients.values())
    random.Random(1).shuffle(patients)
    problem, plan, windows = walked(problem, [patients[n::6] for n in range(6)])
    return build_view(problem, plan, windows, revision=1)


def measured(problem: Problem) -> Problem:
    """Return the house with coordinates: wards 40 m apart, every other one upright, the base and laboratory before."""
    places: dict[PlaceId, Place] = {}
    count: dict[str, int] = {}
    for place in problem.places.values():
        n = count[place.ward] = count.get(place.ward, 0) + 1
        ward = int(place.ward[1:] or 0) if place.ward else -1
        along, across = 3.0 * (n // 2), 4.0 * (n % 2)
        x, y = (along, across) if ward % 2 else (across, -along)
        places[place.id] = replace(place, x_m=x + 40.0 * (ward % 4), y_m=y - 40.0 * (ward // 4))
    return replace(problem, places=places)


def crowded(problem: Problem) -> Problem:
    """Return the measured house with all beds of a ward at one point, as a site may write them down, and long names."""
    problem = measured(problem)
    places = {
        p.id: replace(p, x_m=0.0, y_m=0.0, label=f"{p.id} Wing of the Old Infirmary" if p.id.endswith("7") else "")
        for p in problem.places.values()
    }
    return replace(problem, places=places)


def ward_by_ward(problem: Problem) -> Problem:
    """Return the house measured in each ward from its own door, beds called 01, 02, ... in each of them."""
    problem = measured(problem)
    places = dict(problem.places)
    for ward in {place.ward for place in places.values()}:
        own = [place for place in places.values() if place.ward == ward]
        left, top = min(p.x_m or 0.0 for p in own), max(p.y_m or 0.0 for p in own)
        for p in own:
            label = p.id.split("-")[-1] if p.kind is PlaceKind.BED else p.label
            places[p.id] = replace(p, x_m=(p.x_m or 0.0) - left, y_m=(p.y_m or 0.0) - top, label=label)
    return replace(problem, places=places)


def one_ward(problem: Problem) -> Problem:
    """Return the house as a list without wards."""
    return replace(problem, places={p.id: replace(p, ward="") for p in problem.places.values()})


@lru_cache(maxsize=8)
def view_of(name: str) -> RoundView:
    if name.startswith("round"):
        problem, plan, windows = make_round(*map(int, name.split()[1:]))
        return build_view(problem, plan, windows, revision=1)
    changes: dict[str, Callable[[Problem], Problem]] = {
        "measured": measured,
        "crowded": crowded,
        "ward by ward": ward_by_ward,
        "one ward": one_ward,
    }
    problem = house_problem()
    return dealt_out(changes[name](problem) if name in changes else problem)


VIEWS = ("round 4 1", "round 16 2", "round 60 3", "house", "measured", "crowded", "ward by ward", "one ward")


def height_in(one: MapLayout | StripPage) -> float:
    return one.height_in(WIDTH_IN) if isinstance(one, MapLayout) else one.height_pt / 72


def drawn(one: MapLayout | StripPage) -> list[tuple[str, tuple[float, float, float, float]]]:
    """Return the words of a drawn map with the rooms that the drawing library says they take, boxes included, in pt."""
    figure = Figure(figsize=(WIDTH_IN, height_in(one)), dpi=DOTS)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    if isinstance(one, MapLayout):
        draw_map(axes, one)
    else:
        draw_strips(axes, one)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    found = []
    for text in (*axes.texts, *figure.texts):
        box = text.get_bbox_patch() or text
        extents = box.get_window_extent(canvas.get_renderer()).extents
        found.append((text.get_text(), tuple(dots * 72 / DOTS for dots in extents)))
    return found


def covering(found: Sequence[tuple[str, tuple[float, float, float, float]]]) -> list[tuple[str, str]]:
    """Return the words that cover one another."""
    return [
        (one, other)
        for (one, (x1, y1, x2, y2)), (other, box) in combinations(found, 2)
        if overlap((x1 + TOUCH_PT, y1 + TOUCH_PT, x2 - TOUCH_PT, y2 - TOUCH_PT), box)
    ]


@pytest.mark.parametrize("name", VIEWS)
def test_no_word_covers_another(name: str) -> None:
    view = view_of(name)
    for index in {0, len(view.routes) - 1} if name.startswith("round") else {0}:
        for one in route_maps(view.map, index):
            unit = one.metres if isinstance(one, MapLayout) else 1.0
            boxes = [(word.text, word.box(unit)) for word in one.words]
            assert not [pair for (*pair,) in combinations(boxes, 2) if overlap(pair[0][1], pair[1][1])]
            found = drawn(one)
            assert covering(found) == []
            for words, (left, bottom, right, top) in found:
                assert left >= 0, words
                assert right <= WIDTH_IN * 72, words
                if isinstance(one, StripPage):
                    assert bottom >= 0, words
                    assert top <= one.height_pt, words


def test_what_is_found_too_dense_is_so_in_print() -> None:
    """The other way round: maps are not given up for words that would print apart."""
    view = view_of("measured")
    layout = laid_out(view.map, view.map.lines[0])
    assert not layout.is_readable
    assert covering(drawn(layout))


@pytest.mark.parametrize("name", VIEWS)
def test_every_stop_stands_on_the_map(name: str) -> None:
    view = view_of(name)
    for index, route in enumerate(view.routes):
        words = [word.text for one in route_maps(view.map, index) for word in one.words]
        said = [text for text in words if re.fullmatch(r"stops? [\d,]+", text)]
        numbers = sorted(int(n) for text in said for n in re.findall(r"\d+", text))
        assert numbers == [stop.number for stop in route.stops]
        heads = [text.split(":")[0] for text in words]
        for visit in route.visits:  # by its whole name, or in a strip that has the ward above it
            assert visit.bed in words or (visit.label in words and visit.ward in heads)


def test_a_route_in_two_wards_of_a_house_has_a_map_of_these() -> None:
    problem = house_problem()
    beds = {place.id: place.ward for place in problem.places.values() if place.kind is PlaceKind.BED}
    own = [p for p in problem.patients.values() if beds[p.bed] in ("W4", "W5")]
    rest = [p for p in problem.patients.values() if p not in own]
    view = build_view(*walked(problem, [own, rest]), revision=1)
    near = view.map.nearer[0]
    assert {place.ward for place in near.places if place.is_bed} == {"W4", "W5"}
    assert sum(place.is_bed for place in near.places) == sum(ward in ("W4", "W5") for ward in beds.values())
    assert len(view.only_for("Collector 1").map.lines) == len(view.only_for("Collector 1").map.nearer) == 1


def test_strips_come_in_the_order_of_the_route_and_say_the_way() -> None:
    view = view_of("house")
    wards = [stop_ward(view, 0, n) for n in range(1, len(view.routes[0].stops) + 1)]
    words = [word.text for one in route_maps(view.map, 0) for word in one.words]
    titles = [text.split(":")[0] for text in words if re.match(r"W\d+: stop", text)]
    assert titles == list(dict.fromkeys(wards))
    way = " ".join(text for text in words if text.startswith(("Start:", ">")))
    hops = [ward for ward, before in zip(wards, ["", *wards], strict=False) if ward != before]
    assert re.findall(r"> (W\d+):", way) == hops


def stop_ward(view: RoundView, index: int, number: int) -> str:
    stop = next(stop for stop in view.map.lines[index].stops if number in stop.numbers)
    return next(place.ward for place in view.map.places if place.key == stop.key)


def test_beds_of_a_measured_ward_keep_order_and_side() -> None:
    """Odd wards lie flat: place n (the pickup is 1, bed 1A is 2) is 3 m * (n // 2) along, even n below: beds 1A, 1C.

    Every ward has the same bed numbers; the wards of a page stand side by side and one below the other.
    """
    view = view_of("measured")
    seen = 0
    for page in {one for index in range(len(view.routes)) for one in route_maps(view.map, index)}:
        beds: dict[Word, dict[str, Point]] = {}
        titles = [word for word in page.words if re.match(r"W\d+:", word.text)]
        for word in page.words:
            above = [title for title in titles if title.at[1] > word.at[1] and title.at[0] <= word.at[0]]
            if re.fullmatch(r"\d[ABC]", word.text):
                beds.setdefault(min(above, key=lambda t: (t.at[1], -t.at[0])), {})[word.text] = word.at
        for title, at in beds.items():
            if int(title.text.split(":")[0][1:]) % 2 == 0 or set(at) != set(ALL_BEDS):
                continue
            for side in (ALL_BEDS[::2], ALL_BEDS[1::2]):
                xs = [at[bed][0] for bed in side]
                assert xs == sorted(xs)
                assert len({at[bed][1] for bed in side}) == 1
            assert at["1A"][1] < at["1B"][1]
            seen += 1
    assert seen >= 3


ALL_BEDS = tuple(f"{n // 3 + 1}{'ABC'[n % 3]}" for n in range(15))


@pytest.mark.parametrize("name", VIEWS)
def test_no_line_of_a_strip_lies_on_another(name: str) -> None:
    """Lines may cross; of two that share more than a point neither could be followed."""
    view = view_of(name)
    for one in {one for index in range(len(view.routes)) for one in route_maps(view.map, index)}:
        if isinstance(one, StripPage):
            legs = [tuple(sorted(leg)) for walk in one.walks for leg in pairwise(walk) if leg[0] != leg[1]]
            for axis in (0, 1):
                along = [((a[1 - axis]), a[axis], b[axis]) for a, b in legs if a[1 - axis] == b[1 - axis]]
                for (line, begin, end), (other, from_, to) in combinations(along, 2):
                    assert not (abs(line - other) < 1.5 and begin < to and from_ < end), name


def test_maps_fit_their_page_and_small_rounds_keep_one_map() -> None:
    for name in VIEWS:
        view = view_of(name)
        for index in range(len(view.routes)):
            maps = route_maps(view.map, index)
            assert all(height_in(one) <= PAGE_IN for one in maps)
            assert all(isinstance(one, MapLayout) for one in maps) == (
                name == "round 4 1"
            )  # of 16 stops the walks would be too near


def test_parts_of_a_map_say_so() -> None:
    problem = house_problem()
    view = build_view(*walked(problem, [list(problem.patients.values())]), revision=1)  # 120 stops of one person
    parts = [which for which in pictures_wanted(view) if which[:2] == (0, "map")]
    words = [picture_of(view, *which).words for which in parts]
    assert len(parts) > 1
    for n, said in enumerate(words, start=1):
        assert f"part {n} of {len(parts)}" in said
