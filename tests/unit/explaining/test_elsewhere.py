"""What a visit would cost elsewhere is what a checked plan with it there counts; nothing else is claimed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

import planner
from planner.checker import check_plan
from planner.cli.app import app
from planner.domain.goals import Tier
from planner.domain.plan import Visit
from planner.domain.problem import Problem
from planner.explaining.elsewhere import Elsewhere, Where, tried_elsewhere
from planner.pipeline import PlannedRound, plan_round
from planner.scheduling.scheduler import schedule
from planner.solving.params import Effort, SolveParams
from tests.builders import DAY, clock, make_order, make_problem
from tests.three_wards import HERON, KITE, Tables, load_tables, patient_in, three_ward_tables, write_tables

pytestmark = pytest.mark.slow

PARAMS = SolveParams(effort=Effort.QUICK, proves=False)


def visit_of(made: PlannedRound, patient_id: str) -> tuple[int, Visit]:
    return next((r.phlebotomist, v) for r in made.plan.routes for v in r.visits if v.patient_id == patient_id)


def bound_tables() -> Tables:
    """Return three wards: the third person may go to Heron only, and one patient of Kite needs a skill of the first."""
    tables = three_ward_tables()
    tables["staff"][2]["wards"] = HERON
    tables["staff"][0]["skills"] = "child"
    next(p for p in tables["patients"] if p["patient_number"] == "K0202")["needs"] = "child"
    return tables


@pytest.fixture(scope="module")
def round_and_plan(tmp_path_factory: pytest.TempPathFactory) -> tuple[Problem, PlannedRound]:
    problem = load_tables(bound_tables(), tmp_path_factory.mktemp("r") / "three wards")
    return problem, plan_round(problem, PARAMS)


def tried(problem: Problem, made: PlannedRound, patient_id: str) -> tuple[Elsewhere, ...]:
    found = tried_elsewhere(problem, made.plan, visit_of(made, patient_id)[1], PARAMS)
    assert found is not None
    return found


def test_everybody_else_is_tried_and_who_may_not_is_said(round_and_plan: tuple[Problem, PlannedRound]) -> None:
    problem, made = round_and_plan
    patient = patient_in(problem, KITE, "1B")
    own, _visit = visit_of(made, patient.id)
    assert own == 0, "only the first has the skill"
    others = [t for t in tried(problem, made, patient.id) if t.where is Where.SOMEBODY_ELSE]
    assert [(t.phlebotomist, t.may, t.draw_s) for t in others] == [(1, False, None), (2, False, None)]


@pytest.mark.parametrize("patient_id", ["H0101", "K0204", "R0304", "K0203"])
def test_cost_is_that_of_the_checked_plan_with_the_visit_there(
    round_and_plan: tuple[Problem, PlannedRound], patient_id: str
) -> None:
    """The plan with the visit forced on somebody else: its goals are recomputed by the independent checker."""
    problem, made = round_and_plan
    others = [t for t in tried(problem, made, patient_id) if t.where is Where.SOMEBODY_ELSE and t.draw_s is not None]
    assert others
    for other in others:
        barred = frozenset(range(len(problem.staff))) - {other.phlebotomist}
        draws = [replace(d, not_by=barred) if d.request.patient_id == patient_id else d for d in made.draws]
        forced = schedule(problem, draws, PARAMS, start=made.plan, is_trial=True, trial_work=0).plan
        assert not check_plan(problem, forced).errors
        drawn = [(r.phlebotomist, v.draw_s) for r in forced.routes for v in r.visits if v.patient_id == patient_id]
        assert drawn == [(other.phlebotomist, other.draw_s)]
        values = zip(Tier, made.plan.goals, forced.goals, strict=True)
        differing = [
            (tier, after.value - before.value) for tier, before, after in values if after.value != before.value
        ]
        assert differing[0] == (other.tier, other.worse)
        assert sum(more for _, more in other.parts) == other.worse


def test_a_stop_later_is_the_next_one_a_stop_earlier(round_and_plan: tuple[Problem, PlannedRound]) -> None:
    problem, made = round_and_plan
    compared = 0
    for route in made.plan.routes:
        for one, behind in zip(route.stops, route.stops[1:], strict=False):
            if isinstance(one, Visit) and isinstance(behind, Visit):
                (later,) = [t for t in tried(problem, made, one.patient_id) if t.where is Where.LATER]
                (earlier,) = [t for t in tried(problem, made, behind.patient_id) if t.where is Where.EARLIER]
                assert (later.tier, later.worse, later.parts) == (earlier.tier, earlier.worse, earlier.parts)
                compared += later.draw_s is not None
    assert compared > 2


def test_place_that_a_rule_forbids_is_said_to_be_none() -> None:
    """A trough is never drawn after its dose (RULES.md); behind a bed that opens at 06:40 that of 06:30 is given."""
    trough = make_order("O1", test="VANCT", next_dose_s=clock("06:30"))
    problem = make_problem([trough, make_order("O2", "P2", collect_from_s=clock("06:40"))])
    made = plan_round(problem, PARAMS)
    (later,) = tried(problem, made, "P1")
    assert (later.where, later.draw_s, later.tier) == (Where.LATER, None, None)


def test_stop_later_counts_the_lateness_that_it_brings() -> None:
    """Asked for by 06:01 and made behind a bed that opens at 06:40: late by 39 min or more, at weight 1 or more."""
    first = make_order("O1", collect_from_s=clock("06:00"), collect_to_s=clock("06:01"))
    problem = make_problem([first, make_order("O2", "P2", collect_from_s=clock("06:40"))])
    made = plan_round(problem, PARAMS)
    (later,) = tried(problem, made, "P1")
    assert later.draw_s is None or (later.tier is Tier.SERVICE and later.worse >= 39 * 60)


def test_visit_that_is_made_is_not_tried(round_and_plan: tuple[Problem, PlannedRound]) -> None:
    problem, made = round_and_plan
    _own, visit = visit_of(made, "H0101")
    assert tried_elsewhere(problem, made.plan, replace(visit, draw_id="of another plan"), PARAMS) is None  # type: ignore[arg-type]  # any text


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    base = tmp_path_factory.mktemp("w")
    tables = bound_tables()
    tables["orders"].append({"order_number": "Z1", "patient_number": "K0204", "test": "xyzzy", "priority": "routine"})
    tables["orders"].append({"order_number": "Z2", "patient_number": "N0009", "test": "CBC", "priority": "stat"})
    folder = write_tables(tables, base / "three wards")
    planner.write(planner.plan(planner.load(folder, day=DAY), effort="quick"), base / "out")
    return base / "out"


def said(written: Path, *words: str) -> str:
    result = CliRunner().invoke(app, ["explain", str(written), *words])
    assert result.exit_code == 0, result.output
    return " ".join(result.output.split())


def test_order_on_time_says_why_it_is_there(written: Path) -> None:
    text = said(written, "K0204-1")
    assert "Why there" in text
    assert "may make this visit" in text
    assert "TO may not: goes to Heron only" in text
    assert "the same puncture serves K0204-2 (CBC)" in text
    assert "What another place would cost" in text
    assert "service" in text or "effort" in text


def test_skill_that_binds_is_named(written: Path) -> None:
    text = said(written, "K0202-1")
    assert "Only IS may make this visit" in text
    assert "needs child" in text


def test_nothing_is_claimed_that_was_not_tried(written: Path) -> None:
    assert "would cost" not in said(written, "K0204-1", "--no-tries")


def test_order_set_aside_says_test_bed_reason_and_remedy(written: Path) -> None:
    text = said(written, "Z1")
    assert "Order Z1: test xyzzy, bed Kite (South) 3A" in text
    assert "Unknown test" in text
    assert "Ask the laboratory which test is meant" in text
    assert "orders.csv" in text
    text = said(written, "Z2")
    assert "Order Z2: test CBC, no bed known, stat" in text
    assert "Find out who the patient is" in text
