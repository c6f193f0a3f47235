"""A bed reported without an order number: the earliest visit of its patient that nobody has reported yet."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.orders import PatientId
from planner.domain.places import PlaceId
from planner.domain.plan import Outcome, Plan
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past, Replan
from planner.domain.revisions.reported import Reported
from planner.findings import Finding, Severity
from planner.loaders.during.progress import parse_done, report_visits
from planner.loaders.during.visit_book import VisitBook
from planner.replanning.next_problem import next_problem
from tests.builders import clock, make_order
from tests.replan_builders import WARDS, five_wards, make_plan, make_visit

BEDS = [(n, f"{ward} 1A") for n, ward in enumerate(WARDS, start=1)]
"""Number of the patient and bed as typed; the bed number is the same in all five wards."""


def assumed_round(ward: int, *, told: bool = False) -> tuple[Problem, Plan]:
    """A second visit to bed 1A of one ward at 06:42, order R; the parent, made at 05:55, assumed all first visits."""
    problem, plan = five_wards()
    problem = replace(problem, orders=(*problem.orders, make_order("R", f"P{ward}")))
    made = tuple(replace(v, outcome=Outcome.COLLECTED) for v in plan.routes[0].visits)
    was = Past(
        phlebotomist=0,
        stops=made,
        place=made[-1].place,
        free_s=clock("05:55"),
        assumed=frozenset(range(5)) - ({ward - 1} if told else set()),
    )
    problem = replace(problem, replan=Replan(parent=1, now_s=clock("05:55"), past=(was,)))
    return problem, make_plan([*made, make_visit(problem, ["R"], "06:42")], *[[] for _ in problem.staff[1:]])


Told = tuple[tuple[Reported, ...], tuple[Finding, ...]]


def tell(option: str, bed: str, of: tuple[Problem, Plan], now: str, at: str | None = None) -> Told:
    """Report a bed behind an option."""
    if option == "done":
        return parse_done(bed, *of, clock(now))
    outcomes = {"drawn": Outcome.COLLECTED, "refused": Outcome.REFUSED, "failed": Outcome.UNSUCCESSFUL}
    named = [(bed, None if at is None else clock(at))]
    return report_visits(named, outcomes[option], VisitBook(*of, clock(now)), f"--{option}", is_by_itself=True)


def orders(told: Told) -> list[str]:
    return [order_id for report in told[0] for order_id in report.order_ids]


@pytest.mark.parametrize(("ward", "bed"), BEDS)
@pytest.mark.parametrize(
    ("option", "at"), [("done", None), ("drawn", "05:13"), ("drawn", "06:00"), ("refused", None), ("failed", None)]
)
def test_bed_means_the_visit_that_was_assumed_and_not_the_repeat_to_come(
    ward: int, bed: str, option: str, at: str | None
) -> None:
    problem, plan = assumed_round(ward)
    told = tell(option, bed, (problem, plan), "06:05", at)
    assert (orders(told), [f.code for f in told[1]]) == ([f"O{ward}"], [])
    following = next_problem(problem, plan, parent=2, now_s=clock("06:05"), reports=told[0]).problem
    assert following.replan is not None
    past = following.replan.past[0]
    assert "R" not in [order_id for stop in past.stops for order_id in getattr(stop, "order_ids", ())]
    assert "R" in [order.id for order in following.orders]  # still to be drawn


@pytest.mark.parametrize("ward", range(1, 6))
def test_patient_number_means_the_same_visit(ward: int) -> None:
    assert orders(tell("done", f"P{ward}", assumed_round(ward), "06:05")) == [f"O{ward}"]


@pytest.mark.parametrize(("ward", "bed"), BEDS)
def test_stated_time_tells_the_repeat_also_some_minutes_before_its_time(ward: int, bed: str) -> None:
    of = assumed_round(ward)
    assert orders(tell("drawn", bed, of, "06:36", "06:35")) == ["R"]
    assert orders(tell("drawn", bed, of, "06:50", "06:44")) == ["R"]
    assert orders(tell("drawn", bed, of, "06:50", "05:14")) == [f"O{ward}"]
    assert orders(tell("drawn", bed, of, "06:20", "06:20")) == [f"O{ward}"]  # 22 minutes before the repeat


@pytest.mark.parametrize(("ward", "bed"), BEDS)
@pytest.mark.parametrize("option", ["done", "refused", "failed"])
def test_of_two_visits_that_are_due_the_earlier_is_taken_and_that_is_said(ward: int, bed: str, option: str) -> None:
    told = tell(option, bed, assumed_round(ward), "06:50")
    assert orders(told) == [f"O{ward}"]
    (finding,) = told[1]
    assert (finding.code, finding.severity) == ("report-unclear", Severity.WARNING)
    assert set(finding.order_ids) == {f"O{ward}", "R"}
    assert "06:42" in finding.message


@pytest.mark.parametrize(("ward", "bed"), BEDS)
@pytest.mark.parametrize("option", ["refused", "failed"])
def test_once_the_first_is_reported_the_bed_means_the_repeat(ward: int, bed: str, option: str) -> None:
    assert orders(tell(option, bed, assumed_round(ward, told=True), "06:45")) == ["R"]


def test_visit_assumed_of_who_lay_there_before_gives_way_to_who_lies_there_now() -> None:
    # P2 was taken to be drawn in Juniper 1A and has left it; P3 was moved there from Larch (north), and is to come.
    problem, plan = assumed_round(3)
    empty, bed = PlaceId("Juniper/2A"), problem.patients[PatientId("P2")].bed
    beds = {"P2": empty, "P3": bed}
    patients = {n: replace(p, bed=beds.get(n, p.bed)) for n, p in problem.patients.items()}
    problem = replace(problem, patients=patients)
    made = plan.routes[0].visits[:5]
    first = replace(made[2], outcome=None, place=bed, start_s=clock("06:01"), draw_s=clock("06:03"))
    plan = make_plan([*made[:2], *made[3:], first], *[[] for _ in problem.staff[1:]])
    assert orders(tell("done", "Juniper 1A", (problem, plan), "06:05")) == ["O3"]
    assert orders(tell("done", "Juniper 1A", (problem, plan), "05:59")) == ["O3"]
