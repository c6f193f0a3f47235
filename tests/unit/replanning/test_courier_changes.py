"""Couriers who come at other times, later, or no more."""

from __future__ import annotations

import pytest

from planner.domain.places import PickupKind
from planner.findings import Severity
from planner.replanning.changes.apply import Changed
from tests.replan_builders import make_handover, make_plan
from tests.unit.replanning.told import codes, given, next_revision, tell, ward_round


def departures(changed: Changed) -> list[str]:
    pickup = next(p for p in changed.problem.pickups if p.kind is PickupKind.COURIER)
    return [changed.problem.clock.format_clock(s) for s in pickup.departures_s]


def test_courier_times_replace_those_to_come() -> None:
    changed = tell("courier pickup=06:20,07:30", now="06:05")
    assert departures(changed) == ["06:00", "06:20", "07:30"]
    assert given(changed) == ("courier at PICKUP at 06:20, 07:30",)
    again = tell("courier pickup=07:30,06:20", of=next_revision(changed, ward_round()[1]), now="06:10")
    assert (given(again), codes(again)) == ((), ["change-known"])


def test_delay_moves_the_next_departure_once() -> None:
    changed = tell("courier PICKUP=+15")
    assert departures(changed) == ["06:15", "07:00", "08:00", "09:00"]
    again = tell("courier PICKUP=+15", of=next_revision(changed, ward_round()[1]))
    assert (departures(again), codes(again)) == (["06:15", "07:00", "08:00", "09:00"], ["change-known"])


def test_courier_who_comes_no_more_keeps_what_is_gone() -> None:
    assert departures(tell("courier PICKUP=none", now="07:10")) == ["06:00", "07:00"]


def test_courier_who_never_came_does_not_leave_at_once() -> None:
    # no departure at all would mean that specimens leave at once: one before the round stays, which nobody meets
    problem, plan = ward_round()
    changed = tell("courier PICKUP=none", of=(problem, plan))
    assert departures(changed) == ["04:59"]
    again = tell("courier PICKUP=none", of=next_revision(changed, plan))
    assert codes(again) == ["change-known"]


def test_time_that_is_over_is_not_a_departure() -> None:
    changed = tell("courier PICKUP=05:30,06:20")
    assert (departures(changed), codes(changed)) == (["06:20"], ["change-in-the-past"])
    assert departures(tell("courier PICKUP=05:30")) == ["06:00", "07:00", "08:00", "09:00"]


@pytest.mark.parametrize(
    ("text", "severity"), [("courier PICKUP=06:30", Severity.WARNING), ("courier PICKUP=none", Severity.ERROR)]
)
def test_specimens_that_wait_for_a_moved_courier_are_told(text: str, severity: Severity) -> None:
    problem, plan = ward_round()
    waiting = make_plan([plan.routes[0].stops[0], make_handover(depart="05:40", departs="06:00")])
    changed = tell(text, of=(problem, waiting))
    assert [(f.code, f.severity) for f in changed.findings] == [("courier-waiting", severity)]


def test_place_without_a_courier_lists_those_that_have_one() -> None:
    changed = tell("courier STATION=06:20")
    assert codes(changed) == ["courier-not-found"]
    assert "PICKUP" in changed.findings[0].message


# All together
