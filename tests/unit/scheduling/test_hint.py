"""The exact model and the route timing agree: a known round, put into the model, has the known values."""

from __future__ import annotations

import pytest

from planner.domain.goals import Tier
from planner.scheduling.exact.model import build_model
from planner.scheduling.rounds.numbers import build_instance
from planner.scheduling.search.search import improve
from planner.scheduling.timing.insertion import first_solution
from planner.scheduling.timing.instance import CollectorData, Instance
from planner.scheduling.timing.solution import Evaluator, Solution
from planner.solving.cp_sat import run_cp_sat
from planner.solving.outcome import SolveStatus
from planner.solving.params import SolveParams
from tests.reference.tiny import random_round
from tests.reference.to_planner import to_planner
from tests.unit.scheduling.rounds_in_numbers import instance, station, visit


def value_in_model(numbers: Instance, known: Solution, tier: Tier) -> tuple[SolveStatus, int | None]:
    """Return what the model makes of one tier when every hinted variable is held at its hint."""
    model = build_model(numbers, known, tier).model
    hint = model.proto.solution_hint
    for index, value in zip(list(hint.vars), list(hint.values), strict=True):
        variable = model.get_int_var_from_proto_index(index)
        model.add(variable == value)
    outcome = run_cp_sat(model, SolveParams(), deterministic_limit=20.0)
    return outcome.status, outcome.objective


def known_round(seed: int) -> tuple[Instance, Solution]:
    numbers = build_instance(*to_planner(random_round(seed, max_visits=5)))
    evaluator = Evaluator(numbers)
    return numbers, improve(evaluator, first_solution(evaluator), seed=1, work=200)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(24))
def test_hint_is_feasible_and_has_the_known_value_of_every_tier(seed: int) -> None:
    numbers, known = known_round(seed)
    for tier, value in zip(Tier, known.values, strict=True):
        assert value_in_model(numbers, known, tier) == (SolveStatus.OPTIMAL, value), tier


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(24))
def test_every_decision_is_hinted(seed: int) -> None:
    numbers, known = known_round(seed)
    built = build_model(numbers, known, Tier.LEFT_OUT)
    hinted = set(built.model.proto.solution_hint.vars)
    decisions = [*built.variables.is_planned.values(), *built.variables.takes.values()]
    for route in built.variables.routes:
        decisions += [*route.arcs.values(), *route.serves.values(), *route.uses.values(), route.is_used]
    assert {d.index for d in decisions} <= hinted


def test_hint_of_only_the_second_of_two_alike_collectors() -> None:
    alike = [CollectorData(node=0, from_s=0, until_s=5000)] * 2
    numbers = instance([visit(1, able=frozenset({0, 1}))], [station(2)], alike)
    known = Evaluator(numbers).solution(((), (0, ~0)))
    assert known is not None
    assert value_in_model(numbers, known, Tier.EFFORT) == (SolveStatus.OPTIMAL, known.values[2])
