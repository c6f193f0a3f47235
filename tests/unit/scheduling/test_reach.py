"""Arcs that no schedule can use are never made, and no others are missing."""

from __future__ import annotations

import pytest

from planner.domain.orders import TimeWindow
from planner.scheduling.exact.reach import break_node, reachable_arcs
from planner.scheduling.exact.variables import handover_slots
from planner.scheduling.timing.instance import CollectorData
from tests.unit.scheduling.rounds_in_numbers import BASE, courier, instance, station, visit


def arcs(numbers) -> set[tuple[int, int]]:
    slots = handover_slots(numbers)
    return set(reachable_arcs(numbers, slots, 0, range(len(numbers.visits)), range(len(slots))))


def test_route_begins_at_a_bed_and_ends_with_a_handover() -> None:
    numbers = instance([visit(1)], [station(2)], max_sends=1)
    assert arcs(numbers) == {(0, 1), (1, 2), (2, 1), (2, 0)}


@pytest.mark.parametrize(("latest_s", "follows"), [(319, False), (320, True)])
def test_bed_follows_only_where_its_window_is_still_open(latest_s: int, follows: bool) -> None:
    # First bed: reached at 10, over at 310; 10 s to the second.
    numbers = instance([visit(1), visit(2, (0, latest_s))], [station(3)], max_sends=1)
    assert ((1, 2) in arcs(numbers)) is follows


def test_bed_out_of_reach_of_the_shift_has_no_arcs() -> None:
    who = CollectorData(node=BASE, from_s=500, until_s=5000)
    numbers = instance([visit(1, (0, 509)), visit(2)], [station(3)], [who], max_sends=1)
    assert all(1 not in arc for arc in arcs(numbers))


@pytest.mark.parametrize(("departs_s", "follows"), [(379, False), (380, True)])
def test_courier_that_has_left_does_not_follow(departs_s: int, follows: bool) -> None:
    # Bed over at 310, 10 s on, 60 s of handing over.
    numbers = instance([visit(1)], [courier(2, departs_s)])
    assert ((1, 2) in arcs(numbers)) is follows


def test_break_may_stand_anywhere_but_last() -> None:
    who = CollectorData(
        node=BASE, from_s=0, until_s=5000, break_s=60, break_window=TimeWindow(earliest_s=0, latest_s=900)
    )
    numbers = instance([visit(1)], [station(2)], [who], max_sends=1)
    rest = break_node(numbers, handover_slots(numbers))
    assert rest == 3
    assert {arc for arc in arcs(numbers) if rest in arc} == {(0, 3), (1, 3), (3, 1), (2, 3), (3, 2)}


def test_slots_of_a_courier_are_its_departures_and_of_a_station_the_limit() -> None:
    slots = handover_slots(instance([visit(1)], [courier(2, 500, 900), station(3)], max_sends=3))
    assert [(s.pickup, s.departs_s) for s in slots] == [(0, 500), (0, 900), (1, None), (1, None), (1, None)]
    # What ends after 500 goes at 900.
    assert [(s.first_end_s, s.last_end_s) for s in slots[1:2]] == [(501, 900)]
