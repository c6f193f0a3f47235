"""A ward whose specimens come too late for its doctors is named, bed by bed, and somebody must decide."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from planner.cli.app import app
from planner.cli.exit_codes import ExitCode
from planner.domain.derived.need_by import need_by_findings
from planner.domain.policy import Policy
from planner.domain.problem import Problem
from planner.library.planning import asks_for_person
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import clock, make_order, make_patient, make_pickup, make_place, make_problem, make_walking

PARAMS = SolveParams(effort="quick")


def two_wards(needed: Mapping[str, str]) -> Problem:
    """Beds 1A of two wards; the only courier leaves 07:00 and is in the laboratory at 07:10."""
    places = [
        make_place("BASE", position=0),
        make_place("Heron/1A", ward="Heron", label="Heron 1A", position=1),
        make_place("Kite (South)/1A", ward="Kite (South)", label="Kite (South) 1A", position=2),
        make_place("PICKUP", position=3),
    ]
    patients = [
        make_patient("P1", "Heron/1A", ward="Heron"),
        make_patient("P2", "Kite (South)/1A", ward="Kite (South)"),
    ]
    round_ = replace(Policy().round, needed_by_s={ward: clock(at) for ward, at in needed.items()})
    return make_problem(
        [make_order("O1", "P1"), make_order("O2", "P2"), make_order("O3", "P2", "BMP", collect_from_s=clock("06:30"))],
        patients,
        places=places,
        walking=make_walking(places),
        pickups=[make_pickup(departures_s=(clock("07:00"),))],
        policy=replace(Policy(), round=round_),
    )


def told(needed: Mapping[str, str]) -> list[str]:
    problem = two_wards(needed)
    return [finding.message for finding in need_by_findings(problem, plan_round(problem, PARAMS).plan)]


def test_ward_that_gets_its_results_late_is_named_with_bed_orders_and_minutes() -> None:
    (message,) = told({"Kite (South)": "06:58:30", "Heron": "07:10"})
    # In the laboratory at 07:10: 11 min 30 s late, twelve minutes begun.
    assert message.startswith("ward Kite (South) needs its specimens in the laboratory by 06:58; 2 orders come later: ")
    assert "bed Kite (South) 1A (O2, O3) by 12 min" in message
    assert "Heron" not in message


def test_every_ward_that_is_late_is_named() -> None:
    assert [message.split(" needs")[0] for message in told({"*": "07:00"})] == ["ward Heron", "ward Kite (South)"]


@pytest.mark.parametrize("needed", [{}, {"*": "07:10"}, {"Heron": "08:00"}])
def test_nothing_is_said_where_nothing_is_late(needed: Mapping[str, str]) -> None:
    assert told(needed) == []


def test_a_plan_that_misses_a_need_by_time_asks_for_a_person() -> None:
    planned = plan_round(two_wards({"*": "07:00"}), PARAMS)
    assert [finding.code for finding in planned.findings] == ["need-by-missed"] * 2
    assert asks_for_person(planned.plan.unplanned, planned.findings)


@pytest.mark.slow
def test_command_exits_for_a_decision_and_names_the_ward(tmp_path: Path) -> None:
    (tmp_path / "round").mkdir()
    headings = "order_number,patient_number,family_name,given_name,birth_date,ward,bed,test"
    row = "O1,P1,Ng,Ann,1960-05-17,Heron,1A,CBC"
    (tmp_path / "round" / "orders.csv").write_text(f"{headings}\n{row}\n", encoding="utf-8")
    (tmp_path / "round" / "policy.toml").write_text('[round]\nneeded_by = { "heron" = "05:01" }\n', encoding="utf-8")
    command = ["plan", str(tmp_path / "round"), "--out", str(tmp_path / "out"), "--effort", "quick"]
    done = CliRunner().invoke(app, command)
    assert done.exit_code == ExitCode.NEEDS_DECISION, done.output
    assert "ward Heron needs its specimens" in done.output + done.stderr
    assert re.search(r"^Needed earlier +1 order of ward Heron$", done.output, re.MULTILINE)
