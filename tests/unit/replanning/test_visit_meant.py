"""A bed reported without an order number: the earliest visit of its patient that nobody has reported yet."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from planner.domain.orders import PatientId
from planner.domain.places import PlaceId
from planner.domain.plan import Outcome, Plan
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Refused
from planner.domain.revisions.replan import Past, Replan
from planner.domain.revisions.reported import Reported
from planner.findings import Finding, Severity
from planner.library.news import parse_changes, read_done
from planner.loaders.during.progress import read_progress
from planner.loaders.during.typed import parse_done, report_visits
from planner.loaders.during.visit_book import VisitBook
from planner.replanning.next_problem import next_problem
from tests.builders import clock, make_order
from tests.replan_builders import TWO, WARDS, five_wards, make_plan, make_visit

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
    outcomes = {
        "drawn": Outcome.COLLECTED,
        "refused": Outcome.REFUSED,
        "unidentified": Outcome.UNIDENTIFIED,
        "failed": Outcome.UNSUCCESSFUL,
    }
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
@pytest.mark.parametrize("option", ["done", "refused", "unidentified", "failed"])
def test_of_two_visits_that_are_due_the_earlier_is_taken_and_that_is_said(ward: int, bed: str, option: str) -> None:
    told = tell(option, bed, assumed_round(ward), "06:50")
    assert orders(told) == [f"O{ward}"]
    (finding,) = told[1]
    assert (finding.code, finding.severity) == ("report-unclear", Severity.WARNING)
    assert set(finding.order_ids) == {f"O{ward}", "R"}
    assert "06:42" in finding.message


@pytest.mark.parametrize(("ward", "bed"), BEDS)
@pytest.mark.parametrize("option", ["refused", "unidentified", "failed"])
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


def moved_to_another(number: int) -> tuple[Problem, Plan]:
    """Order O of bed 1A on each ward was AB's at 05:20; now CD has it at 06:30 on one, some minutes before order R."""
    problem, _ = five_wards(staff=TWO)
    problem = replace(problem, orders=(*problem.orders, make_order("R", f"P{number}"), make_order("S", f"P{number}")))
    due = [make_visit(problem, [f"O{n}"], "05:20") for n in range(1, 6) if n != number]
    first = replace(make_visit(problem, [f"O{number}", "S"], "05:20"))
    parent = make_plan([first, *due], [make_visit(problem, ["R"], "06:34")])
    problem = next_problem(problem, parent, parent=1, now_s=clock("05:10")).problem
    return problem, make_plan(due, [make_visit(problem, [f"O{number}", "S"], "06:30"), parent.routes[1].visits[0]])


@pytest.mark.parametrize(("ward", "bed"), BEDS)
@pytest.mark.parametrize("option", ["drawn", "refused", "unidentified", "failed"])
def test_time_tells_a_visit_also_by_the_sheet_that_somebody_still_went_by(ward: int, bed: str, option: str) -> None:
    of = moved_to_another(ward)
    assert orders(tell(option, bed, of, "05:40", "05:22")) == [f"O{ward}", "S"]
    assert orders(tell(option, bed, of, "06:40", "06:34")) == ["R"]


@pytest.mark.parametrize(("ward", "bed"), BEDS)
@pytest.mark.parametrize("option", ["drawn", "refused", "unidentified", "failed"])
@pytest.mark.parametrize("at", ["05:56", "05:57"])
def test_name_tells_a_visit_where_the_time_does_not(ward: int, bed: str, option: str, at: str) -> None:
    # 05:57 is 37 minutes after 05:20 and 37 before 06:34, and AB never had the second visit
    of = moved_to_another(ward)
    reports, found, refused = read_done((), *of, clock("06:00"), {option: [f"{bed}={at} by AB"]})
    assert [report.order_ids for report in reports] == [(f"O{ward}", "S")]
    assert not refused
    assert {finding.severity for finding in found} <= {Severity.NOTE}


@pytest.mark.parametrize(("ward", "bed"), BEDS)
@pytest.mark.parametrize("text", ["{}", "{}=05:57", "{}=05:57 by CD", "{} by CD"])
@pytest.mark.parametrize("option", ["done", "drawn", "refused", "failed"])
def test_what_is_to_be_typed_where_two_visits_can_be_meant_is_accepted(
    ward: int, bed: str, text: str, option: str
) -> None:
    if (option == "done") != (text == "{}"):
        return
    of = moved_to_another(ward)

    def read(typed: str) -> tuple[tuple[Reported, ...], tuple[Refused, ...]]:
        given = [typed] if option == "done" else []
        reports, _found, refused = read_done(given, *of, clock("06:00"), {} if given else {option: [typed]})
        return reports, refused

    reports, refused = read(text.format(bed))
    assert (reports, [part.finding.code for part in refused]) == ((), ["report-unclear"])
    message = refused[0].finding.message
    assert "06:30" in message
    assert "06:34" in message
    assert f"P{ward}" not in message
    choices = re.findall(rf'--{option} "([^"]+)"', message)
    assert [[r.order_ids for r in read(typed)[0]] for typed in choices] == [[(f"O{ward}", "S")], [("R",)]]
    assert [read(typed)[1] for typed in choices] == [(), ()]
    said = [(report.at_s, report.drawn_by) for report in read(choices[0])[0]]
    assert all(at_s == (clock("05:57") if "=" in text else at_s) for at_s, _by in said)


@pytest.mark.parametrize(("ward", "bed"), BEDS)
def test_away_is_said_of_the_patient_and_so_of_both_visits(ward: int, bed: str) -> None:
    problem, plan = moved_to_another(ward)
    (change,) = parse_changes({"away": [f"{bed}=05:56-06:50"]})
    following = next_problem(problem, plan, parent=2, now_s=clock("05:50"), changes=[change])
    assert not following.refused
    spans = [(span.earliest_s, span.latest_s) for span in following.problem.patients[PatientId(f"P{ward}")].away]
    assert spans == [(clock("05:56"), clock("06:50"))]


@pytest.mark.parametrize("ward", range(1, 6))
def test_row_of_a_file_is_told_which_order_numbers_to_write(tmp_path: Path, ward: int) -> None:
    of = moved_to_another(ward)
    (tmp_path / "p.csv").write_text(f'bed,outcome\n"{BEDS[ward - 1][1]}",collected\n', encoding="utf-8")
    reports, found = read_progress(tmp_path / "p.csv", *of, clock("06:00"))
    (finding,) = (one for one in found if one.severity is Severity.ERROR)
    assert not reports
    numbers = re.findall(r"order_number ([\w,]+)", finding.message)
    assert numbers == [f"O{ward},S", "R"]
    (tmp_path / "p.csv").write_text(f'order_number,outcome\n"{numbers[0]}",collected\n', encoding="utf-8")
    reports, found = read_progress(tmp_path / "p.csv", *of, clock("06:00"))
    assert [report.order_ids for report in reports] == [(f"O{ward}", "S")]
    assert not [one for one in found if one.severity is Severity.ERROR]
