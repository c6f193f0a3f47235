"""What must be among the visible lines of the short answer, however much else there is to say.

Five wards with equal bed numbers; two phlebotomists and two patients of one name.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from planner.cli.replan_report import sections_of
from planner.domain.orders import Priority
from planner.domain.plan import Outcome, Plan, Reason, Unplanned, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Late, NeverCame
from planner.domain.revisions.reported import Reported
from planner.domain.revisions.stop_changes import ChangeKind, Move
from planner.exporters.terminal.replan_short import MOST_LINES, Section, short_lines
from planner.exporters.view.cards.windows import TIGHT_S
from planner.exporters.view.context import ViewContext
from planner.exporters.view.notes.due import dues
from planner.exporters.view.texts import TextCleaner
from planner.library.replan_findings import told_apart
from planner.replanning.next_problem import NextProblem, next_problem
from planner.visits.windows import order_windows
from tests.builders import clock, make_order
from tests.three_wards import five_ward_tables, load_tables, patient_in, plan_quickly
from tests.unit.exporters.undone import all_undone

pytestmark = pytest.mark.slow

Round = tuple[Problem, Plan]
WIDTHS = (60, 80, 100)
FAULT = "bed '3A' can be Heron 3A or Tern 3A; write the ward too. " * 3
MUCH = (Section("Not applied", (FAULT,) * 4, is_needed=True), Section("Worth knowing", (FAULT,) * 6))


@pytest.fixture(scope="module")
def with_stats(tmp_path_factory: pytest.TempPathFactory) -> Round:
    """Every person has a stat among the first beds."""
    tables = five_ward_tables()
    for order in tables["orders"]:
        if order["order_number"] in ("H0102-1", "R0304-1", "T0501-1", "N0402-1"):
            order["priority"] = "stat"
    problem = load_tables(tables, tmp_path_factory.mktemp("stats") / "round")
    return problem, plan_quickly(problem).plan


def shown(following: NextProblem, plan: Plan, width: int, more: Sequence[Section] = ()) -> str:
    """Return the short answer on one line."""
    sections = [*more, *sections_of(told_apart(following.findings))]
    lines = short_lines(following.problem, plan, order_windows(following.problem)[0], sections, width)
    assert len(lines) <= MOST_LINES
    assert max(map(len, lines)) <= width
    return " ".join(" ".join(lines).split())


def stats_due(problem: Problem, plan: Plan, now_s: int) -> list[Visit]:
    stats = {order.id for order in problem.orders if order.priority is Priority.STAT}
    return [v for r in plan.routes for v in r.visits if stats & set(v.order_ids) and v.draw_s <= now_s]


@pytest.mark.parametrize("is_reported", [False, True])
@pytest.mark.parametrize("width", WIDTHS)
def test_unanswered_stat_is_asked_about_in_the_visible_lines_after_an_undo(
    with_stats: Round, width: int, is_reported: bool
) -> None:
    now_s = clock("05:25")
    stats = stats_due(*with_stats, now_s - 60)
    assert len(stats) >= 3
    reports = [
        Reported(order_ids=v.order_ids, draw_id=v.draw_id, outcome=Outcome.REFUSED, at_s=v.draw_s, is_by_itself=True)
        for v in stats[:2]
    ]
    changes = [Late(name=person.initials, minutes=15) for person in with_stats[0].staff]
    following = all_undone(with_stats, now_s - 60, now_s, reports if is_reported else (), changes)
    problem, plan = following.problem, plan_quickly(following.problem).plan
    context = ViewContext(problem, plan, order_windows(problem)[0], TextCleaner())
    due = [one for one in dues(context) if one.is_stat]
    assert len(due) >= 3
    for more in ((), MUCH):
        said = shown(following, plan, width, more)
        told = said.partition(" Tell ")[2]
        for one in due:
            bed = context.place(one.visit.place)
            asked = problem.staff[one.asked].initials
            assert f"bed {bed}: ask {asked} about the stat of " in said, (bed, said)
            for person in {one.asked, one.phlebotomist}:
                mine = told.partition(problem.staff[person].initials)[2]
                assert bed in mine, (problem.staff[person].initials, bed, said)


@pytest.mark.parametrize("width", WIDTHS)
def test_who_was_said_to_be_late_is_spoken_to_however_much_else_there_is(with_stats: Round, width: int) -> None:
    now_s = clock("05:12")
    for person in with_stats[0].staff:
        late = [Late(name=person.initials, minutes=2)]
        following = next_problem(*with_stats, parent=1, now_s=now_s, changes=late)
        plan = plan_quickly(following.problem).plan
        for more in ((), MUCH):
            said = shown(following, plan, width, more)
            told = said.partition(" Tell ")[2]
            assert f"{person.initials}: " in told.replace("): ", ": "), said
            assert f"{person.initials}: --verbose" not in told, said


@pytest.mark.parametrize("width", WIDTHS)
def test_limit_that_is_close_is_visible_where_another_must_go(with_stats: Round, width: int) -> None:
    """The trough of R0301 ends at its dose: after its phlebotomist never came, another hurries there."""
    problem, plan = with_stats
    trough = next(order.id for order in problem.orders if order.test == "VANCT")
    had = next(r.phlebotomist for r in plan.routes for v in r.visits if trough in v.order_ids)
    tight = []
    for now in ("06:05", "06:10", "06:15", "06:20"):
        changes = [NeverCame(name=problem.staff[had].initials)]
        following = next_problem(*with_stats, parent=1, now_s=clock(now), changes=changes)
        later = plan_quickly(following.problem).plan
        windows = order_windows(following.problem)[0]
        context = ViewContext(following.problem, later, windows, TextCleaner())
        for change in context.changes:
            visit = change.visit
            is_given = change.kind is ChangeKind.ADDED or Move.PERSON in change.moves
            if visit is None or not is_given or trough not in visit.order_ids:
                continue
            end_s = windows[trough].windows[-1].latest_s
            if end_s - visit.draw_s < TIGHT_S:
                tight.append(now)
                # of 24 lines of 60 columns four faults and three people with two stats each leave the last a name
                for more in ((), MUCH) if width > min(WIDTHS) else ((),):
                    said = shown(following, later, width, more).partition(" Tell ")[2]
                    assert f"ot after {problem.clock.format_clock(end_s)}" in said, said
    assert tight


@pytest.mark.parametrize("width", WIDTHS)
def test_a_stat_that_nobody_is_sent_for_is_named_with_its_reason(with_stats: Round, width: int) -> None:
    """Three beds of one number: each ward's stat is named, whatever else there is; a refused one was attended to."""
    problem, plan = with_stats
    beds = {ward: patient_in(problem, ward, "3A") for ward in ("Heron", "Tern")}
    aside = [
        Unplanned.of(make_order(f"N-{ward}", patient.id, "POT", priority=Priority.STAT), reason, "", bed=patient.bed)
        for (ward, patient), reason in zip(beds.items(), (Reason.TIME_MISSING, Reason.REFUSED), strict=True)
    ]
    late = [Late(name=person.initials, minutes=20) for person in problem.staff[:1]]
    following = next_problem(problem, plan, parent=1, now_s=clock("06:00"), changes=late)
    told_of = replace(following, problem=replace(following.problem, set_aside=tuple(aside)))
    said = shown(told_of, plan_quickly(told_of.problem).plan, width, MUCH)
    assert "STAT left out bed Heron 3A (N-Heron) POT: Time of the draw missing" in said
    assert "(N-Tern) POT" not in said.partition("Stops")[0]
