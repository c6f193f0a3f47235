"""Rule ``stated-spacing``: two timed draws of one test do not shrink together. Five wards with equal bed numbers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.checker import check_plan
from planner.domain.orders import Order, OrderId
from planner.domain.plan import Outcome, Plan
from planner.domain.policy import Policy, WindowPolicy
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past, Replan
from planner.exporters.view.build import build_view
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from planner.units import minutes_to_s
from planner.visits.series import least_spacing_s
from planner.visits.windows import order_windows
from tests.builders import clock, make_order, make_patient, make_phlebotomist, make_problem
from tests.replan_builders import make_visit
from tests.three_wards import five_ward_tables, load_tables, plan_quickly

pytestmark = pytest.mark.slow


def drawn_s(plan: Plan) -> dict[str, int]:
    return {o: visit.draw_s for route in plan.routes for visit in route.visits for o in visit.order_ids}


def planned(*orders: Order, percent: int = 80, **changes: object) -> tuple[Problem, dict[str, int]]:
    policy = Policy(windows=WindowPolicy(stated_spacing_pct=percent))
    problem = make_problem(list(orders), [make_patient()], policy=policy, **changes)
    return problem, drawn_s(plan_round(problem, SolveParams(effort="quick")).plan)


def test_two_stated_times_keep_four_fifths_of_their_gap(tmp_path: Path) -> None:
    """06:00 and 06:40 with half an hour of tolerance each may come minutes apart: 32 of the 40 are kept.

    The patient is away until 06:28; without the rule both may be drawn about 06:30.
    """
    tables = five_ward_tables()
    for number, at in (("A", "06:00"), ("B", "06:40")):
        tables["orders"].append(
            {"order_number": f"K{number}", "patient_number": "T0502", "test": "POT", "priority": "routine",
             "collect_at": f"2026-03-10 {at}"}
        )  # fmt: skip
    tables["patients"][-1]["away"] = "05:00-06:28"
    problem = load_tables(tables, tmp_path / "five")
    done = plan_quickly(problem)
    drawn = drawn_s(done.plan)
    assert drawn["KB"] - drawn["KA"] >= minutes_to_s(32)
    view = build_view(problem, done.plan, order_windows(problem)[0], revision=1)
    texts = [visit.window for route in view.routes for visit in route.visits if visit.patient_number == "T0502"]
    assert any("ordered 06:00" in text for text in texts), texts
    assert any("ordered 06:40" in text for text in texts), texts


def test_what_has_no_room_at_its_distance_is_left_out_not_squeezed() -> None:
    orders = make_order("A", collect_at_s=clock("06:00")), make_order("B", collect_at_s=clock("06:40"))
    patient = make_patient(away=())
    policy = Policy(windows=WindowPolicy(timed_give_up_s=0))
    staff = (make_phlebotomist("AB", from_s=clock("06:20"), until_s=clock("06:50")),)
    problem = make_problem(orders, [patient], policy=policy, staff=staff)
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    assert len(drawn_s(plan)) == 1
    assert len(plan.unplanned) == 1


@pytest.mark.parametrize(("percent", "least"), [(80, 32), (100, 40), (0, 0), (33, 13)])
def test_policy_says_how_much_of_the_gap_is_kept(percent: int, least: int) -> None:
    one, other = make_order("A", collect_at_s=clock("06:00")), make_order("B", collect_at_s=clock("06:40"))
    problem, _ = planned(one, other, percent=percent)
    assert least_spacing_s(problem, one, other) == 40 * 60 * percent // 100 >= least * 60
    assert least_spacing_s(problem, other, one) == 0


def test_begins_of_spans_are_a_stated_gap_and_an_end_alone_is_none() -> None:
    spans = make_order("A", collect_from_s=clock("05:00")), make_order("B", collect_from_s=clock("07:00"))
    problem, _ = planned(*spans)
    assert least_spacing_s(problem, *spans) == minutes_to_s(96)
    ends = make_order("A", collect_from_s=clock("05:00")), make_order("B", collect_to_s=clock("07:00"))
    assert least_spacing_s(problem, *ends) == 0


def test_other_tests_and_other_patients_are_not_held_apart() -> None:
    orders = make_order("A", collect_at_s=clock("06:00")), make_order("B", test="BMP", collect_at_s=clock("06:40"))
    _, drawn = planned(*orders)
    assert drawn["A"] == drawn["B"]


def test_a_series_keeps_the_gap_of_its_own_rule() -> None:
    """Troponin 06:00 and 07:00 with 15 minutes of tolerance for a series: 45 minutes, not four fifths (48)."""
    orders = (
        make_order("A", test="TNT", series="S", collect_at_s=clock("06:00")),
        make_order("B", test="TNT", series="S", collect_at_s=clock("07:00")),
    )
    problem, _ = planned(*orders)
    (gap,) = gaps_of(problem)
    tolerance_s = problem.test_of(orders[0]).serial_tolerance_s
    assert tolerance_s is not None
    assert gap == 60 * 60 - tolerance_s


def gaps_of(problem: Problem) -> list[int]:
    from planner.prepared import prepare_round
    from planner.visits.series import draw_gaps

    return [gap.least_s for gap in draw_gaps(problem, prepare_round(problem, SolveParams(effort="quick")).draws)]


def test_checker_finds_two_draws_moved_together() -> None:
    """Planned 40 minutes apart; then the orders ask for 51 and for 50: four fifths are 40.8 and 40 minutes."""
    orders = make_order("A", collect_at_s=clock("06:00")), make_order("B", collect_at_s=clock("06:40"))
    problem = make_problem(list(orders), [make_patient()])
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    drawn = drawn_s(plan)
    apart_s = drawn["B"] - drawn["A"]
    asked_s = -(-100 * (apart_s + 1) // 80)  # the least gap of which 80 % are more than the draws are apart

    def codes(gap_s: int) -> list[str]:
        moved = replace(orders[0], collect_at_s=clock("06:40") - gap_s)
        return check_plan(replace(problem, orders=(moved, orders[1])), plan).codes()

    assert "stated-spacing" in codes(asked_s)
    assert "stated-spacing" not in codes(asked_s - 2)


def test_second_draw_keeps_its_distance_from_one_that_was_made() -> None:
    """A, asked for at 06:00, was drawn at 06:25; B, asked for at 06:40, comes 32 minutes after it."""
    orders = make_order("A", collect_at_s=clock("06:00")), make_order("B", collect_at_s=clock("06:40"))
    problem = make_problem(list(orders), [make_patient()])
    made = make_visit(problem, ["A"], "06:25", outcome=Outcome.COLLECTED)
    past = Past(phlebotomist=0, stops=(made,), place=made.place, free_s=made.depart_s)
    problem = replace(problem, replan=Replan(parent=1, now_s=made.depart_s, past=(past,)))
    window = order_windows(problem)[0][OrderId("B")]
    assert window.earliest.rule == "stated-spacing"
    assert window.earliest.at_s == clock("06:25") + minutes_to_s(32)
