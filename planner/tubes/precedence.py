"""Which orders wait last when a child's blood limit leaves no room: by priority, then by what the test is for.

A transfusion sample never waits for any number of vitamin levels of the same priority. So that one whole number says
it, an order of a rank weighs one more than all orders of lower ranks together.
Example: one stat zinc, two routine group-and-screens, three routine zincs: 12, 4 and 4, 1 and 1 and 1.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from planner.domain.catalogue import Importance
from planner.domain.orders import Order
from planner.domain.problem import Problem
from planner.tubes.demands import Demand
from planner.visits.draws import uncollected_weight

_IMPORTANCES = tuple(Importance)
_MOST = 2**31
"""The solver adds whole numbers up to this; with more ranks than it holds, the two lowest are taken together."""

Rank = tuple[int, int]
"""Weight of the priority (more is more urgent), and importance from 0 (vital), negative so that more goes first."""


def rank(problem: Problem, order: Order) -> Rank:
    """Return the rank of an order: of two, the one with the greater rank is drawn first."""
    return uncollected_weight(problem, order), -_IMPORTANCES.index(problem.test_of(order).importance)


def weighed(problem: Problem, visits: Sequence[Sequence[Demand]]) -> list[list[Demand]]:
    """Return the demands of all visits of a child with weights that keep the ranks apart."""
    weights = rank_weights(rank(problem, order) for demands in visits for demand in demands for order in demand.orders)
    return [
        [replace(demand, weight=sum(weights[rank(problem, order)] for order in demand.orders)) for demand in demands]
        for demands in visits
    ]


def rank_weights(ranks: Iterable[Rank]) -> dict[Rank, int]:
    """Return the weight of one order of each rank."""
    numbers = Counter(ranks)
    levels = [[found] for found in sorted(numbers)]
    while True:
        weights: dict[Rank, int] = {}
        total = 0
        for level in levels:
            weight = total + 1
            total += weight * sum(numbers[found] for found in level)
            weights |= dict.fromkeys(level, weight)
        if total < _MOST or len(levels) < 2:
            return weights
        levels[:2] = [levels[0] + levels[1]]
