"""What is in the trays: given away in time, given away too old, or left with somebody who goes nowhere any more."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.draws import Tube
from planner.domain.orders import OrderId
from planner.domain.places import PlaceId
from planner.domain.plan import Outcome, PlannedTube, Route
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past, Replan
from planner.exporters.view.context import ViewContext
from planner.exporters.view.lists import decision_lines
from planner.exporters.view.texts import TextCleaner
from planner.scheduling.rounds.tray_loads import tray_loads
from planner.scheduling.rounds.trays import lost_in_trays, settled_trays
from tests.builders import clock, make_problem
from tests.replan_builders import make_drawn_tube, make_plan, make_visit

# Couriers leave at 06:00, 07:00, 08:00, 09:00, ten minutes to the laboratory; P1's tube was drawn at 05:10. She stands
# at B1, free at 05:30: the courier of 06:00 is the first that she can meet, the tube station is 50 s away (3 min).


def tube(stability_min: int | None, *, by_hand: bool = False, order: str = "O1") -> Tube:
    handling = frozenset(make_problem().catalogue.tests["PFN"].handling) if by_hand else frozenset()
    stability_s = None if stability_min is None else 60 * stability_min
    return make_drawn_tube(["CBC"], [order], "EDTA", stability_s=stability_s, handling=handling)


def holding(*tubes: Tube, free: str = "05:30", until: str = "09:00", station: bool = True) -> Problem:
    problem = make_problem()
    visit = make_visit(problem, ["O1"], "05:10", outcome=Outcome.COLLECTED)
    visit = replace(visit, tubes=tuple(PlannedTube(tube=t, handover=None) for t in tubes))
    past = (Past(phlebotomist=0, stops=(visit,), place=PlaceId("B1"), free_s=clock(free)),)
    staff = tuple(replace(who, until_s=clock(until)) for who in problem.staff)
    pickups = tuple(p for p in problem.pickups if p.departures_s or (station and p.place == "STATION"))
    replan = Replan(parent=1, now_s=clock("05:30"), past=past)
    return replace(problem, replan=replan, staff=staff, pickups=pickups)


def test_nothing_is_carried_before_a_round_has_begun() -> None:
    assert list(tray_loads(make_problem())) == []


def test_a_tube_that_can_be_in_time_keeps_its_limit() -> None:
    # By the station: 05:30 + 50 s + 60 s hand-over + 180 s = 05:34:50, 24 min 50 s after the draw.
    (load,) = settled_trays(holding(tube(25)))
    assert load.too_old == frozenset()
    (old,) = settled_trays(holding(tube(24)))
    assert old.too_old == {tube(24)}


def test_a_tube_that_must_go_by_hand_waits_for_the_courier() -> None:
    # 06:10 is 60 min after the draw.
    assert settled_trays(holding(tube(60, by_hand=True)))[0].too_old == frozenset()
    assert settled_trays(holding(tube(59, by_hand=True)))[0].too_old == {tube(59, by_hand=True)}


def test_only_the_tube_that_is_too_old_loses_its_limit() -> None:
    young = replace(tube(240), draw_position=2)
    (load,) = settled_trays(holding(tube(20), young))
    assert load.too_old == {tube(20)}
    assert load.groups() == ((young,), (tube(20),))


def test_who_has_no_time_left_gives_nothing_away() -> None:
    # The way to the shelf is 40 s and the hand-over 60 s: her shift is over a minute after she is free.
    assert settled_trays(holding(tube(240), until="05:31")) == ()


def test_tube_of_an_order_that_is_drawn_again_is_not_carried() -> None:
    problem = holding(tube(240))
    assert problem.replan is not None
    past = problem.replan.past[0]
    visit = replace(past.stops[0], order_ids=(), tried=(OrderId("O1"),), outcome=Outcome.RECOLLECT)
    again = replace(problem, replan=replace(problem.replan, past=(replace(past, stops=(visit,)),)))
    assert list(tray_loads(again)) == []


def test_specimen_of_a_visit_that_nobody_reported_is_lost_only_if_it_was_drawn() -> None:
    problem = holding(tube(20))
    assert problem.replan is not None
    past = problem.replan.past[0]
    for assumed, begins in ((frozenset[int](), "drawn at 05:10"), (frozenset({0}), "if it was made as planned, which")):
        replan = replace(problem.replan, past=(replace(past, assumed=assumed),))
        of = replace(problem, replan=replan)
        (lost,) = lost_in_trays(of, [Route(phlebotomist=0, stops=past.stops)])
        assert lost.detail.startswith(begins)
        (line,) = decision_lines(
            ViewContext(of, make_plan(past.stops, unplanned=(lost,)), {}, TextCleaner()), needs_decision=True
        )
        assert line.what == ("If drawn, too old on arrival" if assumed else "Drawn, but too old on arrival")
