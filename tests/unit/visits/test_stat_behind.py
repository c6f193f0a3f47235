"""A stat that comes late after another bed of the same route is a decision; it never is where the order can be turned.

Beds of five wards with equal numbers, one phlebotomist.
"""

from __future__ import annotations

from planner.domain.catalogue import DoseKind, DoseRule
from planner.domain.orders import Order, OrderId, Priority
from planner.domain.places import PlaceKind
from planner.domain.problem import Problem
from planner.exporters.view.build import build_view
from planner.findings import to_decide
from planner.pipeline import PlannedRound, plan_round
from planner.solving.params import SolveParams
from planner.visits.windows import order_windows
from tests.builders import (
    clock,
    make_catalogue,
    make_order,
    make_patient,
    make_phlebotomist,
    make_place,
    make_problem,
    make_test,
)

WARDS = ("Heron", "Juniper (East)", "Larch, 2", "St. Anne", "Tern")


def planned(level: Order, stat: Order) -> tuple[Problem, PlannedRound]:
    """Plan a level on the nearest ward and a stat on the farthest, both in bed 1A, for one person."""
    places = [make_place("BASE", PlaceKind.BASE, position=0), make_place("SHELF", PlaceKind.PICKUP, position=99)]
    places += [make_place(f"{ward}/1A", ward=ward, label="1A", position=1 + 4 * n) for n, ward in enumerate(WARDS)]
    patients = [make_patient(f"P{n}", f"{ward}/1A", ward=ward) for n, ward in enumerate(WARDS, start=1)]
    catalogue = make_catalogue(
        extra_tests=[make_test("TROUGH", dose_rule=DoseRule(kind=DoseKind.TROUGH, to_s=30 * 60))]
    )
    problem = make_problem(
        [level, stat], patients, places=places, catalogue=catalogue, staff=(make_phlebotomist("AB"),)
    )
    return problem, plan_round(problem, SolveParams(effort="quick"))


def drawn_s(done: PlannedRound) -> dict[str, int]:
    return {o: v.draw_s for r in done.plan.routes for v in r.visits for o in v.order_ids}


STAT = make_order("S", "P5", "CBC", priority=Priority.STAT, ordered_s=clock("04:40"))  # wanted by 05:15 at the latest


def test_stat_goes_first_where_the_level_can_wait() -> None:
    """The level may be drawn until 05:40: the stat is not made late for it, though its bed is on the way."""
    _, done = planned(make_order("L", "P1", "TROUGH", next_dose_s=clock("05:40")), STAT)
    drawn = drawn_s(done)
    assert drawn.keys() == {"L", "S"}
    assert drawn["S"] <= clock("05:15")
    assert not [f for f in done.findings if f.code == "stat-behind"]


def test_level_that_would_not_be_drawn_goes_first_and_a_person_decides() -> None:
    """The level ends at 05:08, the stat's target is the start of the round: whoever goes to the stat first loses it."""
    stat = make_order("S", "P5", "CBC", priority=Priority.STAT, ordered_s=clock("04:40"), collect_to_s=clock("05:03"))
    problem, done = planned(make_order("L", "P1", "TROUGH", next_dose_s=clock("05:04")), stat)
    drawn = drawn_s(done)
    assert drawn["L"] < drawn["S"]
    (finding,) = to_decide(done.findings)
    assert (finding.code, finding.order_ids) == ("stat-behind", ("S",))
    assert "bed Tern 1A: stat CBC" in finding.message and "after bed Heron 1A" in finding.message
    view = build_view(problem, done.plan, order_windows(problem)[0], revision=1, findings=done.findings)
    assert [line.where for line in view.late] == ["STAT Tern 1A"]
    assert [(line.urgency, line.bed) for line in view.decisions] == [("STAT", "Tern 1A")]


def test_stat_that_is_late_behind_no_other_bed_is_no_such_decision() -> None:
    stat = make_order("S", "P5", "CBC", priority=Priority.STAT, collect_to_s=clock("05:01"))
    _, done = planned(make_order("L", "P1", "CBC"), stat)
    assert drawn_s(done)["S"] > clock("05:01")
    assert done.plan.routes[0].visits[0].order_ids == (OrderId("S"),)
    assert not [f for f in done.findings if f.code == "stat-behind"]


def test_late_stat_is_named_and_comes_first_in_the_list_of_late_draws() -> None:
    """Both are due before anybody can be there; the routine one lies on the nearer ward."""
    stat = make_order("S", "P5", "CBC", priority=Priority.STAT, ordered_s=clock("04:40"), collect_to_s=clock("05:01"))
    problem, done = planned(make_order("L", "P1", "CBC", collect_at_s=clock("04:25")), stat)
    late = build_view(problem, done.plan, order_windows(problem)[0], revision=1).late
    assert [line.where for line in late] == ["STAT Tern 1A", "Heron 1A"]
