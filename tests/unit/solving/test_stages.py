"""Minimising terms in turn: the same as comparing tuples."""

from __future__ import annotations

import pytest
from ortools.sat.python import cp_model

from planner.solving.params import SolveParams
from planner.solving.stages import Term, minimise_in_turn

PARAMS = SolveParams()


@pytest.mark.parametrize("scale", [1, 100_000])
def test_terms_are_compared_in_order(scale: int) -> None:
    # x + y >= 5, z >= 9 - 2 x, all 0..9. Least y: 0, so x >= 5; then least z: 0; then least x: 5.
    # With scale 100000 three terms together pass 2^31 and are searched in stages.
    model = cp_model.CpModel()
    x, y, z = (model.new_int_var(0, 9, name) for name in "xyz")
    model.add(x + y >= 5)
    model.add(z >= 9 - 2 * x)
    terms = [Term(expression=scale * v, highest=9 * scale) for v in (y, z, x)]
    staged = minimise_in_turn(model, terms, PARAMS, deterministic_limit=1.0, keep=[x, y, z])
    assert staged.outcome is not None
    assert [staged.outcome.value(v) for v in (y, z, x)] == [0, 0, 5]
    assert staged.is_proven


def test_later_term_never_outweighs_an_earlier_one() -> None:
    # One unit of a costs 100 units of b to save: a still comes first.
    model = cp_model.CpModel()
    a, b = model.new_int_var(0, 1, "a"), model.new_int_var(0, 100, "b")
    model.add(b + 100 * a >= 100)
    terms = [Term(expression=a, highest=1), Term(expression=b, highest=100)]
    staged = minimise_in_turn(model, terms, PARAMS, deterministic_limit=1.0)
    assert staged.outcome is not None
    assert (staged.outcome.value(a), staged.outcome.value(b)) == (0, 100)


def test_no_solution_is_proven_or_not() -> None:
    model = cp_model.CpModel()
    a = model.new_int_var(0, 1, "a")
    model.add(2 * a == 1)
    staged = minimise_in_turn(model, [Term(expression=a, highest=1)], PARAMS, deterministic_limit=1.0)
    assert (staged.outcome, staged.is_proven) == (None, True)
