"""When a stat is drawn and in the laboratory is printed; and, where the way takes long, what it waits for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import pytest

from planner.domain.catalogue import TestCode
from planner.domain.orders import Order, OrderId, Priority
from planner.domain.places import Pickup, PickupKind
from planner.domain.policy import Policy
from planner.domain.price_policy import PricePolicy
from planner.exporters.terminal.summary import summary_lines
from planner.exporters.view.context import ViewContext
from planner.exporters.view.goals import stat_lines
from planner.exporters.view.texts import TextCleaner
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import clock, make_order, make_patient, make_pickup, make_problem
from tests.three_wards import load_tables, plan_quickly, three_ward_tables

STAT = make_order("S", "P4", "CBC", priority=Priority.STAT)
TUBE, COURIER = make_pickup("STATION", PickupKind.TUBE), make_pickup()


def said(
    pickups: Iterable[Pickup], *others: Order, policy: Policy | None = None, stat: Order = STAT
) -> tuple[str, ...]:
    patients = [make_patient(f"P{n}", f"B{n}") for n in range(1, 5)]
    problem = make_problem([stat, *others], patients, pickups=pickups, policy=policy)
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    return stat_lines(ViewContext(problem, plan, {}, TextCleaner()))


def test_stat_that_goes_at_once_says_its_minutes_alone() -> None:
    # Drawn 175 s after 05:00, the bed left at 340 s, 20 s to the station, 60 s there, 180 s in the tube: at 600 s.
    assert said([TUBE]) == ("bed B4 drawn 05:02, in the laboratory 05:10 (8 min)",)


def test_minutes_are_those_between_the_times_beside_them() -> None:
    # In the laboratory 56 s later than above, at 656 s: 05:10 all the same, 8 minutes and 1 second behind the draw.
    assert said([replace(TUBE, transit_s=TUBE.transit_s + 56)]) == (
        "bed B4 drawn 05:02, in the laboratory 05:10 (8 min)",
    )


def test_stat_that_waits_for_a_courier_says_which() -> None:
    (line,) = said([COURIER])
    assert line.endswith("in the laboratory 06:10 (68 min, it waits for the courier of 06:00)")


@pytest.mark.slow
def test_stat_that_nothing_takes_sooner_says_so_whatever_beds_follow() -> None:
    (line,) = said([COURIER], *(make_order(f"O{n}", f"P{n}", "CBC") for n in (1, 2, 3)))
    assert line.endswith("(68 min, it waits for the courier of 06:00)")


def test_stat_that_must_go_by_hand_is_not_told_of_a_tube() -> None:
    # Next to a station, but the only way that takes it is the courier.
    stat = replace(STAT, test=TestCode("PFN"))
    (line,) = said([TUBE, COURIER], stat=stat)
    assert "it waits for the courier of 06:00" in line


def test_stat_behind_which_more_beds_come_says_how_many() -> None:
    # Without its prices nothing is handed over before the last bed.
    policy = Policy(prices=PricePolicy(to_lab=0, stat_wait_pct=0, arrival_pct=0))
    before = make_order("O1", "P1", "CBC", collect_from_s=clock("05:12"))
    (line,) = said([TUBE], before, policy=policy)
    assert "min, 1 more bed before it is handed over)" in line


def test_routine_orders_have_no_line() -> None:
    problem = make_problem([make_order("O1", "P1", "CBC")])
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    assert stat_lines(ViewContext(problem, plan, {}, TextCleaner())) == ()
    assert "Stat" not in summary_lines(problem, plan)


@pytest.mark.slow
def test_bed_is_named_with_its_ward_where_wards_have_beds_of_one_name(tmp_path: Path) -> None:
    tables = three_ward_tables()
    tables["orders"].append({"order_number": "S", "patient_number": "R0301", "test": "POT", "priority": "stat"})
    problem = load_tables(tables, tmp_path)
    plan = plan_quickly(problem).plan
    lines = stat_lines(ViewContext(problem, plan, {}, TextCleaner()))
    text = " ".join(" ".join(summary_lines(problem, plan)).split())
    for order_id in ("S", "K0203-1"):
        name = problem.place_name(problem.patients[problem.order(OrderId(order_id)).patient_id].bed)
        assert sum(line.startswith(f"bed {name} drawn") for line in lines) == 1
        assert f"Bed {name} drawn" in text
