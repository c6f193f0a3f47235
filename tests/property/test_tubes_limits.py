"""A child near the blood limit against brute force: which orders wait, and what is drawn, visit by visit."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations, product

import pytest

from planner.domain.catalogue import Catalogue, Importance, LabTest
from planner.domain.orders import Priority
from planner.domain.patients.blood_limits import BloodLimits
from planner.domain.policy import WeightPolicy
from planner.tubes.demands import Demand, demands_of
from planner.tubes.limited import choose_within
from tests.property.tube_cases import random_catalogue
from tests.property.tube_oracle import Bed, Cost, every_cost
from tests.unit.tubes.bedside import PARAMS, make_child, make_order, make_problem, make_request

IMPORTANCES = list(Importance)


def waiting_by_rank(waiting: Sequence[Demand], policy: WeightPolicy) -> tuple[int, ...]:
    """Return how many orders wait of each rank, the highest first: priority by priority, then vital to later."""
    orders = [(order, demand.test) for demand in waiting for order in demand.orders]
    ranks = [(policy.uncollected[order.priority], IMPORTANCES.index(test.importance)) for order, test in orders]
    by_weight = sorted(set(policy.uncollected.values()), reverse=True)
    return tuple(ranks.count((weight, n)) for weight in by_weight for n in range(len(IMPORTANCES)))


BED = Bed(is_child=True, is_winged=True, discard_ul=500)
NOTHING: set[Cost] = {(0, 0, 0)}


def kept_ways(catalogue: Catalogue, visits: Sequence[Sequence[LabTest]], limits: BloodLimits) -> list[Cost]:
    """Costs of all ways to draw these visits within the limits; empty when there is none."""
    per_visit = [every_cost(catalogue, tests, BED) if tests else NOTHING for tests in visits]
    cap = limits.draw_ul
    within = [{c for c in costs if cap is None or c[1] <= cap} for costs in per_visit]
    totals = (tuple(map(sum, zip(*ways, strict=True))) for ways in product(*within))
    return [(t[0], t[1], t[2]) for t in totals if t[1] <= limits.round_ul]


@pytest.mark.parametrize("block", range(6))
def test_postponed_orders_and_tubes_agree_with_brute_force(block: int) -> None:
    # 6 x 40 children with one or two visits of up to 4 tests together, priorities and limits at random.
    rng = random.Random(4000 + block)
    for _ in range(40):
        catalogue = random_catalogue(rng, rng.randint(2, 4))
        orders = [
            make_order(code, f"{n:03d}", priority=rng.choice(list(Priority))) for n, code in enumerate(catalogue.tests)
        ]
        policy = WeightPolicy()
        tests = {c: replace(t, importance=rng.choice(IMPORTANCES)) for c, t in catalogue.tests.items()}
        catalogue = replace(catalogue, tests=tests)
        patient = make_child(6, 20)
        problem = make_problem([patient], orders, catalogue=catalogue)
        cut = rng.choice([0, rng.randint(1, len(orders) - 1)])
        parts = [orders[:cut], orders[cut:]] if cut else [orders]
        visits = [
            [d for d in demands_of(problem, make_request(patient, part, n)) if d.can_be_drawn]
            for n, part in enumerate(parts)
        ]
        most_ul = rng.randrange(0, 40) * 250
        cap_ul = rng.choice([None, rng.randrange(2, 20) * 250])
        limits = BloodLimits(draw_ul=cap_ul, round_ul=most_ul, total_ul=1, because="", day_ul=most_ul, month_ul=most_ul)
        found = choose_within(problem, patient, visits, limits, PARAMS)

        demands = [(n, d) for n, visit in enumerate(visits) for d in visit]
        ways = {}
        for size in range(len(demands) + 1):
            for kept in combinations(demands, size):
                drawn = [[d.test for n, d in kept if n == v] for v in range(len(visits))]
                if costs := kept_ways(catalogue, drawn, limits):
                    late = waiting_by_rank([d for n, d in demands if (n, d) not in kept], policy)
                    ways[frozenset(d.key for _, d in kept)] = (late, min(c[1] for c in costs), min(costs))
        waiting = {d.key for d in found.postponed}
        kept_keys = frozenset(d.key for _, d in demands if d.key not in waiting)
        totals = tuple(map(sum, zip(*(c.cost for c in found.choices), strict=True)))
        # The fewest of the highest rank wait; of such ways one with the least blood; then its best tube set.
        assert ways[kept_keys][:2] == min((w[0], w[1]) for w in ways.values()) or not waiting
        assert totals == ways[kept_keys][2]
        assert all(c.is_proven for c in found.choices)
