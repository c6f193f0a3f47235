"""The earliest schedule of a route: one rule a test, by hand-worked figures."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.orders import TimeWindow
from planner.domain.price_policy import PricePolicy
from planner.scheduling.timing.instance import BREAK, CollectorData
from planner.scheduling.timing.timing import EMPTY, time_route
from tests.builders import clock
from tests.unit.scheduling.rounds_in_numbers import BASE, carried, courier, instance, specimen, station, visit


def test_empty_route_costs_nothing() -> None:
    assert time_route(instance([visit(1)], [station(2)]), 0, ()) is EMPTY


def test_walking_service_and_handing_over_follow_one_another() -> None:
    # 10 walk, 300 at the bed, 10 walk, 60 hand-over: over at 380; 180 s on it is in the laboratory.
    timing = time_route(instance([visit(1)], [station(2)]), 0, (0, ~0))
    assert timing is not None
    assert timing.starts_s == (10, 320)
    assert (timing.finish_s, timing.arrival, timing.time_s) == (380, 560, 80)


def test_worked_example_of_the_docstring() -> None:
    # Good for 60 minutes, could be drawn at 05:05, in the laboratory at 06:15: drawn at 05:15. Nodes in one place.
    fresh = visit(BASE, (clock("05:05"), clock("09:00")), specimens=(specimen(3600),))
    behind = visit(BASE)
    numbers = instance([fresh, behind], [courier(BASE, clock("06:00"), transit_s=900)])
    timing = time_route(numbers, 0, (0, 1, ~0))
    assert timing is not None
    assert timing.starts_s == (clock("05:15"), clock("05:20"), clock("05:25"))
    assert timing.arrival == 2 * clock("06:15")  # both beds' specimens, counted from second 0


@pytest.mark.parametrize(
    ("departures_s", "arrival_s"),
    [((370,), None), ((380,), 980), ((379, 500), 1100), ((100, 380, 500), 980)],
)
def test_courier_takes_what_is_there_at_the_departure(departures_s: tuple[int, ...], arrival_s: int | None) -> None:
    # Given away by 380, the end included; ten minutes on the way.
    timing = time_route(instance([visit(1)], [courier(2, *departures_s)]), 0, (0, ~0))
    assert (None if timing is None else timing.arrival) == arrival_s


def test_specimen_goes_where_it_arrives_first() -> None:
    # The courier leaves at 5000; the station behind has it at 10 + 300 + 10 + 60 + 10 + 60 + 180 = 630.
    timing = time_route(instance([visit(1)], [courier(2, 5000), station(3)]), 0, (0, ~0, ~1))
    assert timing is not None
    assert (timing.handovers, timing.arrival) == (((2,), (), ()), 630)


def test_specimen_for_hand_delivery_never_goes_by_station() -> None:
    hand = visit(1, specimens=(specimen(by_hand=True),))
    assert time_route(instance([hand], [station(2)]), 0, (0, ~0)) is None
    timing = time_route(instance([hand], [station(2), carried(3)]), 0, (0, ~0, ~1))
    assert timing is not None
    assert timing.handovers[0] == (2,)


def test_both_kinds_of_specimen_go_their_own_ways() -> None:
    both = visit(1, specimens=(specimen(), specimen(by_hand=True)))
    timing = time_route(instance([both], [station(2), carried(50, transit_s=0)]), 0, (0, ~0, ~1))
    assert timing is not None
    assert timing.handovers[0] == (1, 2)


@pytest.mark.parametrize("stops", [(0,), (~0, 0), (0, ~0, 1)])
def test_everything_drawn_is_given_away_later(stops: tuple[int, ...]) -> None:
    assert time_route(instance([visit(1), visit(1)], [station(2)]), 0, stops) is None


@pytest.mark.parametrize(("max_sends", "is_allowed"), [(1, False), (2, True), (3, True)])
def test_handover_limit_counts_stops_at_a_station(max_sends: int, is_allowed: bool) -> None:
    numbers = instance([visit(1), visit(1)], [station(2)], max_sends=max_sends)
    assert (time_route(numbers, 0, (0, ~0, 1, ~0)) is not None) is is_allowed


def test_handover_limit_does_not_hold_for_couriers_and_counts_places_apart() -> None:
    with_courier = instance([visit(1), visit(1)], [courier(2, 5000, 9000)], max_sends=1)
    assert time_route(with_courier, 0, (0, ~0, 1, ~0)) is not None
    two_stations = instance([visit(1), visit(1)], [station(2), station(3)], max_sends=1)
    assert time_route(two_stations, 0, (0, ~0, 1, ~1)) is not None


@pytest.mark.parametrize(("limit_s", "is_allowed"), [(549, False), (550, True)])
def test_stability_counts_from_the_start_of_the_visit(limit_s: int, is_allowed: bool) -> None:
    # Start to arrival: 300 + 10 + 60 + 180 = 550, however long one waits.
    numbers = instance([visit(1, specimens=(specimen(limit_s),))], [station(2)])
    assert (time_route(numbers, 0, (0, ~0)) is not None) is is_allowed


def test_stability_waits_before_the_draw_for_a_window_behind() -> None:
    # The second bed opens at 5000, then 300 + 10 + 60 + 180: in at 5550; good for 1000: drawn at 4550.
    fresh, later = visit(1, specimens=(specimen(1000),)), visit(1, (5000, 6000))
    timing = time_route(instance([fresh, later], [station(2)]), 0, (0, 1, ~0))
    assert timing is not None
    assert timing.starts_s == (4550, 5000, 5310)


@pytest.mark.parametrize(
    ("windows", "start_s"),
    [(((0, 10),), 10), (((0, 9),), None), (((0, 9), (50, 60)), 50), (((200, 300),), 200)],
)
def test_visit_starts_in_a_window(windows: tuple[tuple[int, int], ...], start_s: int | None) -> None:
    timing = time_route(instance([visit(1, *windows)], [station(2)]), 0, (0, ~0))
    assert (None if timing is None else timing.starts_s[0]) == start_s


@pytest.mark.parametrize(("until_s", "is_allowed"), [(379, False), (380, True)])
def test_shift_holds_the_last_departure(until_s: int, is_allowed: bool) -> None:
    who = CollectorData(node=BASE, from_s=0, until_s=until_s)
    assert (time_route(instance([visit(1)], [station(2)], [who]), 0, (0, ~0)) is not None) is is_allowed


def test_skill_is_needed() -> None:
    numbers = instance([visit(1, able=frozenset({1}))], [station(2)])
    assert time_route(numbers, 0, (0, ~0)) is None


def test_lateness_and_delivery_are_weighted() -> None:
    # Start at 10, soft ends 4 (weight 2) and 20: 6 s late twice. In at 560, needed by 500: 60 s, weight 3.
    data = visit(1, targets=((4, 2), (20, 5)), need_by_s=500, specimens=(specimen(need_weight=3),))
    timing = time_route(instance([data], [station(2)]), 0, (0, ~0))
    assert timing is not None
    assert (timing.late, timing.delivery) == (12, 180)


def test_what_is_urgent_is_weighed_past_its_time_in_the_laboratory() -> None:
    # Start at 10, wished from 4. In at 560: 60 s past 500, weight 10, and 10 s past 550, weight 4.
    data = visit(1, wish_s=4, specimens=(replace(specimen(), to_lab=((500, 10), (550, 4), (560, 7))),))
    prices = PricePolicy(to_lab=3, stat_wait_pct=50, arrival_pct=0)
    timing = time_route(instance([data], [station(2)], prices=prices), 0, (0, ~0))
    assert timing is not None
    assert (timing.to_lab, timing.pulls, timing.service) == (640, 50 * 6, 3 * 640)
    assert timing.effort == 100 * timing.time_s + 50 * 6


def resting(first_s: int, last_s: int) -> CollectorData:
    """A collector whose break of 600 s may start between two seconds."""
    window = TimeWindow(earliest_s=first_s, latest_s=last_s)
    return CollectorData(node=BASE, from_s=0, until_s=100_000, break_s=600, break_window=window)


@pytest.mark.parametrize(("last_s", "is_owed"), [(379, True), (380, False)])
def test_break_is_owed_when_it_no_longer_fits_behind_the_route(last_s: int, is_owed: bool) -> None:
    numbers = instance([visit(1)], [station(2)], [resting(0, last_s)])
    assert (time_route(numbers, 0, (0, ~0)) is None) is is_owed


def test_break_is_taken_where_she_is_and_within_its_window() -> None:
    # Visit over at 310; the break opens at 400 and lasts 600; then 10 s to the station.
    timing = time_route(instance([visit(1)], [station(2)], [resting(400, 500)]), 0, (0, BREAK, ~0))
    assert timing is not None
    assert timing.starts_s == (10, 400, 1010)
    # Over at 1070, of which 300 at the bed.
    assert (timing.finish_s, timing.time_s) == (1070, 770)


def test_break_that_comes_too_late_is_refused() -> None:
    numbers = instance([visit(1)], [station(2)], [resting(0, 309)])
    assert time_route(numbers, 0, (0, BREAK, ~0)) is None
    assert time_route(numbers, 0, (BREAK, 0, ~0)) is not None


def test_who_has_no_break_takes_none() -> None:
    assert time_route(instance([visit(1)], [station(2)]), 0, (0, BREAK, ~0)) is None
