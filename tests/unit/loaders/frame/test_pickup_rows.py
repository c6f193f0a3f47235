"""Several rows of one pickup are one pickup: the checker knows only its place and kind."""

from __future__ import annotations

from pathlib import Path

from planner.loaders import load
from planner.pipeline import plan_round
from planner.solving.params import SolveParams


def test_two_rows_of_one_courier_are_one_pickup(tmp_path: Path) -> None:
    (tmp_path / "orders.csv").write_text(
        "order_number,patient_number,test,ward,bed,collect_at\n1,P1,CBC,Elm,1,2026-03-10 05:30\n", encoding="utf-8"
    )
    (tmp_path / "pickups.csv").write_text(
        "place,kind,departs,transit_minutes\nDesk,courier,06:30,5\nDesk,courier,06:00,50\n", encoding="utf-8"
    )
    problem = load(tmp_path).problem
    assert problem is not None
    (pickup,) = problem.pickups
    # 06:00 and 06:30; the longer transit, 50 min, holds for both.
    assert (pickup.departures_s, pickup.transit_s) == ((21_600, 23_400), 3000)
    plan_round(problem, SolveParams(effort="quick"))
