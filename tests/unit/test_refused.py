"""A plan that the checker refuses: the round is planned again without what it named; somebody at 04:30 has a sheet."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner

from planner import pipeline
from planner.checker import check_plan
from planner.cli.app import app
from planner.cli.exit_codes import ExitCode
from planner.domain.orders import OrderId
from planner.domain.plan import Plan, Reason
from planner.domain.problem import Problem
from planner.errors import CheckRefusedError
from planner.findings import Report, Severity
from planner.library.writing import REPORT_FILE
from planner.pipeline import plan_round, plan_round_or_less
from planner.solving.params import SolveParams
from tests.builders import make_order, make_problem

pytestmark = pytest.mark.slow

PARAMS = SolveParams(effort="quick")
ORDERS = [make_order("O1"), make_order("O2", "P2", "BMP"), make_order("O3", "P3")]
Injection = Callable[[Problem, Plan], Report]


def refusing(*groups: tuple[str, ...], code: str = "service") -> Injection:
    """Return a checker that also refuses every plan that draws an order of a group, naming the group."""

    def check(problem: Problem, plan: Plan) -> Report:
        report = check_plan(problem, plan)
        drawn = {o for route in plan.routes for visit in route.visits for o in visit.order_ids}
        for group in groups:
            if drawn & set(group) or not group:
                report.add(code, Severity.ERROR, f"injected: {', '.join(group)}", order_ids=group)
        return report

    return check


def test_order_that_the_checker_names_waits_and_the_others_are_planned(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pipeline, "check_plan", refusing(("O2",)))
    problem = make_problem(ORDERS)
    planned = plan_round_or_less(problem, PARAMS)
    assert {u.order_id: u.reason for u in planned.plan.unplanned} == {"O2": Reason.CHECK_REFUSED}
    assert Reason.CHECK_REFUSED.needs_decision
    assert planned.plan.goals[0].value == 1  # it counts as left out
    assert check_plan(problem, planned.plan).is_clean
    (told,) = [f for f in planned.findings if f.code == "plan-refused"]
    assert told.severity is Severity.ERROR
    assert "service" in told.message
    assert "injected: O2" in told.message
    assert told.order_ids == ("O2",)


def test_second_refusal_names_more(monkeypatch: pytest.MonkeyPatch) -> None:
    def check(problem: Problem, plan: Plan) -> Report:
        drawn = {o for route in plan.routes for visit in route.visits for o in visit.order_ids}
        return refusing(("O2",) if "O2" in drawn else ("O3",))(problem, plan)

    monkeypatch.setattr(pipeline, "check_plan", check)
    planned = plan_round_or_less(make_problem(ORDERS), PARAMS)
    assert [u.order_id for u in planned.plan.unplanned] == ["O2", "O3"]
    assert sum(f.code == "plan-refused" for f in planned.findings) == 2


@pytest.mark.parametrize("groups", [((),), (("O1", "O2", "O3"),)])
def test_refusal_that_nothing_helps_stays_one(monkeypatch: pytest.MonkeyPatch, groups: tuple[tuple[str, ...]]) -> None:
    # One refusal names no order, the other all of them.
    monkeypatch.setattr(pipeline, "check_plan", refusing(*groups))
    with pytest.raises(CheckRefusedError) as refused:
        plan_round_or_less(make_problem(ORDERS), PARAMS)
    assert any("injected" in finding.message for finding in refused.value.findings)


def test_plan_of_the_library_is_refused_as_before(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pipeline, "check_plan", refusing(("O2",)))
    with pytest.raises(CheckRefusedError):
        plan_round(make_problem(ORDERS), PARAMS)


def orders_file(folder: Path) -> Path:
    path = folder / "orders.csv"
    rows = [f"O{n},P{n},Family{n},Given{n},1960-05-1{n},Heron,{n}A,CBC" for n in (1, 2, 3)]
    path.write_text(
        "\n".join(["order_number,patient_number,family_name,given_name,birth_date,ward,bed,test", *rows]) + "\n",
        encoding="utf-8",
    )
    return path


def test_command_writes_a_sheet_and_a_report_and_asks_for_a_decision(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(pipeline, "check_plan", refusing(("O2",)))
    out = tmp_path / "out"
    done = CliRunner().invoke(app, ["plan", str(orders_file(tmp_path)), "--out", str(out), "--effort", "quick"])
    assert done.exit_code == ExitCode.NEEDS_DECISION, done.output
    assert "O2" in done.output
    assert (out / "r1" / "round-sheet.html").is_file()
    plan = json.loads((out / "r1" / "plan.json").read_text(encoding="utf-8"))
    assert [(u["order_number"], u["reason"]) for u in plan["unplanned"]] == [("O2", "check-refused")]
    report = (out / REPORT_FILE).read_text(encoding="utf-8")
    assert "refused" in report
    assert "injected: O2" in report


def test_command_writes_the_report_alone_where_nothing_helps(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(pipeline, "check_plan", refusing(()))
    out = tmp_path / "out"
    done = CliRunner().invoke(app, ["plan", str(orders_file(tmp_path)), "--out", str(out), "--effort", "quick"])
    assert done.exit_code == ExitCode.REFUSED, done.output
    assert [path.name for path in out.iterdir()] == [REPORT_FILE]


def test_order_that_was_refused_is_planned_again_at_the_next_revision(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = make_problem(ORDERS)
    monkeypatch.setattr(pipeline, "check_plan", refusing(("O2",)))
    plan_round_or_less(problem, PARAMS)
    monkeypatch.setattr(pipeline, "check_plan", check_plan)
    assert plan_round_or_less(problem, PARAMS).plan.unplanned == ()
    assert OrderId("O2") in {order.id for order in problem.orders}
