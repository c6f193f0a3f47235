"""What must stay undone for want of hands is exact for plain rounds, and never above what brute force leaves."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.orders import TimeWindow
from planner.scheduling.exact.capacity import least_uncollected
from planner.scheduling.rounds.numbers import build_instance
from planner.scheduling.timing.instance import CollectorData
from planner.solving.params import SolveParams
from tests.reference.brute_force import optimum
from tests.reference.tiny import TinyRound, random_round
from tests.reference.to_planner import to_planner
from tests.unit.scheduling.rounds_in_numbers import instance, specimen, station, visit

PARAMS = SolveParams(effort="quick")


def bound(numbers) -> int:
    return least_uncollected(numbers, PARAMS, 30.0)


def shift(from_s: int, until_s: int) -> CollectorData:
    return CollectorData(node=0, from_s=from_s, until_s=until_s)


def test_hour_holds_seven_of_ten_visits_of_seven_minutes_and_half_a_minute_of_walk() -> None:
    # 3600 - 60 for a hand-over = 3540; 3540 / (420 + 30) = 7.9: three of ten, of weight 1 each, are left.
    beds = [visit(n, service_s=420) for n in range(1, 11)]
    assert bound(instance(beds, [station(0)], [shift(0, 3600)], step_s=30)) == 3


def test_light_visits_are_left_before_heavy_ones() -> None:
    # Room for one of three (1000 - 60 = 940; each takes 500 + 10): the heavy one; 5 + 5 are left.
    beds = [visit(n, service_s=500, weight=w) for n, w in ((1, 5), (2, 9), (3, 5))]
    assert bound(instance(beds, [station(0)], [shift(0, 1000)])) == 10


def test_narrow_window_that_all_want_is_counted_by_itself() -> None:
    # Starts from 5000 to 5300, 300 s each: stays lie within 5000 to 5600, 600 s and a walk of 10 s before. Two of
    # (300 + 10) do not fit into 610: one is made by this count, though two could be if beds shared a place.
    beds = [visit(n, (5000, 5300)) for n in range(1, 5)]
    assert bound(instance(beds, [station(0)])) == 3


def test_nothing_is_claimed_where_there_is_time_enough() -> None:
    assert bound(instance([visit(1), visit(2)], [station(3)])) == 0


def test_visit_that_nobody_may_make_stays_undone() -> None:
    assert bound(instance([visit(1, able=frozenset()), visit(2)], [station(3)])) == 1


def test_visit_whose_specimens_never_arrive_fresh_stays_undone() -> None:
    # The station takes 180 s and a hand-over 60 s; 100 s of stability are too few wherever it is drawn.
    hopeless = visit(1, weight=7, specimens=(specimen(limit_s=100),))
    assert bound(instance([hopeless, visit(2)], [station(3)])) == 7


def test_visit_that_nobody_reaches_stays_undone_beside_a_break() -> None:
    # The bed is 50 steps of 10 s from the start, one from the next bed, and must be begun by 400.
    resting = replace(shift(0, 9000), break_s=60, break_window=TimeWindow(earliest_s=2000, latest_s=4000))
    far = visit(50, (0, 400), weight=7)
    assert bound(instance([far, visit(49)], [station(48)], [resting])) == 7
    assert bound(instance([visit(50, (0, 500), weight=7), visit(49)], [station(48)], [resting])) == 0


def test_break_that_another_bed_makes_possible_is_not_held_against_a_visit() -> None:
    # The break starts at 2000. From the start the bed is reached at 2000 + 60 + 500, too late; from the bed beside it,
    # drawn before the break, at 2000 + 60 + 10.
    resting = replace(shift(0, 9000), break_s=60, break_window=TimeWindow(earliest_s=2000, latest_s=2000))
    far = visit(50, (2050, 2400), weight=7)
    assert bound(instance([far, visit(49)], [station(48)], [resting])) == 0


def _short(tiny: TinyRound, share: float) -> TinyRound:
    return replace(
        tiny,
        people=tuple(replace(p, until_s=p.from_s + int(share * (p.until_s - p.from_s))) for p in tiny.people),
    )


@pytest.mark.slow
@pytest.mark.parametrize("with_breaks", [False, True])
@pytest.mark.parametrize("share", [0.25, 0.5])
def test_never_above_what_brute_force_leaves(share: float, with_breaks: bool) -> None:
    claims = 0
    for seed in range(40):
        tiny = _short(random_round(seed, max_visits=4, with_breaks=with_breaks), share)
        claimed = bound(build_instance(*to_planner(tiny)))
        assert claimed <= optimum(tiny)[0], seed
        claims += claimed > 0
    assert claims >= 3
