"""Whether a visit could stand before another: planner and checker read it from a round's own times alike.

The two are written apart from one rule; a plan whose pairs they counted differently would be refused.
"""

from __future__ import annotations

import pytest

from planner.checker.facts import Facts
from planner.checker.windows import own_spans, target_s
from planner.domain.plan import Plan
from planner.prepared import prepare_round
from planner.scheduling.rounds.numbers import build_instance
from planner.solving.params import SolveParams
from tests.benchmark.rounds import generated_problem

NUM_ROUNDS = 12


def _compared(seed: int) -> tuple[int, int]:
    """Compare all visits of one round of every rule; return how many have a begin of their own, and an end."""
    problem = generated_problem(seed, 25, 2, every_rule=True)
    draws = prepare_round(problem, SolveParams(effort="quick")).draws
    numbers = build_instance(problem, draws)
    facts = Facts(problem, Plan(routes=(), unplanned=(), goals=()))
    begins = ends = 0
    for draw, visit in zip(draws, numbers.visits, strict=True):
        spans = [span for order in draw.request.orders for span in own_spans(facts, order)]
        firsts = [span.earliest_s for span in spans if span.earliest_s is not None]
        lasts = [span.latest_s for span in spans if span.latest_s is not None]
        lasts += [s for order in draw.request.orders if (s := target_s(facts, order)) is not None]
        begins += any(first_s > problem.start_s for first_s in firsts)
        ends += bool(lasts)
        assert visit.first_s == max([problem.start_s, *firsts]) - draw.lead_s, (seed, draw.id)
        assert visit.last_s == min([10**9, *lasts]) - draw.lead_s, (seed, draw.id)
    return begins, ends


@pytest.fixture(scope="module")
def compared() -> list[tuple[int, int]]:
    return [_compared(seed) for seed in range(NUM_ROUNDS)]


def test_planner_and_checker_agree_on_many_spans_of_either_kind(compared: list[tuple[int, int]]) -> None:
    assert sum(begins for begins, _ends in compared) >= 50
    assert sum(ends for _begins, ends in compared) >= 50
