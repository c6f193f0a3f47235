"""The account of walking on: two visits of one patient are compared only where no rule between them is broken."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.draws import Draw
from planner.domain.problem import Problem
from planner.pipeline import prepare_round
from planner.solving.params import SolveParams
from tests.builders import clock, make_order, make_problem
from tests.mornings.two_visits import agree


def serial() -> tuple[Problem, tuple[Draw, ...]]:
    """A round with one patient whose test is drawn at 05:30 and at 06:30, 15 min more or less between them."""
    orders = [
        make_order(f"O{n}", "P1", "CBC", series="S", collect_at_s=clock(at)) for n, at in ((1, "05:30"), (2, "06:30"))
    ]
    problem = make_problem(orders)
    draws = prepare_round(problem, SolveParams(effort="quick")).draws
    assert [draw.request.orders[0].id for draw in draws] == ["O1", "O2"]
    return problem, draws


@pytest.mark.parametrize(
    ("second", "expected"), [("06:15", True), ("06:14:59", False), ("06:45", True), ("06:45:01", False)]
)
def test_gap_of_a_series_is_that_of_its_stated_times_within_the_tolerance(second: str, expected: bool) -> None:
    problem, draws = serial()
    assert problem.policy.windows.drug_tolerance_s == 15 * 60
    assert agree(problem, draws, {0: clock("05:30"), 1: clock(second)}) is expected


def test_two_at_one_bed_at_once_do_not_agree() -> None:
    problem, draws = serial()
    apart = tuple(
        replace(d, request=replace(d.request, orders=tuple(replace(o, series=None) for o in d.request.orders)))
        for d in draws
    )
    begin_s, stay_s = clock("06:00"), draws[0].service_s
    assert agree(problem, apart, {0: begin_s, 1: begin_s + stay_s})
    assert not agree(problem, apart, {0: begin_s, 1: begin_s + stay_s - 1})
    assert not agree(problem, apart, {1: begin_s, 0: begin_s + stay_s - 1})
    assert agree(problem, apart, {0: begin_s})
