"""The window of one order in a round from 05:00 to 09:00, and what a test reads of it."""

from __future__ import annotations

from typing import Any

from planner.domain.draws import OrderWindow
from planner.domain.policy import Policy
from planner.domain.problem import Problem
from planner.visits.windows import window_of
from tests.builders import clock, make_catalogue, make_order, make_patient, make_problem, make_test

R0, R1 = clock("05:00"), clock("09:00")


def window(
    order: dict[str, Any], patient: dict[str, Any] | None = None, policy: Policy | None = None, **test: Any
) -> OrderWindow:
    """Return the window of one order; ``test`` changes the test X that it asks for."""
    problem = problem_of(order, patient, policy, **test)
    found = window_of(problem, problem.orders[0])
    assert isinstance(found, OrderWindow), found
    return found


def problem_of(order: dict[str, Any], patient: dict[str, Any] | None, policy: Policy | None, **test: Any) -> Problem:
    code = "X" if test else order.get("test", "CBC")
    return make_problem(
        [make_order(**(order | {"test": code}))],
        [make_patient(**(patient or {}))],
        catalogue=make_catalogue(extra_tests=[make_test("X", **test)]),
        policy=policy,
    )


def spans(found: OrderWindow) -> list[tuple[int, int]]:
    return [(w.earliest_s, w.latest_s) for w in found.windows]


def ends(found: OrderWindow) -> tuple[int, int, int | None]:
    return found.earliest.at_s, found.latest.at_s, found.target_s
