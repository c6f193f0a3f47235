"""The round as the last sheet has it: what is kept, in which order, and what gives way where it cannot be kept."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from planner.domain.goals import Part
from planner.domain.orders import TimeWindow
from planner.domain.places import Pickup, PickupKind, PlaceId
from planner.domain.price_policy import PricePolicy
from planner.domain.problem import Problem
from planner.domain.revisions.replan import PromisedPause, Replan
from planner.scheduling.rounds.kept import kept_round
from planner.scheduling.search.estimates import Estimator
from planner.scheduling.search.recreate import first_round
from planner.scheduling.timing.instance import (
    BREAK,
    CollectorData,
    GapData,
    Instance,
    PickupData,
    PromiseData,
    VisitData,
)
from planner.scheduling.timing.solution import Evaluator, part_values
from planner.scheduling.timing.timing import Stops
from tests.builders import make_problem
from tests.unit.scheduling.rounds_in_numbers import BASE, courier, instance, specimen, station, visit

# Beds are the nodes 1 to 5, ten seconds apart, the shelf of the courier is node 6 and the tube station node 7. A visit
# takes 300 s, a hand-over 60 s. A hand-over at pickup n is the stop ~n of a route.
SHELF, STATION = ~0, ~1
PICKUPS = (courier(6, 3000, 6000), station(7))
KINDS = {SHELF: ("PICKUP", PickupKind.COURIER), STATION: ("STATION", PickupKind.TUBE)}
ONE = CollectorData(node=BASE, from_s=0, until_s=100_000)


def promised(node: int, position: int, *windows: tuple[int, int], collector: int = 0, **changes: Any) -> VisitData:
    promise = PromiseData(collector=collector, position=position, start_s=0)
    return visit(node, *windows, promise=promise, **changes)


def tray() -> VisitData:
    return visit(BASE, (0, 0), service_s=0, is_tray=True, weight=1_000_000)


def gone_on(*pauses: tuple[int, int | None], collector: int = 0) -> Problem:
    """Return a round whose last sheet has hand-overs, or the break (None), after so many visits."""
    places = [("BASE", None) if stop is None else KINDS[stop] for _before, stop in pauses]
    return make_problem(
        pickups=[Pickup(place=PlaceId(place), kind=kind, departures_s=(3000, 6000)) for place, kind in KINDS.values()],
        replan=Replan(
            parent=1,
            now_s=0,
            past=(),
            pauses=tuple(
                PromisedPause(phlebotomist=collector, num_before=before, place=PlaceId(place), kind=kind)
                for (before, _stop), (place, kind) in zip(pauses, places, strict=True)
            ),
        ),
    )


def kept(problem: Problem, given: Instance) -> tuple[Stops, ...]:
    found = kept_round(problem, Evaluator(given))
    assert found is not None
    return found.routes


def of(*visits: VisitData, pickups: tuple[PickupData, ...] = PICKUPS, **changes: Any) -> Instance:
    return instance(visits, pickups, **changes)


def test_round_that_has_not_begun_has_nothing_to_keep() -> None:
    assert kept_round(make_problem(), Evaluator(of(visit(1)))) is None


def test_visits_and_hand_overs_keep_the_order_of_the_last_sheet() -> None:
    # Promised: bed 3, bed 1, station, bed 2, station; walked by the shortest way it would be 1, 2, 3.
    beds = (promised(1, 1), promised(2, 2), promised(3, 0))
    assert kept(gone_on((2, STATION), (3, STATION)), of(*beds)) == ((2, 0, STATION, 1, STATION),)


def test_the_tray_is_first_and_is_given_away_where_it_was_promised() -> None:
    assert kept(gone_on((0, STATION), (1, STATION)), of(promised(1, 0), tray())) == ((1, STATION, 0, STATION),)


def test_visit_that_no_longer_fits_is_left_to_be_placed_anew() -> None:
    # Bed 1 was promised after bed 2, whose stay lasts until 320 s; now it must begin by 100 s: it goes first.
    beds = (promised(1, 1, (0, 100)), promised(2, 0))
    assert kept(gone_on((2, STATION)), of(*beds)) == ((0, 1, STATION),)


def test_visit_that_fits_nowhere_is_left_out_and_the_rest_stays() -> None:
    # Bed 5 is 50 s away and must have begun by 20 s.
    beds = (promised(5, 0, (0, 20)), promised(2, 1), promised(1, 2))
    assert kept(gone_on((3, STATION)), of(*beds)) == ((1, 2, STATION),)


def test_new_visit_comes_between_what_was_promised() -> None:
    (route,) = kept(gone_on((2, STATION)), of(promised(1, 0), promised(5, 1), visit(3)))
    assert [stop for stop in route if stop >= 0 and stop != 2] == [0, 1]
    assert 2 in route
    assert route[-1] == STATION


def test_visits_of_who_cannot_make_them_go_to_another() -> None:
    # Both beds were the first collector's; bed 1 now needs the second, who had nothing.
    beds = (promised(1, 0, able=frozenset({1})), promised(2, 1, able=frozenset({0, 1})))
    first, second = kept(gone_on((2, STATION)), of(*beds, collectors=(ONE, ONE)))
    assert first == (1, STATION)
    assert second[0] == 0


def test_pauses_are_those_of_the_person_whom_they_were_promised_to() -> None:
    beds = (promised(1, 0, able=frozenset({0, 1})), promised(2, 0, collector=1, able=frozenset({0, 1})))
    routes = kept(gone_on((1, STATION), collector=1), of(*beds, collectors=(ONE, ONE)))
    assert routes[1] == (1, STATION)


def test_hand_overs_alone_are_no_route() -> None:
    # Everything that was to come is cancelled: nobody walks to the station with an empty tray.
    assert kept(gone_on((1, STATION), (2, SHELF)), of(visit(1, (0, 0), able=frozenset()))) == ((),)


def test_hand_over_at_a_place_that_is_no_more_is_forgotten() -> None:
    problem = gone_on((1, SHELF), (1, STATION))
    problem = replace(problem, pickups=problem.pickups[1:])
    assert kept(problem, of(promised(1, 0), pickups=(station(7),))) == ((0, ~0),)


def test_hand_over_that_its_courier_made_impossible_gives_way_and_later_ones_stay() -> None:
    # What is in the tray may go by hand only, to the courier; promised were the station, then the shelf.
    carried = replace(tray(), specimens=(specimen(by_hand=True),))
    beds = (promised(1, 0), carried)
    assert kept(gone_on((0, STATION), (1, SHELF)), of(*beds))[0][0] == 1
    assert SHELF in kept(gone_on((0, STATION), (1, SHELF)), of(*beds))[0]
    # The last courier has left: neither the tray nor a route through the shelf can be kept, but bed 1 is drawn.
    late = (courier(6, 0), station(7))
    (route,) = kept(gone_on((0, STATION), (1, SHELF)), of(*beds, pickups=late))
    assert 0 in route
    assert 1 not in route


def test_tray_that_no_promised_hand_over_saves_is_given_away_at_once() -> None:
    # Promised is the shelf, whose courier is in the laboratory at 3600 s; the tray keeps for 400 s: station first.
    hurried = replace(tray(), specimens=(specimen(limit_s=400),))
    (route,) = kept(gone_on((1, SHELF)), of(promised(1, 0), hurried))
    assert route[:2] == (1, STATION)
    assert 0 in route


def test_round_whose_series_can_no_longer_be_kept_keeps_the_rest() -> None:
    # The second draw must begin 600 s after the first at the earliest, and before 500 s: it is placed anew, or left.
    beds = (promised(1, 0), promised(1, 0, (0, 500), collector=1, able=frozenset({1})), promised(2, 1))
    gap = GapData(first=0, second=1, least_s=600, most_s=700)
    routes = kept(gone_on((2, STATION)), of(*beds, collectors=(ONE, ONE), gaps=(gap,)))
    assert routes == ((0, 2, STATION), ())


def test_break_stays_where_it_was_promised() -> None:
    # Owed: the route ends after the last second at which she may begin her break.
    rests = replace(ONE, break_s=600, break_window=TimeWindow(earliest_s=0, latest_s=1000))
    beds = (promised(1, 0), promised(2, 1), promised(3, 2))
    assert kept(gone_on((1, None), (3, STATION)), of(*beds, collectors=(rests,))) == ((0, BREAK, 1, 2, STATION),)
    assert BREAK not in kept(gone_on((1, None), (3, STATION)), of(*beds))[0]  # nobody owes one any more


# A moved stop must earn its price in lateness


def promised_to_the_first(change_price: int) -> Evaluator:
    """Two people; the visit is promised to the first, who is there 1000 s late; the second would be in time."""
    people = (CollectorData(node=0, from_s=1000, until_s=20_000), CollectorData(node=0, from_s=0, until_s=20_000))
    mine = visit(
        1,
        targets=((10, 1),),
        able=frozenset({0, 1}),
        promise=PromiseData(collector=0, position=0, start_s=1010),
    )
    return Evaluator(
        instance([mine], [station(2)], people, change_s=600, prices=PricePolicy(moved_stop_s=change_price))
    )


@pytest.mark.parametrize(("price", "who"), [(0, 1), (999, 1), (1001, 0)])
def test_visit_goes_to_another_only_for_more_lateness_than_its_price(price: int, who: int) -> None:
    # from 1000 s the first is there at 1010, 1000 s past the target of 10; the second at 10
    evaluator = promised_to_the_first(price)
    ways = [evaluator.solution(routes) for routes in (((0, ~0), ()), ((), (0, ~0)))]
    best = min((way for way in ways if way is not None), key=lambda way: way.values)
    assert [bool(stops) for stops in best.routes].index(True) == who
    parts = [part_values(evaluator, way) for way in ways if way is not None]
    assert [(its[Part.LATE], its[Part.CHANGES]) for its in parts] == [(1000, 0), (0, 1)]


@pytest.mark.parametrize("price", [0, 999, 1001])
def test_search_weighs_a_moved_stop_as_the_evaluator_does(price: int) -> None:
    evaluator = promised_to_the_first(price)
    found = first_round(Estimator(evaluator))
    assert [bool(stops) for stops in found.routes].index(True) == (0 if price == 1001 else 1)
