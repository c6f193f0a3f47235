"""What the bed needs to know beside the tubes: notes of the orders, and orders of the patient still open."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.orders import OrderId, PatientId
from planner.domain.plan import Reason, Unplanned
from planner.exporters.view.build import build_view
from planner.exporters.view.round_view import VisitView
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from planner.visits import order_windows
from tests.builders import make_order, make_problem


def only_visit(**changes: object) -> VisitView:
    problem = make_problem([make_order("O1", "P1", "CBC", note="LEFT ARM: no draw\x07")])
    problem = replace(problem, **changes)  # type: ignore[arg-type]
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    view = build_view(problem, plan, order_windows(problem)[0], revision=1)
    (visit,) = (visit for route in view.routes for visit in route.visits)
    return visit


def test_note_of_an_order_is_printed_clean() -> None:
    assert [a for a in only_visit().alerts if "LEFT ARM" in a] == ["note (CBC): LEFT ARM: no draw"]


def test_open_order_of_the_patient_is_named_at_the_bed() -> None:
    left = Unplanned(
        order_id=OrderId("O9"), reason=Reason.UNKNOWN_TEST, detail="", patient_id=PatientId("P1"), bed="B1", test="BCX"
    )
    assert any("BCX (order O9)" in alert for alert in only_visit(set_aside=(left,)).alerts)


def test_cancelled_order_is_not_called_open() -> None:
    left = Unplanned(
        order_id=OrderId("O9"), reason=Reason.CANCELLED, detail="", patient_id=PatientId("P1"), bed="B1", test="BCX"
    )
    assert not any("O9" in alert for alert in only_visit(set_aside=(left,)).alerts)
