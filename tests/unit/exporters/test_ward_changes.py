"""Before each bed of another ward than the one before a row says where to go; on one ward there is none."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.exporters.view.build import build_view
from planner.exporters.view.round_view import RoundView
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
