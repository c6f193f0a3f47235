"""An add-on is said to be too late when its tube reaches the laboratory after the test may begin."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.catalogue import TestCode, TubeCode
from planner.domain.orders import OrderId
from planner.domain.plan import Outcome, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import AddOn, Past, Replan
from planner.replanning.addons.late import late_addons
from tests.builders import clock, make_order, make_problem
from tests.replan_builders import make_drawn_tube, make_handover, make_plan, make_visit


def with_addon(limit: str) -> tuple[Problem, Visit]:
    """Return a round in which a liver panel was added to a tube in the tray, and the visit that drew the tube."""
    problem = make_problem([make_order("O1", test="BMP")])
    tube = make_drawn_tube(["BMP"], ["O1"])
    visit = make_visit(problem, ["O1"], tubes=[(tube, None)], outcome=Outcome.COLLECTED)
    addon = AddOn(
        order_id=OrderId("S1"),
        patient_id=visit.patient_id,
        place=visit.place,
        test=TestCode("LFT"),
        draw_id=visit.draw_id,
        tube=TubeCode("HEPG"),
        draw_position=1,
        drawn_s=visit.draw_s,
        collector="AB",
        limit_s=clock(limit),
    )
    past = Past(phlebotomist=0, stops=(visit,), place=visit.place, free_s=visit.depart_s)
    replan = Replan(parent=1, now_s=visit.depart_s, past=(past,), addons=(addon,))
    return replace(problem, replan=replan), visit


@pytest.mark.parametrize(("limit", "codes"), [("06:10", []), ("06:09:59", ["addon-late"])])
def test_tube_must_be_in_the_laboratory_by_the_limit(limit: str, codes: list[str]) -> None:
    problem, visit = with_addon(limit)
    given = replace(visit, tubes=(replace(visit.tubes[0], handover=1),))
    # The courier of 06:00 is there at 06:10.
    plan = make_plan([given, make_handover()])
    assert [finding.code for finding in late_addons(problem, plan)] == codes


def test_tube_that_nobody_gives_away_is_late() -> None:
    problem, visit = with_addon("07:00")
    assert [finding.code for finding in late_addons(problem, make_plan([visit]))] == ["addon-late"]
