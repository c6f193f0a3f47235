"""Work is shared by the time that people are there: what the busiest does above a fair share has its price."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.scheduling import schedule
from planner.scheduling.timing.instance import CollectorData
from planner.scheduling.timing.solution import Evaluator
from planner.solving.params import SolveParams
from tests.reference.tiny import BEGIN_S, TinyOrder, TinyOutlet, TinyPerson, TinyPrices, TinyRound, TinyVisit
from tests.reference.to_planner import to_planner
from tests.unit.scheduling.rounds_in_numbers import BASE, instance, station, visit

pytestmark = pytest.mark.slow

HOUR_S = 3600


@pytest.mark.parametrize(
    ("until_s", "shares", "above"),
    [
        # Both there for an hour: 900 s of 1200 are 300 s above the half.
        ((HOUR_S, HOUR_S), (50, 50), 30_000),
        # Two hours and one, of three: 66 and 33 percent; 90 000 - 66 * 1200.
        ((2 * HOUR_S, HOUR_S), (66, 33), 10_800),
        # One hour and two: 90 000 - 33 * 1200.
        ((HOUR_S, 2 * HOUR_S), (33, 66), 50_400),
    ],
)
def test_share_is_that_of_the_time_there(until_s: tuple[int, int], shares: tuple[int, int], above: int) -> None:
    people = tuple(CollectorData(node=BASE, from_s=0, until_s=end_s) for end_s in until_s)
    numbers = instance([visit(1, able=frozenset({0, 1}))] * 4, [station(2)], people)
    assert numbers.shares_pct == shares
    assert Evaluator(numbers).share([900, 300]) == above


def test_nobody_above_a_share_costs_nothing() -> None:
    numbers = instance([visit(1)], [station(2)])
    assert Evaluator(numbers).share([300]) == 0
    assert Evaluator(numbers).share([0]) == 0


def _beds_in_a_row(price: int) -> TinyRound:
    """Six beds of five minutes in one room, and two people there as long; who goes out walks ten minutes there."""
    places = [*(f"B{i}" for i in range(6)), "OUT0"]
    walk_s = {(a, b): 10 for a in places for b in places if a != b}
    walk_s |= {("BASE", b): 600 for b in places} | {(a, "BASE"): 600 for a in places}
    order = TinyOrder(priority="routine")
    span = (BEGIN_S, BEGIN_S + 2 * HOUR_S)
    return TinyRound(
        walk_s=walk_s,
        visits=tuple(
            TinyVisit(bed=f"B{i}", lead_s=135, service_s=300, starts=(span,), orders=(order,)) for i in range(6)
        ),
        outlets=(TinyOutlet(place="OUT0", kind="carried"),),
        people=(TinyPerson(place="BASE", from_s=BEGIN_S, until_s=BEGIN_S + 3 * HOUR_S),) * 2,
        prices=TinyPrices(arrival_pct=0, finish_pct=0, share=price),
    )


@pytest.mark.parametrize(("price", "visits"), [(0, [0, 6]), (3, [3, 3])])
def test_second_person_goes_out_for_a_fair_share_alone(price: int, visits: list[int]) -> None:
    # The way there costs 660 s with the hand-over; half of 1800 s more than a share, three times, costs 2700 s.
    plan = schedule(*to_planner(_beds_in_a_row(price)), SolveParams(effort="quick")).plan
    assert sorted(len(route.visits) for route in plan.routes) == visits


def test_who_is_there_for_less_time_gets_less() -> None:
    tiny = _beds_in_a_row(3)
    late = replace(tiny.people[1], from_s=BEGIN_S + HOUR_S)
    plan = schedule(*to_planner(replace(tiny, people=(tiny.people[0], late))), SolveParams(effort="quick")).plan
    # Three hours and two: 60 and 40 percent of 1800 s, 1080 and 720. Four beds of the first are 120 s above its share,
    # three of the second 180.
    assert [len(route.visits) for route in plan.routes] == [4, 2]
