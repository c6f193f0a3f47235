"""The account of the mornings: what is compared with walking on, and which loss is the planner's."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.draws import Draw
from planner.domain.orders import OrderId
from planner.domain.problem import Problem
from planner.domain.revisions.events import Event, EventId, PhlebotomistLost
from planner.prepared import prepare_round
from planner.solving.params import SolveParams
from tests.builders import clock, make_order, make_problem
from tests.mornings.in_vain import causes, saved_by_going_straight
from tests.mornings.two_visits import agree
from tests.mornings.walk_on import _works
from tests.reference.tiny import TinyOrder, TinyOutlet, TinyPerson, TinyRound, TinyVisit
from tests.unit.scheduling.test_trays import holding, tube


def serial() -> tuple[Problem, tuple[Draw, ...]]:
    """A round with one patient whose test is drawn at 05:30 and at 06:30, 15 min more or less between them."""
    orders = [
        make_order(f"O{n}", "P1", "CBC", series="S", collect_at_s=clock(at)) for n, at in ((1, "05:30"), (2, "06:30"))
    ]
    problem = make_problem(orders)
    draws = prepare_round(problem, SolveParams(effort="quick")).draws
    assert [draw.request.orders[0].id for draw in draws] == ["O1", "O2"]
    return problem, draws


@pytest.mark.parametrize(
    ("second", "expected"), [("06:15", True), ("06:14:59", False), ("06:45", True), ("06:45:01", False)]
)
def test_gap_of_a_series_is_that_of_its_stated_times_within_the_tolerance(second: str, expected: bool) -> None:
    problem, draws = serial()
    assert problem.policy.windows.drug_tolerance_s == 15 * 60
    assert agree(problem, draws, {0: clock("05:30"), 1: clock(second)}) is expected


@pytest.mark.parametrize(("takes", "expected"), [("free", False), ("freehand", True)])
def test_walk_gives_everything_away_what_goes_by_hand_too(takes: str, expected: bool) -> None:
    plain = TinyOrder(priority="routine", by_hand=False, stability_s=None)
    bed = TinyVisit(
        bed="B1", lead_s=0, service_s=300, starts=((0, 9000),), orders=(plain, replace(plain, by_hand=True))
    )
    who = TinyPerson(place="B1", from_s=0, until_s=9000, skills=frozenset())
    outlet = TinyOutlet(place="B1", kind="carried", departures_s=(), transit_s=60)
    tiny = TinyRound(walk_s={}, visits=(bed,), outlets=(outlet,), people=(who,), handover_s=60, max_sends=6)
    assert _works(tiny, who, [("bed", 0, ""), ("out", 0, takes)]) is expected


def test_two_at_one_bed_at_once_do_not_agree() -> None:
    problem, draws = serial()
    apart = tuple(
        replace(d, request=replace(d.request, orders=tuple(replace(o, series=None) for o in d.request.orders)))
        for d in draws
    )
    begin_s, stay_s = clock("06:00"), draws[0].service_s
    assert agree(problem, apart, {0: begin_s, 1: begin_s + stay_s})
    assert not agree(problem, apart, {0: begin_s, 1: begin_s + stay_s - 1})
    assert not agree(problem, apart, {1: begin_s, 0: begin_s + stay_s - 1})
    assert agree(problem, apart, {0: begin_s})


@pytest.mark.parametrize(("minutes", "is_fault"), [(25, True), (24, False)])
def test_loss_that_going_straight_would_have_saved_is_a_fault(minutes: int, is_fault: bool) -> None:
    # Drawn at 05:10; by the tube station it is in the laboratory at 05:34:50 (see tests/unit/scheduling/test_trays.py).
    problem = holding(tube(minutes))
    lost = frozenset({OrderId("O1")})
    assert bool(saved_by_going_straight(problem, lost)) is is_fault
    assert saved_by_going_straight(problem, frozenset()) == []


def test_cause_of_a_loss_is_what_was_heard() -> None:
    lost = frozenset({OrderId("O1")})
    assert causes(holding(tube(24)), "stat", lost) == {"O1": "its collector slower than planned"}
    assert causes(holding(tube(24)), "courier", lost) == {"O1": "courier delayed"}
    assert causes(holding(tube(19)), "stat", lost) == {"O1": "told when it was too old already"}
    assert causes(holding(tube(240), free="09:00"), "end", lost) == {
        "O1": "its collector's shift ended with it in the tray"
    }
    out = holding(tube(240))
    assert out.replan is not None
    out = replace(
        out,
        replan=replace(out.replan, log=(Event(id=EventId("2-1"), said_s=0, what=PhlebotomistLost(phlebotomist=0)),)),
    )
    assert causes(out, "lost", lost) == {"O1": "its collector is out"}
