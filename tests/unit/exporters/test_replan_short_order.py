"""The short summary says to each person what cannot wait first: the stat, then the beds, last what they lack.

Five wards with equal bed numbers; two phlebotomists and two patients of one name.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Change, Lost, StatOrders
from planner.exporters.terminal.replan_short import MOST_LINES, Section, short_lines
from planner.exporters.view.build import build_view
from planner.replanning.next_problem import next_problem
from planner.visits.windows import order_windows
from tests.builders import clock
from tests.three_wards import TWO_MORE, five_ward_tables, load_tables, plan_quickly
from tests.unit.exporters.replanned import make_replanned

pytestmark = pytest.mark.slow

BED = f"{TWO_MORE[1]} 3A"
"""Four more wards have a bed 3A, or 1A beside it."""
NOW = clock("05:12")


def replanned(folder: Path, *changes: Change) -> tuple[Problem, Plan]:
    """Return the second revision: all have set out, and patients need things that nobody else loaded."""
    tables = five_ward_tables()
    for patient in tables["patients"]:
        patient["alerts"], patient["precautions"] = "latex allergy", "contact"
    tables["staff"][2]["from"] = "05:00"
    problem = load_tables(tables, folder / "round")
    following = next_problem(problem, plan_quickly(problem).plan, parent=1, now_s=NOW, changes=changes)
    assert not following.refused
    return following.problem, plan_quickly(following.problem).plan


@pytest.fixture(scope="module")
def stat_and_lost(tmp_path_factory: pytest.TempPathFactory) -> tuple[Problem, Plan]:
    """A stat for a bed whose number other wards have too, and the last of three people gone home."""
    return replanned(tmp_path_factory.mktemp("stat"), StatOrders(bed=BED, tests=("POT",)), Lost(name="TO"))


def told(problem: Problem, plan: Plan, sections: tuple[Section, ...] = (), width: int = 80) -> list[str]:
    """Return what is said to each person, a paragraph each."""
    lines = short_lines(problem, plan, order_windows(problem)[0], sections, width)
    assert len(lines) <= MOST_LINES
    paragraphs: list[str] = []
    for line in lines[lines.index("Tell") + 1 :]:
        if not line.startswith(" "):
            break
        if line.startswith("    "):
            paragraphs[-1] += f" {line.strip()}"
        else:
            paragraphs.append(line.strip())
    return paragraphs


def test_who_draws_the_stat_is_said_first_with_patient_bed_and_time(stat_and_lost: tuple[Problem, Plan]) -> None:
    problem, plan = stat_and_lost
    stat = next(order for order in problem.orders if order.test == "POT")
    person, visit = next((r.phlebotomist, v) for r in plan.routes for v in r.visits if stat.id in v.order_ids)
    first = told(problem, plan)[0]
    name, _, said = first.partition(": ")
    assert problem.staff[person].initials in name
    sentence = said.partition("Draw at ")[0]
    assert f"bed {BED}, {problem.patients[visit.patient_id].family_name}" in sentence
    assert "stat potassium" in sentence
    assert re.match(r"\d\d:\d\d.*Allowed: ", said.partition("Draw at ")[2])


def test_what_lacks_is_said_last_once_and_shortly(tmp_path: Path) -> None:
    # One of the three is lost: taken is the first of them without whom both who are left lack things.
    for lost in ("IS", "IV", "TO"):
        problem, plan = replanned(tmp_path / lost, StatOrders(bed=BED, tests=("POT",)), Lost(name=lost))
        view = build_view(problem, plan, order_windows(problem)[0], revision=2)
        lacking = [route for route in view.routes if route.lacking]
        if len(lacking) >= 2:
            break
    assert len(lacking) >= 2
    people = told(problem, plan, width=160)  # in 80 columns of one the lacking is only counted, behind a stat
    assert sum("YOU LACK" in said for said in people) == len(lacking)
    for said in people:
        before, _, short = said.partition("YOU LACK")
        if not short:
            continue
        assert before.partition(": ")[2], "something else is said first"
        assert short.count("YOU LACK") == 0
        pattern = r" things for bed .{1,60} \(see the note\): fetch them at .{1,40}\.( \(and on the note: [^()]+\))?"
        assert re.fullmatch(pattern, short), short
    # On the note that is printed it stands first, as it was: what is not at hand is fetched before the walk.
    for route in lacking:
        assert route.note[0].text == route.lacking


def test_stat_is_said_even_where_much_else_was_found(stat_and_lost: tuple[Problem, Plan]) -> None:
    fault = "bed '3A' can be Heron 3A or Tern 3A; write the ward too. " * 3
    sections = (Section("Not applied", (fault,) * 6, is_needed=True), Section("Worth knowing", (fault,) * 6))
    first = told(*stat_and_lost, sections)[0]
    assert f"bed {BED}" in first
    assert "stat potassium" in first


def test_stat_then_beds_to_leave_out_then_to_go_to_then_moved_times() -> None:
    # What the first phlebotomist of the built round is told: see `replanned`.
    problem, plan, windows = make_replanned()
    lines = short_lines(problem, plan, windows, (), 200)
    said = " ".join(" ".join(lines).split()).partition("Tell ")[2]
    wanted = ("go to bed 108", "Leave out bed 107B", "go to bed 114", "Bed 107A")
    assert [said.find(words) for words in wanted] == sorted(said.find(words) for words in wanted)
    assert said.find(wanted[0]) > 0
