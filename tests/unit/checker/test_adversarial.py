"""Whatever a plan holds, the checker answers with findings and never with an exception."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from itertools import permutations
from typing import Any

import pytest

from planner.checker import check_plan
from planner.domain.plan import Plan, Route
from tests.builders import make_problem
from tests.unit.checker.clean import PLAN, PROBLEM, with_stops, with_tube

pytestmark = pytest.mark.slow

NASTY: tuple[Any, ...] = (
    True,
    -1,
    0,
    1,
    7,
    10**15,
    10**400,
    1.5,
    float("nan"),
    None,
    "",
    "O1",
    "B1",
    (),
    ("O1",),
    object(),
)

FREE = (
    "detail",
    "bed",
    "test",
    "source",
    "patient_id",
    "gauge",
    "device",
    "reasons",
    "draw_id",
    "reason",
    "note",
    "alerts",
)
"""Fields about which the rule book says nothing: words for people, a suggestion, the reason of an order left out."""


def variants(value: Any, path: str = "plan") -> Iterator[tuple[str, Any, Any]]:
    """Yield (path, leaf, rebuild): every value inside a plan, and a way to put another in its place."""
    yield path, value, lambda new: new
    if is_dataclass(value):
        for field in fields(value):
            for inner, leaf, put in variants(getattr(value, field.name), f"{path}.{field.name}"):
                yield inner, leaf, lambda new, put=put, name=field.name: replace(value, **{name: put(new)})
    elif isinstance(value, tuple):
        for at, item in enumerate(value):
            for inner, leaf, put in variants(item, f"{path}[{at}]"):
                yield inner, leaf, lambda new, put=put, at=at: (*value[:at], put(new), *value[at + 1 :])


PLACES = list(variants(PLAN))


def test_anything_in_any_place_is_answered_with_findings() -> None:
    for path, leaf, put in PLACES:
        for nasty in NASTY:
            plan = put(nasty)
            report = check_plan(PROBLEM, plan)
            is_free = path.rpartition(".")[2] in FREE or (path.endswith("bound") and type(nasty) is int)
            if not is_free and (type(nasty) is not type(leaf) or nasty != leaf):
                assert not report.is_clean, f"{path} = {nasty!r} passes"


def test_every_whole_number_of_a_plan_is_verified() -> None:
    for path, leaf, put in PLACES:
        if type(leaf) is int and not path.endswith("gauge"):
            for wrong in (leaf + 1, -leaf - 1):
                if path.endswith("bound") and wrong < leaf:
                    continue
                assert not check_plan(PROBLEM, put(wrong)).is_clean, f"{path} = {wrong} passes"


def test_everything_that_is_left_out_is_missed() -> None:
    """Stops, tubes, orders, tests, goals, unplanned: a tuple without one of its members is a fault. Routes too."""
    for path, leaf, put in PLACES:
        if isinstance(leaf, tuple):
            for at in range(len(leaf)):
                assert not check_plan(PROBLEM, put(leaf[:at] + leaf[at + 1 :])).is_clean, f"{path}[{at}] left out"


def test_everything_that_stands_twice_is_noticed() -> None:
    for path, leaf, put in PLACES:
        if isinstance(leaf, tuple):
            for item in leaf:
                assert not check_plan(PROBLEM, put((*leaf, item))).is_clean, f"{path} holds a member twice"


def test_stops_out_of_order_are_noticed() -> None:
    stops = PLAN.routes[0].stops
    for shuffled in permutations(stops):
        if shuffled != stops:
            assert not check_plan(PROBLEM, with_stops(shuffled)).is_clean


def test_swapped_handovers_are_noticed() -> None:
    plan = with_tube(0, 1, with_tube(0, 1, route=1, handover=4), handover=1)
    assert "handover" in check_plan(PROBLEM, plan).codes()


@pytest.mark.parametrize("plan", [None, "plan", 3, (), PROBLEM, Plan(routes=(), unplanned=(), goals=())])
def test_what_is_no_plan_is_refused(plan: Any) -> None:
    assert not check_plan(PROBLEM, plan).is_clean


def test_empty_routes_serve_nobody_and_break_no_rule_of_a_route() -> None:
    plan = replace(PLAN, routes=(Route(phlebotomist=0, stops=()), Route(phlebotomist=1, stops=())))
    # Nine orders are in no visit and not unplanned; the goals no longer agree.
    assert set(check_plan(PROBLEM, plan).codes()) == {"once", "goal-value"}


def test_round_without_staff_and_an_empty_plan_is_checked() -> None:
    problem = make_problem(staff=())
    assert set(check_plan(problem, Plan(routes=(), unplanned=(), goals=())).codes()) == {"once", "goal-names"}


def test_random_heaps_of_changes_are_refused_without_a_crash() -> None:
    chance = random.Random(5)
    for _ in range(120):
        plan = PLAN
        for _ in range(4):
            _, leaf, put = chance.choice(list(variants(plan))[1:])
            plan = put(chance.choice((leaf, *NASTY[:6])))
        check_plan(PROBLEM, plan)
