"""Days on which the laboratory does not take a test, held against the day and hour of the draw."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from planner.checker import check_plan
from planner.domain.orders import Priority
from planner.domain.places import PickupKind, PlaceId, PlaceKind
from planner.domain.plan import Reason
from planner.loaders.catalogue.limits import parse_closed
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from planner.units import RoundClock
from tests.builders import (
    clock,
    make_catalogue,
    make_order,
    make_patient,
    make_phlebotomist,
    make_pickup,
    make_place,
    make_problem,
    make_test,
)

TUESDAY, THURSDAY, FRIDAY, SUNDAY = (date(2026, 3, day) for day in (10, 12, 13, 15))
WEEKDAY_ONLY = parse_closed("", is_weekday_only=True)


def planned(closed, day=TUESDAY, zone="UTC", orders=None, **changes):
    """Return (draw times by order, reasons by order) of a plan that the checker has passed."""
    tests = [make_test("CDX", closed=parse_closed(closed) if isinstance(closed, str) else closed)]
    problem = make_problem(
        orders or [make_order("O1", "P1", "CDX"), make_order("O2", "P2", "CBC")],
        catalogue=make_catalogue(extra_tests=tests),
        clock=RoundClock(day, zone),
        **changes,
    )
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    drawn = {i: v.draw_s for r in plan.routes for v in r.visits for i in v.order_ids}
    return problem, plan, drawn, {u.order_id: u for u in plan.unplanned}


@pytest.mark.slow
@pytest.mark.parametrize(("day", "is_open"), [(TUESDAY, True), (THURSDAY, True), (FRIDAY, False), (SUNDAY, False)])
def test_weekday_only_test_needs_a_decision_from_thursday_noon_to_sunday(day, is_open):
    # The rule of one laboratory's handbook [L5]: not from Thursday noon to Sunday. The round ends at 09:00.
    _, _, drawn, left = planned(WEEKDAY_ONLY, day)
    assert ("O1" in drawn) == is_open and "O2" in drawn
    if not is_open:
        assert left["O1"].reason is Reason.LAB_CLOSED and left["O1"].reason.needs_decision
        assert "from Thursday 12:00 to Sunday 24:00" in left["O1"].detail


def test_stat_too_needs_a_decision_no_laboratory_no_result():
    orders = [make_order("O1", "P1", "CDX", priority=Priority.STAT)]
    assert planned(WEEKDAY_ONLY, FRIDAY, orders=orders)[3]["O1"].reason is Reason.LAB_CLOSED


@pytest.mark.parametrize(
    ("closed", "not_before", "not_after"),
    [
        ("Tue 06:30-Wed 12:00", None, "06:29:59"),
        ("Mon 12:00-Tue 08:00", "08:00", None),
        ("Tue 05:00-Tue 07:00;Thu", "07:00", None),
    ],
)
def test_round_that_is_closed_in_part_is_used_in_part(closed, not_before, not_after):
    drawn = planned(closed)[2]
    assert not_before is None or drawn["O1"] >= clock(not_before)
    assert not_after is None or drawn["O1"] <= clock(not_after)


def test_span_over_the_end_of_the_week_binds_monday_morning():
    monday = date(2026, 3, 9)
    assert planned("Fri 16:00-Mon 07:30", monday)[2]["O1"] >= clock("07:30")
    assert planned("Fri 16:00-Mon 09:30", monday)[3]["O1"].reason is Reason.LAB_CLOSED


def test_spans_follow_the_wall_when_the_clocks_change():
    # 29 March 2026 in Vienna: from 02:00 on the wall shows an hour more. 06:30 on the wall is 5.5 h after midnight.
    drawn = planned("Sun 00:00-Sun 06:30", date(2026, 3, 29), "Europe/Vienna")[2]
    assert drawn["O1"] >= 5.5 * 3600


def test_night_round_is_held_against_both_days():
    staff = [make_phlebotomist(from_s=clock("22:00"), until_s=clock("30:00"))]
    couriers = [make_pickup("PICKUP", departures_s=(clock("23:59"), clock("30:00")))]
    drawn = planned("Tue", staff=staff, pickups=couriers)[2]
    assert drawn["O1"] >= clock("24:00")


def test_every_ward_with_a_bed_of_that_number_has_its_own_answer():
    wards = ("Elm", "Oak (E), 2", "Yew")
    places = [
        make_place("BASE", PlaceKind.BASE, position=0),
        *(make_place(f"{ward}/1A", position=n, ward=ward) for n, ward in enumerate(wards, 1)),
        make_place("LAB", PlaceKind.LABORATORY, position=5),
    ]
    people = [make_patient(f"P{n}", bed=PlaceId(f"{ward}/1A"), ward=ward) for n, ward in enumerate(wards, 1)]
    orders = [make_order(f"O{n}", f"P{n}", test) for n, test in enumerate(("CBC", "CDX", "CBC"), 1)]
    pickups = [make_pickup("LAB", PickupKind.CARRIED, transit_s=0)]
    _, _, drawn, left = planned(WEEKDAY_ONLY, FRIDAY, orders=orders, places=places, patients=people, pickups=pickups)
    assert set(drawn) == {"O1", "O3"}
    assert (left["O2"].bed, left["O2"].patient_id) == ("Oak (E), 2/1A", "P2")


def test_checker_finds_a_draw_on_a_closed_day():
    problem, plan, drawn, _ = planned("Wed")
    closed = replace(problem.catalogue.tests["CDX"], closed=parse_closed("Tue"))
    catalogue = make_catalogue(extra_tests=[closed])
    assert check_plan(replace(problem, catalogue=catalogue), plan).codes() == ["window-closed"]
    # Closed up to the very second of the draw, and from the second after it.
    second = drawn["O1"]
    for from_s, to_s in [(86_400, 86_400 + second), (86_400 + second + 1, 2 * 86_400)]:
        edge = replace(closed, closed=(replace(closed.closed[0], from_s=from_s, to_s=to_s),))
        assert check_plan(replace(problem, catalogue=make_catalogue(extra_tests=[edge])), plan).codes() == []
