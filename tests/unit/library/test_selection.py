"""A bed with its ward, a patient number or an order number selects a patient in every command."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.orders import OrderId, PatientId
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.errors import RequestError
from planner.library.explanations import _orders_meant
from planner.library.sheets import _person
from tests.builders import make_order, make_phlebotomist
from tests.replan_builders import five_wards, make_plan


def a_round() -> tuple[Problem, Plan]:
    """Five wards with equal beds; P1 has O1 and O9, CD draws at Kestrel 1A."""
    problem, plan = five_wards(staff=[make_phlebotomist("AB", name="Ann Bell"), make_phlebotomist("CD", name="Cy Dee")])
    problem = replace(problem, orders=(*problem.orders, make_order("O9", "P1", "BMP")))
    visits = plan.routes[0].visits
    return problem, make_plan(visits[:4], visits[4:])


@pytest.mark.parametrize(
    ("text", "orders"),
    [
        ("o2", ["O2"]),
        ("Heron 1A", ["O1", "O9"]),
        ("heron/1a", ["O1", "O9"]),
        ("larch north 1A", ["O3"]),
        ("St. Anne, 2nd floor 1A", ["O4"]),
        ("p1", ["O1", "O9"]),
    ],
)
def test_explain_takes_order_bed_and_patient(text: str, orders: list[str]) -> None:
    assert _orders_meant(*a_round(), text) == [OrderId(order) for order in orders]


def test_explain_of_a_bed_leaves_out_who_has_left_it() -> None:
    problem, plan = a_round()
    after = replace(problem.patients[PatientId("P2")], gone_s=1)
    moved = replace(problem.patients[PatientId("P3")], bed=after.bed, ward=after.ward)
    both = replace(problem, patients={**problem.patients, after.id: after, moved.id: moved})
    assert _orders_meant(both, plan, "Juniper 1A") == ["O3"]
    alone = replace(problem, patients={**problem.patients, after.id: after})
    assert _orders_meant(alone, plan, "Juniper 1A") == ["O2"]  # nobody else lies there: why it is not drawn


def test_explain_asks_which_ward_is_meant() -> None:
    with pytest.raises(RequestError, match=r"Heron 1A or Juniper 1A or .*write one of these"):
        _orders_meant(*a_round(), "1A")
    with pytest.raises(RequestError, match="no order, bed, patient or person"):
        _orders_meant(*a_round(), "Heron 2A")


@pytest.mark.parametrize(
    ("text", "who"), [("ab", "AB"), ("Dee", "CD"), ("Kestrel 1A", "CD"), ("P5", "CD"), ("O5", "CD"), ("Heron 1A", "AB")]
)
def test_sheet_is_for_a_person_or_for_whoever_draws_there(text: str, who: str) -> None:
    problem, plan = a_round()
    assert problem.staff[_person(problem, plan, text)].initials == who


@pytest.mark.parametrize("text", ["1A", "Zoe", "Heron 2A"])
def test_sheet_for_nobody_or_several_is_refused(text: str) -> None:
    with pytest.raises(RequestError, match="initials: AB, CD"):
        _person(*a_round(), text)
