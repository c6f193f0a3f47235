"""Few stops move: room is made for what is urgent as a lead would make it, and what moved for nothing moves back."""

from __future__ import annotations

from planner.domain.goals import Part
from planner.domain.orders import TimeWindow
from planner.domain.price_policy import PricePolicy
from planner.scheduling.search.estimates import Estimator
from planner.scheduling.search.few_changes import restored, with_room
from planner.scheduling.timing.instance import CollectorData, PromiseData, VisitData
from planner.scheduling.timing.solution import Evaluator, part_values
from planner.scheduling.timing.timing import Stops
from tests.unit.scheduling.rounds_in_numbers import BASE, instance, station, visit

# Beds are nodes 1 to 9, ten seconds apart; the station is node 10, a visit takes 300 s, a hand-over 60 s.
PRICES = PricePolicy(moved_stop_s=600)
BOTH = frozenset({0, 1})


def promised(node: int, collector: int, position: int) -> VisitData:
    return visit(node, able=BOTH, promise=PromiseData(collector=collector, position=position, start_s=2000))


def evaluator(visits: list[VisitData], until_s: tuple[int, int]) -> Evaluator:
    people = tuple(CollectorData(node=BASE, from_s=0, until_s=end_s) for end_s in until_s)
    return Evaluator(instance(visits, (station(10),), people, change_s=600, prices=PRICES))


def full_round() -> tuple[Evaluator, tuple[Stops, Stops]]:
    """Six beds of the first, whose shift is full, one of the other, who has time; and a stat that stands last.

    Seven visits of the first with the way and the hand-over take 7 * 300 + 100 + 60 = 2260 s of a shift of 2000.
    """
    beds = [promised(node, 0, node - 1) for node in range(1, 7)]
    stat = visit(3, able=BOTH, weight=100, targets=((100, 10),))
    return evaluator([*beds, promised(7, 1, 0), stat], (2000, 4000)), ((0, 1, 2, 3, 4, 5, ~0), (6, 7, ~0))


def test_room_is_made_for_a_stat_by_one_stop_that_another_takes() -> None:
    given, routes = full_round()
    before = given.solution(routes)
    assert before is not None
    after = with_room(Estimator(given), before)
    values = part_values(given, after)
    # The stat begins at 30 s with either of them. With the other nobody moves; with the first one stop would.
    assert values[Part.LATE] == 0
    assert values[Part.CHANGES] == 0
    assert after.routes[1][0] == 7


def test_who_is_full_gives_up_one_stop_for_a_stat_that_the_other_may_not_draw() -> None:
    given, routes = full_round()
    data = given.instance
    mine = visit(3, able=frozenset({0}), weight=100, targets=((100, 10),))
    given = Evaluator(
        instance([*data.visits[:-1], mine], data.pickups, data.collectors, change_s=data.change_s, prices=PRICES)
    )
    before = given.solution((routes[0], (6, ~0)))
    assert before is not None
    after = with_room(Estimator(given), before)
    values = part_values(given, after)
    assert sum(stop >= 0 for stops in after.routes for stop in stops) == 8
    assert (values[Part.LATE], values[Part.CHANGES]) == (0, 1)


def test_stop_that_moved_for_less_than_its_price_moves_back() -> None:
    given = evaluator([promised(1, 0, 0), promised(2, 0, 1), promised(3, 1, 0), promised(4, 1, 1)], (9000, 9000))
    exchanged = given.solution(((0, 3, ~0), (2, 1, ~0)))
    assert exchanged is not None
    assert part_values(given, exchanged)[Part.CHANGES] == 2
    back = restored(Estimator(given), exchanged)
    assert back.routes == ((0, 1, ~0), (2, 3, ~0))


def test_two_that_can_only_go_back_together_do() -> None:
    # Both shifts hold two visits: 2 * 300 + 60 + 10 * 10 = 760 s; a third would end at 1060.
    given = evaluator([promised(1, 0, 0), promised(2, 0, 1), promised(3, 1, 0), promised(4, 1, 1)], (800, 800))
    exchanged = given.solution(((0, 3, ~0), (2, 1, ~0)))
    assert exchanged is not None
    assert restored(Estimator(given), exchanged).routes == ((0, 1, ~0), (2, 3, ~0))


def test_stop_that_earned_its_price_stays() -> None:
    late = VisitData(
        node=2,
        service_s=300,
        windows=(TimeWindow(earliest_s=0, latest_s=9000),),
        targets=((50, 10),),
        weight=1,
        specimens=(),
        need_by_s=None,
        able=BOTH,
        promise=PromiseData(collector=0, position=1, start_s=330),
    )
    given = evaluator([promised(1, 0, 0), late, promised(3, 1, 0)], (9000, 9000))
    moved = given.solution(((0, ~0), (1, 2, ~0)))
    assert moved is not None
    assert restored(Estimator(given), moved).routes == moved.routes
