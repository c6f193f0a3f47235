"""The terminal summary fits 80 columns, counts right, and names no patient."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import replace

import pytest

from planner.domain.derived.metrics import BedOrderWalk
from planner.domain.draws import OrderWindow
from planner.domain.goals import Part
from planner.domain.orders import OrderId
from planner.domain.plan import Goal, GoalPart, Reason, Unplanned
from planner.domain.revisions.replan import Past, Replan
from planner.exporters.terminal.summary import (
    WIDTH,
    Comparison,
    figures_of,
    num_late,
    num_too_old,
    summary_data,
    summary_lines,
)
from planner.exporters.view.build import build_view
from tests.builders import clock
from tests.unit.exporters.rounds import make_round

COMPARISON = Comparison(
    num_separate=90,
    separate_ul=400_000,
    walk=BedOrderWalk(orders_off_time=31, tubes_too_old=9, finish_s=clock("06:40")),
)


def test_figures_are_counted_from_the_plan() -> None:
    problem, plan, windows = make_round()
    figures = figures_of(problem, plan, windows)
    tubes = [p.tube for r in plan.routes for v in r.visits for p in v.tubes]
    assert figures.num_visits == 16
    assert figures.num_tubes == sum(bool(t.tests) for t in tubes)
    assert figures.num_decisions == 2  # the two that rounds.py adds to the plan
    assert figures.num_for_information == 1  # the one set aside, already drawn
    assert figures.num_orders == len(problem.orders) + 3
    assert figures.num_late == num_late(plan, windows) > 0


def test_lines_fit_the_terminal_and_hold_the_comparison() -> None:
    problem, plan, windows = make_round()
    lines = summary_lines(problem, plan, COMPARISON, windows)
    assert all(len(line) <= WIDTH for line in lines)
    text = "\n".join(lines)
    for words in ("Visits", "One tube an order 90 with 400 mL", "bed order", "06:40", "Needs a decision", "Assumed"):
        assert words in text
    # 30.5 min, a tenth of 16 times an hour, 120 min; 10.5 min less at best.
    assert "Effort                         246.5 min   not proven: 236 min at best" in text


def test_parts_of_a_tier_are_said_in_their_own_units_and_in_what_they_count() -> None:
    text = "\n".join(summary_lines(*make_round()[:2], COMPARISON, make_round()[2]))
    for line in (
        "  Service                           55 min   proven with these visits",
        "    late draws            2 orders, 33 min   counts 25 min",
        "    second punctures                     2   counts 30 min",
        "    away from beds                30.5 min",
        "    at the laboratory                06:00   counts 96 min",
        "    last person done                 07:00   counts 120 min",
    ):
        assert f"\n{line}\n" in f"{text}\n"


def test_moved_stops_are_said_only_where_there_is_a_last_sheet() -> None:
    problem, plan, windows = make_round()
    moved = GoalPart(name="changes", unit="visits", value=3, price=600)
    goal = Goal(name="service", unit="weighted s", value=1800, bound=0, parts=(moved,))
    assert "moved stops" not in "\n".join(summary_lines(problem, replace(plan, goals=(goal,)), None, windows))
    past = tuple(
        Past(phlebotomist=n, stops=(), place=who.starts_at, free_s=who.from_s) for n, who in enumerate(problem.staff)
    )
    begun = replace(problem, replan=Replan(parent=1, now_s=problem.start_s, past=past))
    text = "\n".join(summary_lines(begun, replace(plan, goals=(goal,)), None, windows))
    assert "    moved stops                          3   counts 30 min" in text


def test_late_orders_are_not_said_to_be_none_when_the_windows_are_not_known() -> None:
    problem, plan, windows = make_round()
    late = plan.part(Part.LATE)
    assert late.value > 0

    def said(late: GoalPart, windows: Mapping[OrderId, OrderWindow] | None) -> str:
        goals = (Goal(name="service", unit="weighted s", value=late.value, bound=0, parts=(late,)),)
        lines = summary_lines(problem, replace(plan, goals=goals), None, windows)
        (line,) = (line for line in lines if line.startswith("    late draws  "))
        return line.split("   counts")[0].removeprefix("    late draws").strip()

    assert said(late, None) == "not counted"
    assert re.fullmatch(r"\d+ orders?, \d+ min", said(late, windows))
    assert said(replace(late, value=0), None) == "none"


def test_what_is_left_out_is_said_in_orders_and_in_weight() -> None:
    # Two of the orders to plan are in no visit; a stat and a routine order weigh 100 and 1.
    problem, plan, windows = make_round()
    served = [o for route in plan.routes for visit in route.visits for o in visit.order_ids]
    left = [order.id for order in problem.orders if order.id not in served]
    goals = (Goal(name="left-out", unit="weight", value=101, bound=60),)
    text = "\n".join(summary_lines(problem, replace(plan, goals=goals), None, windows))
    assert f"{len(left)} orders   weight 101, not proven: 60 at best" in text
    nothing = replace(plan, goals=(Goal(name="left-out", unit="weight", value=0, bound=0),))
    everything = replace(problem, orders=tuple(o for o in problem.orders if o.id in served))
    text = "\n".join(summary_lines(everything, nothing, None, windows))
    assert "0 orders   proven: no plan does better" in text


def test_bound_is_printed_however_far_it_is() -> None:
    problem, plan, windows = make_round()
    goals = (
        Goal(name="service", unit="weighted s", value=60, bound=0),
        Goal(name="effort", unit="s/100", value=183_000, bound=12_000),
    )
    text = "\n".join(summary_lines(problem, replace(plan, goals=goals), COMPARISON, windows))
    proofs = [line[45:] for line in text.splitlines() if "proven" in line]
    assert proofs == ["not proven: 0 min at best", "not proven: 2 min at best"]


def test_orders_set_aside_to_decide_stand_beside_the_tier_that_does_not_count_them() -> None:
    problem, plan, windows = make_round()
    aside = [Unplanned(order_id=OrderId(f"Z{n}"), reason=r, detail="") for n, r in enumerate(Reason)]
    waiting = sum(u.reason.needs_decision for u in aside)
    goals = (Goal(name="left-out", unit="weight", value=0, bound=0),)
    made = replace(problem, set_aside=tuple(aside)), replace(plan, goals=goals)
    assert f"    to decide, not counted{waiting:>9} orders" in summary_lines(*made, None, windows)
    view = build_view(*made, windows, revision=1)
    assert f"proven: no plan does better (to decide, not counted {waiting} orders)" in view.judged


def test_tubes_too_old_are_counted_from_the_plan() -> None:
    problem, plan, windows = make_round()
    visit = plan.routes[0].visits[0]
    arrival_s = plan.routes[0].stops[visit.tubes[0].handover or 0].lab_arrival_s
    before = num_too_old(plan)
    for stability_s, more in ((arrival_s - visit.draw_s, 0), (arrival_s - visit.draw_s - 1, 1)):
        tubes = tuple(
            replace(p, tube=replace(p.tube, stability_s=stability_s if i == 0 else None))
            for i, p in enumerate(visit.tubes)
        )
        route = replace(plan.routes[0], stops=(replace(visit, tubes=tubes), *plan.routes[0].stops[1:]))
        changed = replace(plan, routes=(route, *plan.routes[1:]))
        assert num_too_old(changed) == before + more
        lines = summary_lines(problem, changed, COMPARISON, windows)
        assert next(line for line in lines if "too old" in line).split()[-2:] == [str(before + more), "9"]


def test_no_name_or_birth_date_is_printed() -> None:
    problem, plan, windows = make_round()
    text = "\n".join(summary_lines(problem, plan, COMPARISON, windows)) + json.dumps(summary_data(problem, plan))
    for patient in problem.patients.values():
        for name in (patient.family_name, patient.given_name):
            assert name in ("Null", "None", "Jo", "Wei") or name not in text
        assert str(patient.birth_date) not in text or patient.birth_date is None


def test_without_comparison_and_windows_it_says_less_but_nothing_wrong() -> None:
    problem, plan, _ = make_round()
    text = "\n".join(summary_lines(problem, plan))
    assert "Late  " not in text.partition("Goals")[0]
    assert "bed order" not in text
    assert summary_data(problem, plan)["orders_late"] is None


def test_data_are_plain_json() -> None:
    problem, plan, windows = make_round()
    data = json.loads(json.dumps(summary_data(problem, plan, COMPARISON, windows)))
    assert data["one_tube_per_order"] == {"tubes": 90, "volume_ml": 400.0}
    assert data["bed_order_walk"]["orders_off_time"] == 31
    assert data["volume_ml"] == pytest.approx(
        sum(p.tube.volume_ul for r in plan.routes for v in r.visits for p in v.tubes) / 1000
    )
