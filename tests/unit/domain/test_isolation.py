"""A protective room after isolation rooms on one route is said on its card; after an airborne one somebody decides."""

from __future__ import annotations

import pytest

from planner.domain.orders import Precaution, Priority
from planner.domain.problem import Problem
from planner.exporters.view.build import build_view
from planner.library.planning import asks_for_person
from planner.pipeline import PlannedRound, plan_round
from planner.solving.params import SolveParams
from planner.visits.windows import order_windows
from tests.builders import (
    clock,
    make_order,
    make_patient,
    make_phlebotomist,
    make_pickup,
    make_place,
    make_problem,
    make_walking,
)

PARAMS = SolveParams(effort="quick")


def wards(
    first: frozenset[Precaution],
    *,
    people: int = 1,
    second: frozenset[Precaution] = frozenset({Precaution.PROTECTIVE}),
) -> Problem:
    """A stat in Heron 1A, isolated as stated; a draw from 06:00 on in Kite (South) 1A (protective); Heron 2A."""
    beds = [("Heron/1A", "Heron", "1A"), ("Kite (South)/1A", "Kite (South)", "1A"), ("Heron/2A", "Heron", "2A")]
    places = [make_place(id, ward=ward, label=label, position=n) for n, (id, ward, label) in enumerate(beds, start=1)]
    places += [make_place("BASE", position=0), make_place("PICKUP", position=4)]
    patients = [
        make_patient("P1", "Heron/1A", ward="Heron", precautions=first),
        make_patient("P2", "Kite (South)/1A", ward="Kite (South)", precautions=second),
        make_patient("P3", "Heron/2A", ward="Heron"),
    ]
    at_six = {"collect_from_s": clock("06:00"), "collect_to_s": clock("06:10")}
    orders = [
        make_order("O1", "P1", priority=Priority.STAT, ordered_s=clock("05:00")),
        make_order("O2", "P2", **at_six),
        make_order("O3", "P3", priority=Priority.STAT, ordered_s=clock("05:00")),
    ]
    staff = [make_phlebotomist(initials) for initials in ("AB", "CD")[:people]]
    return make_problem(
        orders,
        patients,
        places=places,
        walking=make_walking(places),
        staff=staff,
        pickups=[make_pickup(departures_s=(clock("05:45"), clock("07:00")))],
    )


def protective_card(problem: Problem, planned: PlannedRound) -> str:
    windows, _ = order_windows(problem)
    view = build_view(problem, planned.plan, windows, revision=1, findings=planned.findings)
    (card,) = [visit for route in view.routes for visit in route.visits if visit.bed == "Kite (South) 1A"]
    return "; ".join(card.alerts)


def test_protective_after_airborne_is_a_decision_and_stands_on_the_card() -> None:
    problem = wards(frozenset({Precaution.AIRBORNE}))
    planned = plan_round(problem, PARAMS)
    (finding,) = [f for f in planned.findings if f.code == "protective-after-airborne"]
    assert finding.message.startswith(
        "bed Kite (South) 1A (protective isolation) is visited by AB after airborne isolation in bed Heron 1A."
    )
    assert finding.order_ids == ("O2",)
    assert asks_for_person(planned.plan.unplanned, planned.findings)
    assert protective_card(problem, planned).startswith(
        "PROTECTIVE AFTER bed Heron 1A (airborne) on your route: phone the lead before you go in; "
    )


def test_after_a_room_that_is_not_clear_somebody_decides_too() -> None:
    problem = wards(frozenset({Precaution.UNCLEAR}))
    planned = plan_round(problem, PARAMS)
    (finding,) = [f for f in planned.findings if f.code == "protective-after-airborne"]
    assert "after isolation that is airborne or not clear in bed Heron 1A" in finding.message
    assert protective_card(problem, planned).startswith("PROTECTIVE AFTER bed Heron 1A (isolation not clear) on your")


@pytest.mark.parametrize("second", [{Precaution.UNCLEAR}, {Precaution.CONTACT, Precaution.UNCLEAR}])
def test_room_that_may_be_protective_has_a_line_after_an_airborne_one(second: set[Precaution]) -> None:
    problem = wards(frozenset({Precaution.AIRBORNE}), second=frozenset(second))
    planned = plan_round(problem, PARAMS)
    said = protective_card(problem, planned)
    assert said.startswith("YOU COME FROM bed Heron 1A (airborne): phone the lead first; ")
    assert "protective-after-airborne" not in [f.code for f in planned.findings]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (Precaution.UNCLEAR, Precaution.UNCLEAR),
        (Precaution.CONTACT, Precaution.UNCLEAR),
        (Precaution.AIRBORNE, Precaution.AIRBORNE),
        (Precaution.AIRBORNE, Precaution.CONTACT),
    ],
)
def test_no_line_where_no_airborne_room_was_or_none_is_protected(first: Precaution, second: Precaution) -> None:
    problem = wards(frozenset({first}), second=frozenset({second}))
    assert "YOU COME FROM" not in protective_card(problem, plan_round(problem, PARAMS))


@pytest.mark.parametrize("precaution", [Precaution.CONTACT, Precaution.DROPLET])
def test_after_another_isolation_room_the_card_says_what_to_change(precaution: Precaution) -> None:
    problem = wards(frozenset({precaution}))
    planned = plan_round(problem, PARAMS)
    assert not asks_for_person(planned.plan.unplanned, planned.findings)
    said = protective_card(problem, planned)
    assert f"PROTECTIVE AFTER bed Heron 1A ({precaution.value}) on your route: fresh gown, gloves and mask" in said


@pytest.mark.slow
def test_nothing_is_said_where_another_person_goes() -> None:
    problem = wards(frozenset({Precaution.AIRBORNE}), people=2)
    planned = plan_round(problem, PARAMS)
    people = {visit.patient_id: route.phlebotomist for route in planned.plan.routes for visit in route.visits}
    assert people["P1"] != people["P2"]
    assert [f.code for f in planned.findings] == []
    assert "PROTECTIVE AFTER" not in protective_card(problem, planned)


def test_nothing_is_said_after_rooms_without_isolation() -> None:
    problem = wards(frozenset())
    planned = plan_round(problem, PARAMS)
    assert [f.code for f in planned.findings] == []
    assert "PROTECTIVE AFTER" not in protective_card(problem, planned)
