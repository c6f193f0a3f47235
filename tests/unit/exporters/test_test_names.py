"""A card names tests as the order list does, and the legend of that packet says what the catalogue calls them."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from openpyxl import load_workbook

from planner.domain.draws import OrderWindow
from planner.domain.orders import OrderId
from planner.domain.problem import Problem
from planner.exporters.view.build import build_view
from planner.exporters.view.round_view import RoundView
from planner.exporters.workbook.book import round_sheet_workbook
from planner.visits import order_windows
from tests.three_wards import HERON, KITE, RAIL, five_ward_tables, load_tables, plan_quickly

pytestmark = pytest.mark.slow

NAMES = {"BMP": "Chem 8", "CBC": "FBC", "LIPID": "57698-3", "VANCT": "VANCT"}
"""What the list has in place of a code: other names, and a LOINC code with a name beside it."""


@pytest.fixture(scope="module")
def problem(tmp_path_factory: pytest.TempPathFactory) -> Problem:
    tables = five_ward_tables()
    for order in tables["orders"]:
        order["test"] = NAMES.get(order["test"], order["test"])
        order["test_name"] = "Lipids, fasting" if order["test"] == NAMES["LIPID"] else ""
    return load_tables(tables, tmp_path_factory.mktemp("names") / "round")


@pytest.fixture(scope="module")
def view(problem: Problem) -> RoundView:
    windows: dict[OrderId, OrderWindow] = order_windows(problem)[0]
    return build_view(problem, plan_quickly(problem).plan, windows, revision=1)


def names_at(view: RoundView, bed: str) -> set[str]:
    [card] = [visit for route in view.routes for visit in route.visits if visit.bed == bed]
    return {name for tube in card.tubes for name in tube.test_names}


def test_tubes_and_questions_name_the_test_as_the_list_does(view: RoundView) -> None:
    assert names_at(view, f"{HERON} 1A") == {"FBC", "Chem 8"}
    assert names_at(view, f"{KITE} 1A") == {"FBC", "Chem 8"}
    assert names_at(view, f"{RAIL} 2A") == {"Lipids, fasting"}
    assert names_at(view, f"{RAIL} 1A") == {"VANCT"}
    said = [q for route in view.routes for visit in route.visits for q in (*visit.ask, *visit.bedside)]
    assert any("Lipids, fasting" in question for question in said)
    assert not any("LIPID" in question for question in said)


def test_the_legend_of_each_packet_has_its_own_names_with_those_of_the_catalogue(
    problem: Problem, view: RoundView
) -> None:
    catalogue = problem.catalogue.tests
    codes = {"Chem 8": "BMP", "FBC": "CBC", "Lipids, fasting": "LIPID"}
    seen = set()
    for packet in view.packets:
        [route] = packet.routes
        own = {name for visit in route.visits for tube in visit.tubes for name in tube.test_names}
        key = {entry.called: entry.name for entry in packet.test_key}
        assert set(key) <= own
        for called, code in codes.items():
            assert (called in key) == (called in own)
            if called in key:
                assert key[called] == {t.code: t.name for t in catalogue.values()}[code]
                seen.add(called)
        book = load_workbook(io.BytesIO(round_sheet_workbook(packet)))
        legend = next(sheet for sheet in book.worksheets if sheet.title.startswith(("Map ", "Legend")))
        text = " ".join(str(cell.value) for row in legend.iter_rows() for cell in row)
        assert all(f"{called}: " in text for called in key)
    assert seen == set(codes)


def test_equal_orders_of_two_names_are_one_draw_that_says_both(tmp_path: Path) -> None:
    tables = five_ward_tables()
    first = next(order for order in tables["orders"] if order["order_number"] == "H0101-1")
    tables["orders"].append(first | {"order_number": "H0101-9", "test": "FBC"})
    problem = load_tables(tables, tmp_path / "round")
    plan = plan_quickly(problem).plan
    view = build_view(problem, plan, order_windows(problem)[0], revision=1)
    [tube] = [
        t for r in view.routes for v in r.visits if v.bed == f"{HERON} 1A" for t in v.tubes if "CBC" in t.test_names
    ]
    assert tube.test_names == ("CBC", "FBC")
    assert any("one draw of CBC, FBC serves" in line.text for line in view.checks)
