"""Notes and alerts that come in the round reach the orders that are known already, and stats that are told."""

from __future__ import annotations

from pathlib import Path

import pytest

import planner
from planner.domain.orders import Arm, NoteSays, Order, Precaution
from planner.domain.problem import Problem
from planner.domain.revisions.event_kinds import EventKind

pytestmark = pytest.mark.slow

HEAD = "order_number,patient_number,birth_date,ward,bed,test,priority,note,alerts,precautions"
ROWS = [
    "O1,P1,1950-01-31,Heron,3A,CBC,routine,,,",
    "O2,P2,1951-02-28,Kite (South),3A,BMP,routine,first note,,",
    "O3,P3,1952-03-31,'Rail, East',3A,LFT,routine,,,contact",
]
LATER = [
    "O1,P1,1950-01-31,Heron,3A,CBC,routine,nurse to draw,,",
    "N2,P2,1951-02-28,Kite (South),3A,CRP,routine,patient in theatre at 05:20,mastectomy left,",
    "O3,P3,1952-03-31,'Rail, East',3A,LFT,routine,,heparin infusion; ?TB,",
]


def write(path: Path, rows: list[str]) -> Path:
    path.write_text("\n".join([HEAD, *rows, ""]).replace("'", '"'), encoding="utf-8")
    return path


def order(problem: Problem, number: str) -> Order:
    return next(o for o in problem.orders if o.id == number)


def test_what_a_later_list_says_reaches_known_orders_and_their_patients(tmp_path: Path) -> None:
    out = tmp_path / "out"
    first = planner.load(write(tmp_path / "three.csv", ROWS), day="2026-03-10", start="05:30")
    planner.write(planner.plan(first, effort="quick"), out)
    later = write(tmp_path / "later.csv", LATER)
    made = planner.replan(out, "05:10", planner.News(orders=[later], stat=["Rail, East 3A:APTT"]))
    problem = planner.write(made, out).problem

    assert (order(problem, "O1").note, order(problem, "O1").note_says) == ("nurse to draw", {NoteSays.OTHERS_DRAW})
    assert NoteSays.ELSEWHERE in order(problem, "O2").note_says, "a note of the patient's new order"
    assert order(problem, "O2").note == "first note"
    people = {patient.ward: patient for patient in problem.patients.values()}
    assert people["Kite (South)"].alerts == ("mastectomy left",)
    assert people["Kite (South)"].arms_in_words == {Arm.LEFT}
    assert people["Rail, East"].precautions == {Precaution.CONTACT, Precaution.UNCLEAR}
    assert people["Heron"].alerts == ()
    (stat,) = [o for o in problem.orders if o.test == "APTT"]
    assert NoteSays.HEPARIN in stat.note_says, "an alert reaches a stat that is told"
    decided = {order_id for f in made.findings if f.code == "note-contradicts" for order_id in f.order_ids}
    assert decided == {"O1", "O2", "N2", stat.id}

    again = planner.replan(out, "05:11", planner.News(orders=[later]))
    assert again.problem.replan is not None
    assert {event.what.kind for event in again.problem.replan.events} == {EventKind.LIST_READ}
    checked = planner.check(out)
    assert isinstance(checked, planner.PlanCheck) and checked.num_remade == 1


def test_older_list_does_not_take_a_later_note_back(tmp_path: Path) -> None:
    out = tmp_path / "out"
    old = write(tmp_path / "three.csv", ROWS)
    planner.write(planner.plan(planner.load(old, day="2026-03-10", start="05:30"), effort="quick"), out)
    newer = write(tmp_path / "newer.csv", [ROWS[1].replace("first note", "do not draw")])
    planner.write(planner.replan(out, "05:10", planner.News(orders=[newer])), out)
    made = planner.replan(out, "05:11", planner.News(orders=[old]))
    assert order(made.problem, "O2").note == "do not draw"
    assert NoteSays.NOT_WANTED in order(made.problem, "O2").note_says
