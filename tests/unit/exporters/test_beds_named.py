"""No bed is named without its ward on a round of several wards: not in any list, note, picture, file or message.

Three wards that all have beds 1A to 3B (design of the project: a bed is ward and bed, everywhere).
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from enum import Enum

import pytest

from planner.domain.problem import Problem
from planner.exporters.page.page import round_sheet_html
from planner.exporters.pictures.strips import strip_pages
from planner.exporters.specimens import specimens_csv
from planner.exporters.terminal.summary import summary_lines
from planner.exporters.view.build import build_view
from planner.exporters.view.drawn.pictures import MapPlace, MapStop
from planner.exporters.view.round_view import RoundView
from planner.exporters.view.stop_view import HandoverView, VisitView
from planner.pipeline import PlannedRound
from planner.visits.windows import order_windows
from tests.three_wards import (
    WARDS,
    load_tables,
    plan_quickly,
    three_ward_tables,
)

pytestmark = pytest.mark.slow

BED = re.compile(r"(?<![\w-])[1-3][AB](?![\w])")

EXEMPT = {VisitView: {"label"}, MapPlace: {"label"}, MapStop: {"label"}}
"""Fields whose ward stands beside or above them: see the tests of the card and of the strips."""


def bare_beds(text: str) -> list[str]:
    """Return what stands around each bed that has no ward before it."""
    return [
        text[max(0, found.start() - 30) : found.end() + 10]
        for found in BED.finditer(text)
        if not text[: found.start()].endswith(tuple(f"{ward} " for ward in WARDS))
    ]


def texts(value: object) -> Iterator[str]:
    """Yield every text in a view, however deep."""
    if isinstance(value, str) and not isinstance(value, Enum):
        yield value
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from texts(key)
            yield from texts(item)
    elif isinstance(value, list | tuple | set | frozenset):
        for item in value:
            yield from texts(item)
    elif is_dataclass(value) and not isinstance(value, type):
        for field in fields(value):
            if field.name not in EXEMPT.get(type(value), set()):
                yield from texts(getattr(value, field.name))


def view_of(problem: Problem, planned: PlannedRound, revision: int = 1) -> RoundView:
    windows, _ = order_windows(problem)
    return build_view(problem, planned.plan, windows, revision=revision, findings=planned.findings)


@pytest.fixture(scope="module")
def problem(tmp_path_factory: pytest.TempPathFactory) -> Problem:
    """The round with what makes each list speak: ice, an order late, one unplanned, a fast, an isolation room."""
    tables = three_ward_tables()
    tables["patients"][2]["precautions"] = "airborne"
    tables["orders"] += [
        {"order_number": "X1", "patient_number": "H0103", "test": "VANCT", "priority": "routine"},
        {"order_number": "X2", "patient_number": "K0204", "test": "NOSUCH", "priority": "routine"},
        {"order_number": "X3", "patient_number": "Z9999", "test": "CBC", "priority": "routine"},
        {
            "order_number": "X4",
            "patient_number": "R0304",
            "test": "CORT",
            "priority": "routine",
            "collect_at": "2026-03-10 04:30",
        },
    ]
    return load_tables(tables, tmp_path_factory.mktemp("wards") / "round")


@pytest.fixture(scope="module")
def planned(problem: Problem) -> PlannedRound:
    return plan_quickly(problem)


@pytest.fixture(scope="module")
def view(problem: Problem, planned: PlannedRound) -> RoundView:
    return view_of(problem, planned)


def test_test_knows_a_bed_without_its_ward() -> None:
    assert bare_beds("After bed 1A go to Kite (South) 1A") == ["After bed 1A go to Kit"]


def test_every_text_of_the_view_names_the_ward(view: RoundView) -> None:
    assert view.decisions, "the round needs a decision on a bed"
    assert [bare for text in texts(view) for bare in bare_beds(text)] == []


def test_no_list_adds_two_beds_of_one_number(view: RoundView) -> None:
    """Every visit with tubes for a hand-over stands in its list with its own bed and count."""
    for route in view.routes:
        named = " ".join(line.beds for line in view.collections if line.staff_index == route.staff_index)
        for visit in route.visits:
            assert f" {visit.bed}: " in named


def test_card_has_the_ward_beside_the_bed(view: RoundView) -> None:
    for route in view.routes:
        for visit in route.visits:
            assert visit.bed == f"{visit.ward} {visit.label}"


def test_findings_summary_and_files_name_the_ward(problem: Problem, planned: PlannedRound) -> None:
    windows, _ = order_windows(problem)
    said = [finding.message for finding in planned.findings]
    said += summary_lines(problem, planned.plan, None, windows, width=4000)
    assert [bare for text in said for bare in bare_beds(text)] == []
    rows = list(csv.DictReader(io.StringIO(specimens_csv(problem, planned.plan).decode("utf-8-sig"))))
    assert rows
    assert [bare for row in rows for name, cell in row.items() for bare in bare_beds(cell)] == []


def test_page_names_the_ward_in_the_file_that_it_saves(view: RoundView) -> None:
    html = round_sheet_html(view, drawn=lambda: [()] * len(view.routes)).decode()
    assert re.findall(r'data-bed="([^"]*)"', html) == [v.bed for route in view.routes for v in route.visits]


def test_strips_have_the_ward_above_their_beds(view: RoundView) -> None:
    """Where a map is too dense, each ward is a strip: its title names it, on every stretch of its corridor."""
    for index, route in enumerate(view.routes):
        for page in strip_pages(view.map, view.map.lines[index]):
            words = [word.text for word in page.words]
            for visit in route.visits:
                if visit.label in words:
                    assert any(text.startswith(visit.ward) for text in words)


def test_sheet_of_one_of_two_with_one_name_has_hers_alone(problem: Problem, view: RoundView) -> None:
    """Lists go by the person, never by the printed name: two are called Ines Silva."""
    own = [view.only_for(initials) for initials in ("IS", "IV", "TO")]
    assert [len(one.routes) for one in own] == [1, 1, 1]
    for one in own:
        handed = sum(isinstance(stop, HandoverView) for stop in one.routes[0].stops)
        assert len(one.collections) == handed
        assert one.routes[0].name not in one.others
    assert sum(len(one.collections) for one in own) == len(view.collections)
    assert sum(len(one.late) for one in own) == len(view.late)
    assert len({route.name for route in view.routes}) == 3
