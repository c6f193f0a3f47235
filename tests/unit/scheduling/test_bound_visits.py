"""Rules between visits and of the tray: gaps of a series, one at the bed, tubes carried, turns, promises."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import permutations, product

import pytest

from planner.domain.goals import Tier
from planner.scheduling.exact import constraints, variables
from planner.scheduling.exact.model import build_model
from planner.scheduling.exact.variables import num_copies
from planner.scheduling.search.estimates import Estimator
from planner.scheduling.search.recreate import first_round
from planner.scheduling.timing.instance import CollectorData, GapData, Instance, PromiseData, SpecimenData
from planner.scheduling.timing.solution import Evaluator, Solution
from planner.scheduling.timing.timing import Stops, time_route
from planner.solving.cp_sat import run_cp_sat
from planner.solving.outcome import SolveStatus
from planner.solving.params import SolveParams
from tests.unit.scheduling.rounds_in_numbers import BASE, courier, instance, station, visit

TWO = (CollectorData(node=BASE, from_s=0, until_s=20_000), CollectorData(node=BASE, from_s=0, until_s=20_000))
BOTH = frozenset({0, 1})


def gap(least_s: int, most_s: int) -> GapData:
    return GapData(first=0, second=1, least_s=least_s, most_s=most_s)


def starts(solution: Solution | None) -> dict[int, int] | None:
    if solution is None:
        return None
    return {
        stop: timing.starts_s[n]
        for stops, timing in zip(solution.routes, solution.timings, strict=True)
        for n, stop in enumerate(stops)
        if stop >= 0
    }


def test_second_of_a_series_waits_for_its_gap_whoever_makes_it() -> None:
    # The first starts at 10 after 10 s of walking, the second an hour later, not at 20.
    numbers = instance([visit(1, able=BOTH), visit(2, able=BOTH)], [station(3)], TWO, gaps=(gap(3600, 4000),))
    evaluator = Evaluator(numbers)
    assert starts(evaluator.solution(((0, ~0), (1, ~0)))) == {0: 10, 1: 3610}
    assert starts(evaluator.solution(((0, 1, ~0), ()))) == {0: 10, 1: 3610}


def test_first_of_a_series_waits_when_the_second_cannot_come_soon_enough() -> None:
    # The second opens at 9000; it may come 4000 s after the first at most, which therefore starts at 5000.
    numbers = instance([visit(1), visit(2, (9000, 9500))], [station(3)], gaps=(gap(3600, 4000),))
    assert starts(Evaluator(numbers).solution(((0, 1, ~0),))) == {0: 5000, 1: 9000}


def test_gap_that_no_start_keeps_is_refused() -> None:
    numbers = instance([visit(1, (0, 4000)), visit(2, (9000, 9500))], [station(3)], gaps=(gap(3600, 4000),))
    assert Evaluator(numbers).solution(((0, 1, ~0),)) is None


def test_gap_asks_nothing_of_a_visit_whose_partner_is_left_out() -> None:
    numbers = instance([visit(1), visit(2)], [station(3)], gaps=(gap(3600, 4000),))
    assert starts(Evaluator(numbers).solution(((1, ~0),))) == {1: 20}


def test_one_waits_until_the_other_has_left_the_bed() -> None:
    # Both at bed 1: 10 to 310, then 310 to 610.
    numbers = instance([visit(1, able=BOTH), visit(1, able=BOTH)], [station(3)], TWO, same_bed=((0, 1),))
    assert starts(Evaluator(numbers).solution(((0, ~0), (1, ~0)))) == {0: 10, 1: 310}


@pytest.mark.parametrize(("limit", "is_kept"), [(5, True), (4, False), (None, True)])
def test_tray_holds_what_is_drawn_until_it_is_given_away(limit: int | None, is_kept: bool) -> None:
    # 2 and 3 tubes carried together are 5.
    two, three = (SpecimenData(by_hand=False, limit_s=10**6, need_weight=1, num_tubes=n) for n in (2, 3))
    visits = [visit(1, specimens=(two,)), visit(2, specimens=(three,))]
    numbers = instance(visits, [station(3)], tray_limit=limit)
    assert (time_route(numbers, 0, (0, 1, ~0)) is not None) == is_kept
    assert time_route(numbers, 0, (0, ~0, 1, ~0)) is not None  # 2, then 3


def test_pairs_out_of_turn_are_counted_not_neighbours() -> None:
    # Airborne (4), none (1), contact (2): 4 before 1 and 4 before 2 are wrong, 1 before 2 is right.
    numbers = instance([visit(n, precaution=p) for n, p in ((1, 4), (2, 1), (3, 2))], [station(4)])
    timing = time_route(numbers, 0, (0, 1, 2, ~0))
    assert timing is not None
    assert timing.precautions == 2


@pytest.mark.parametrize(
    ("promise", "changes"),
    [
        (PromiseData(collector=0, position=1, start_s=0), 0),
        (PromiseData(collector=1, position=1, start_s=0), 1),  # somebody else was promised
        (PromiseData(collector=0, position=-1, start_s=0), 1),  # promised before the one that is made before it
        (PromiseData(collector=0, position=1, start_s=-281), 1),  # 320 s, 601 later than promised
        (PromiseData(collector=0, position=1, start_s=-280), 0),
    ],
)
def test_change_is_person_order_or_too_much_later(promise: PromiseData, changes: int) -> None:
    first = visit(1, promise=PromiseData(collector=0, position=0, start_s=0))
    numbers = instance([first, visit(2, promise=promise)], [station(3)], change_s=600)
    timing = time_route(numbers, 0, (0, 1, ~0))
    assert timing is not None
    # Starts: 10, then 310 + 10.
    assert timing.starts_s[:2] == (10, 320)
    assert timing.changes == changes


def random_numbers(seed: int) -> Instance:
    """Three visits, two people, a station: gaps, a shared bed, a tray limit, turns and promises as they come."""
    rng = random.Random(seed)
    visits = []
    for _n in range(3):
        first_s = rng.randrange(0, 1500)
        promise = PromiseData(collector=rng.randrange(2), position=rng.randrange(3), start_s=rng.randrange(0, 1500))
        visits.append(
            visit(
                rng.choice([1, 2, 5]),
                (first_s, first_s + rng.choice([200, 900, 3000])),
                able=rng.choice([BOTH, BOTH, frozenset({0})]),
                targets=((first_s + rng.randrange(0, 400), rng.randint(1, 4)),),
                weight=rng.randint(1, 5),
                precaution=(precaution := rng.choice([0, 1, 1, 2, 4])),
                is_protective=precaution == 0,
                last_s=first_s + 3000,
                promise=promise if rng.random() < 0.5 else None,
                specimens=(
                    SpecimenData(
                        by_hand=False,
                        limit_s=rng.choice([700, 1500, 10**6]),
                        need_weight=1,
                        num_tubes=rng.randint(1, 3),
                    ),
                ),
                need_by_s=rng.choice([None, 1500]),
            )
        )
    least_s = rng.randrange(0, 1200)
    return instance(
        visits,
        [station(4)],
        TWO,
        gaps=(gap(least_s, least_s + rng.choice([60, 300, 900])),) if rng.random() < 0.7 else (),
        same_bed=((1, 2),) if visits[1].node == visits[2].node and rng.random() < 0.8 else (),
        tray_limit=rng.choice([None, 3, 4]),
        change_s=300,
        max_sends=3,
        same_patient=((1, 2),) if visits[1].node == visits[2].node else (),
    )


def all_routes() -> Iterator[tuple[Stops, Stops]]:
    """Every way to give some of three visits to two people, with a hand-over or none after each, one at the end."""
    for who in product((0, 1, None), repeat=3):
        halves = [[i for i in range(3) if who[i] == k] for k in (0, 1)]
        for first, second in product(permutations(halves[0]), permutations(halves[1])):
            yield from product(with_handovers(first), with_handovers(second))


def with_handovers(beds: tuple[int, ...]) -> list[Stops]:
    if not beds:
        return [()]
    routes: list[Stops] = []
    for given in product((False, True), repeat=len(beds) - 1):
        stops: list[int] = []
        for bed, is_given in zip(beds, (*given, True), strict=True):
            stops += [bed, ~0] if is_given else [bed]
        routes.append(tuple(stops))
    return routes


@pytest.mark.parametrize("seed", range(40))
def test_least_schedules_of_all_orders_hold_the_optimum_that_the_solver_proves(seed: int) -> None:
    # The solver may time stops as it likes; the route timing makes each order as early as its rules allow. If that
    # lost something, the solver would find a tier better than every order so timed.
    numbers = random_numbers(seed)
    evaluator = Evaluator(numbers)
    solutions = [s for routes in all_routes() if (s := evaluator.solution(routes)) is not None]
    best = min(solutions, key=lambda s: s.values)
    for tier, value in zip(Tier, best.values, strict=True):
        outcome = run_cp_sat(build_model(numbers, best, tier).model, SolveParams(), deterministic_limit=20.0)
        assert (outcome.status, outcome.objective) == (SolveStatus.OPTIMAL, value), tier


def test_series_finds_its_place_whatever_the_order_of_insertion() -> None:
    # Eight beds near the start, each to come after the bed before it, the far one first. The cheapest gaps of a bed
    # are all on the wrong side of one that is placed already: they are not looked at.
    gaps = tuple(GapData(first=i, second=i + 1, least_s=1, most_s=90_000) for i in range(7))
    numbers = instance([visit(8 - i, weight=1 + i) for i in range(8)], [station(2)], gaps=gaps)
    placed = first_round(Estimator(Evaluator(numbers)))
    assert placed.values[0] == 0
    assert [stop for stop in placed.routes[0] if stop >= 0] == list(range(8))


def test_full_tray_is_emptied_twice_for_the_same_courier() -> None:
    # The tray holds one tube. Both beds are seen when the collector goes to the courier's shelf after each of them,
    # long before the courier comes: to see one bed only is not the least that can be left out.
    numbers = instance([visit(1), visit(2)], [courier(3, 5000)], tray_limit=1)
    evaluator = Evaluator(numbers)
    one, both = evaluator.solution(((0, ~0),)), evaluator.solution(((0, ~0, 1, ~0),))
    assert one is not None and both is not None
    outcome = run_cp_sat(build_model(numbers, one, Tier.LEFT_OUT).model, SolveParams(), deterministic_limit=20.0)
    assert (outcome.status, outcome.objective) == (SolveStatus.OPTIMAL, both.values[0])
    for tier, value in zip(Tier, both.values, strict=True):
        outcome = run_cp_sat(build_model(numbers, both, tier).model, SolveParams(), deterministic_limit=20.0)
        assert (outcome.status, outcome.objective) == (SolveStatus.OPTIMAL, value), tier


def test_full_tray_is_emptied_where_it_can_be_though_a_later_stop_would_be_sooner_in_the_laboratory() -> None:
    # The tube of bed 0 would be in the laboratory sooner by the station at the end than by the courier of 5000, but
    # with it the tray, which holds one, is full at bed 1.
    numbers = instance([visit(1), visit(2)], [station(3), courier(1, 5000)], tray_limit=1)
    timing = time_route(numbers, 0, (0, ~1, 1, ~0))
    assert timing is not None
    assert timing.handovers == ((1,), (), (3,), ())


def test_either_of_two_visits_of_a_patient_may_be_first_whoever_makes_them() -> None:
    # Both are reached at 10. Visit 0 may start until 400, visit 1 at 10 only: only if visit 1 is first are both made.
    numbers = instance([visit(1, (10, 400)), visit(1, (10, 10))], [station(2)], TWO, same_bed=((0, 1),))
    numbers = replace(numbers, visits=tuple(replace(v, able=BOTH) for v in numbers.visits))
    assert starts(Evaluator(numbers).solution(((0, ~0), (1, ~0)))) == {0: 310, 1: 10}


def test_of_two_ways_to_share_a_bed_the_better_is_taken() -> None:
    # Visit 1 has a target: 300 s of waiting for visit 0 would count as late, visit 0 has none.
    numbers = instance(
        [visit(1, able=BOTH), visit(1, able=BOTH, targets=((10, 1),))], [station(2)], TWO, same_bed=((0, 1),)
    )
    solution = Evaluator(numbers).solution(((0, ~0), (1, ~0)))
    assert starts(solution) == {0: 310, 1: 10}
    assert solution is not None and solution.values[1] == 0


def test_two_beds_that_are_both_wanted_at_once_may_both_be_shared_the_other_way_round() -> None:
    # Collector 0 reaches bed 1 (visit 0) at 10 and bed 2 (visit 3) at 620; collector 1 reaches them at 10 (visit 1, at
    # 10 only) and 320 (visit 2). Visit 1 must be first at its bed: visit 0 is then at 310, visit 3 at 620, due by 625.
    # Visit 2 could start at 330, but would keep the bed until 630: it waits until visit 3 is over at 920.
    visits = [visit(1), visit(1, (10, 10)), visit(2, (330, 5000)), visit(2, (620, 625))]
    numbers = instance([replace(v, able=BOTH) for v in visits], [station(3)], TWO, same_bed=((0, 1), (2, 3)))
    solution = Evaluator(numbers).solution(((0, 3, ~0), (1, 2, ~0)))
    assert starts(solution) == {0: 310, 3: 620, 1: 10, 2: 920}


def test_bounds_stay_true_where_a_tray_is_emptied_more_often_than_the_model_knows(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Three beds, one tube in the tray at a time: three hand-overs for one courier, of which the model is left two.
    numbers = instance([visit(1), visit(2), visit(3)], [courier(3, 5000)], tray_limit=1)
    assert num_copies(numbers) == 3
    for module in (constraints, variables):
        monkeypatch.setattr(module, "num_copies", lambda _instance: 2)
    known = Evaluator(numbers).solution(((0, ~0, 1, ~0),))
    assert known is not None
    outcome = run_cp_sat(build_model(numbers, known, Tier.LEFT_OUT).model, SolveParams(), deterministic_limit=20.0)
    assert outcome.bound == 0  # (0, ~0, 1, ~0, 2, ~0) leaves nobody out


@pytest.mark.parametrize(
    ("tray_limit", "copies"),
    [
        (None, 1),
        (8, 1),  # all eight tubes at once
        (7, 4),  # 2 + 16 // 8
        (3, 6),  # 2 + 16 // 4
        (1, 8),  # at most one for each bed
    ],
)
def test_hand_overs_to_one_departure_in_the_model(tray_limit: int | None, copies: int) -> None:
    assert num_copies(instance([visit(1)] * 8, [courier(3, 5000)], tray_limit=tray_limit)) == copies
