"""One more hand-over is put wherever a collector has just drawn: before a break and before another hand-over too."""

from __future__ import annotations

import pytest

from planner.domain.orders import TimeWindow
from planner.domain.plan import Break, Handover, Visit
from planner.domain.price_policy import PricePolicy
from planner.scheduling import schedule
from planner.scheduling.search.handovers import tidy_handovers
from planner.scheduling.timing.instance import BREAK, CollectorData, Instance
from planner.scheduling.timing.solution import Evaluator, Solution
from planner.scheduling.timing.timing import Stops
from planner.solving.params import SolveParams
from tests.reference.tiny import random_round
from tests.reference.to_planner import to_planner
from tests.unit.scheduling.rounds_in_numbers import BASE, courier, instance, specimen, station, visit

pytestmark = pytest.mark.slow


def tidied(numbers: Instance, stops: Stops) -> Solution:
    evaluator = Evaluator(numbers)
    solution = evaluator.solution((stops,))
    assert solution is not None
    return tidy_handovers(evaluator, solution, [0])


def test_specimens_are_given_away_before_a_break_and_do_not_wait_for_its_end() -> None:
    # Bed 0 is over at 310, the station beside it takes its tube by 370: in the laboratory at 370, not with the other's.
    # Break until 670, bed 1 until 980, back at the station (10 s) until 1050: arrivals 370 + 1050.
    rested = CollectorData(
        node=BASE, from_s=0, until_s=100_000, break_s=300, break_window=TimeWindow(earliest_s=0, latest_s=500)
    )
    numbers = instance([visit(1), visit(2)], [station(1, transit_s=0)], [rested], prices=PricePolicy(arrival_pct=30))
    best = tidied(numbers, (0, BREAK, 1, ~0))
    assert best.routes == ((0, ~0, BREAK, 1, ~0),)
    assert best.timings[0].arrival == 370 + 1050


@pytest.mark.parametrize(("pct", "is_made"), [(21, False), (22, True)])
def test_hand_over_must_earn_its_way(pct: int, is_made: bool) -> None:
    # As above. Without it both tubes are in at 990, with it at 370 and 1050: 560 s sooner. Time and finish are each
    # 60 s more, 12 000 hundredths of a second: 560 * 21 is less, 560 * 22 more.
    rested = CollectorData(
        node=BASE, from_s=0, until_s=100_000, break_s=300, break_window=TimeWindow(earliest_s=0, latest_s=500)
    )
    numbers = instance([visit(1), visit(2)], [station(1, transit_s=0)], [rested], prices=PricePolicy(arrival_pct=pct))
    assert (tidied(numbers, (0, BREAK, 1, ~0)).routes == ((0, ~0, BREAK, 1, ~0),)) == is_made


def test_tubes_that_need_not_go_by_hand_do_not_wait_for_those_that_must() -> None:
    # Needed by 100. The courier brings all at 5000: 4 * 4900 weighted seconds late. The station beside the bed takes
    # what may go by it at 370 (weight 3: 810), and only the rest is as late as before (weight 1: 4900).
    both = (specimen(need_weight=3), specimen(by_hand=True, need_weight=1))
    numbers = instance(
        [visit(1, specimens=both, need_by_s=100)], [station(1, transit_s=0), courier(2, 5000, transit_s=0)]
    )
    best = tidied(numbers, (0, ~1))
    assert best.routes == ((0, ~0, ~1),)
    assert best.timings[0].delivery == 810 + 4900


@pytest.mark.parametrize("seed", [10402, 10755])
def test_second_handover_to_one_courier_does_not_cost_the_proofs(seed: int) -> None:
    # The exact model knows one hand-over for each departure. In the first round one takes no time, so that a needless
    # one costs nothing in any goal. In the second it is not needless: a break is taken where the stop before it is, and
    # from the courier's shelf the way on is shorter.
    outcome = schedule(*to_planner(random_round(seed, max_visits=8)), SolveParams(effort="quick"))
    assert outcome.trouble == ()


@pytest.mark.parametrize("seed", [12776])
def test_nobody_walks_to_a_handover_with_nothing_only_to_rest_nearer_to_the_next_bed(seed: int) -> None:
    # A break is taken where the stop before it is. An errand before it, with an empty tray, would shorten the way on.
    problem, draws = to_planner(random_round(seed, max_visits=8))
    plan = schedule(problem, draws, SolveParams(effort="quick")).plan
    assert any(isinstance(stop, Break) for route in plan.routes for stop in route.stops)
    for route in plan.routes:
        taking = {tube.handover for stop in route.stops if isinstance(stop, Visit) for tube in stop.tubes}
        assert all(n in taking for n, stop in enumerate(route.stops) if isinstance(stop, Handover))
