"""Whether walks timed each by itself agree where one patient has two visits: bed free, gap of the series kept.

Written from the rule book, ``one-at-the-bed`` and ``series-gap``, for visits that are both still to come: of a gap to a
draw made before, the visit's own windows speak.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

from planner.domain.draws import Draw
from planner.domain.orders import Order
from planner.domain.problem import Problem


def agree(problem: Problem, draws: Sequence[Draw], starts_s: Mapping[int, int]) -> bool:
    """Return whether no two visits of a patient break a rule; ``starts_s`` are the starts by index of the draw."""
    for a, b in combinations(sorted(starts_s, key=lambda n: starts_s[n]), 2):
        if draws[a].request.patient_id != draws[b].request.patient_id:
            continue
        if starts_s[b] < starts_s[a] + draws[a].service_s:
            return False
        apart_s = starts_s[b] + draws[b].lead_s - starts_s[a] - draws[a].lead_s
        pairs = [(x, y) for x in draws[a].request.orders for y in draws[b].request.orders if _are_a_series(x, y)]
        if any(not _is_kept(problem, x, y, apart_s) for x, y in pairs):
            return False
    return True


def _are_a_series(one: Order, other: Order) -> bool:
    return one.series is not None and (one.series, one.test) == (other.series, other.test)


def _is_kept(problem: Problem, one: Order, other: Order, apart_s: int) -> bool:
    """Return whether two draws of a series come as far apart as their stated instants, within the test's tolerance."""
    test = problem.test_of(one)
    if test.is_culture:
        return True
    if one.collect_at_s is None or other.collect_at_s is None:
        return False  # the gap is that of a protocol, which is not looked up here
    tolerance_s = test.serial_tolerance_s
    tolerance_s = problem.policy.windows.drug_tolerance_s if tolerance_s is None else tolerance_s
    return abs(apart_s - (other.collect_at_s - one.collect_at_s)) <= tolerance_s
