"""Grouping against all ways to part a patient's orders: as few visits as the windows allow."""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import combinations

from planner.domain.draws import OrderWindow
from planner.domain.orders import Order, TimeWindow
from planner.domain.problem import Problem
from planner.visits import group_into_visits, order_windows
from tests.builders import clock, make_order, make_patient, make_problem


def _round(seed: int, num_series: int) -> Problem:
    rng = random.Random(seed)
    orders = []
    for n in range(rng.randint(2, 7)):
        at_s = clock("05:00") + rng.randrange(0, 16) * 900
        changes: dict[str, object] = {}
        kind = rng.random()
        if kind < 0.3:
            changes = {"collect_at_s": at_s}
        elif kind < 0.5:
            changes = {"collect_from_s": at_s, "collect_to_s": at_s + rng.choice([600, 1200, 3600])}
        series = f"S{rng.randrange(num_series)}" if num_series and rng.random() < 0.5 else None
        test = {"S0": "TNT", "S1": "LACT"}[series] if series else rng.choice(["CBC", "BMP", "PT", "XM"])
        orders.append(make_order(f"O{n}", test=test, series=series, **changes))
    away = [TimeWindow(earliest_s=s, latest_s=s + 1800) for s in (clock("05:30"), clock("07:00")) if rng.random() < 0.4]
    return make_problem(orders, [make_patient(away=tuple(away))])


Spans = list[tuple[int, int]]
LEAD_S, AFTER_S = 135, 165
"""What passes at a grown-up's bed before the draw and after it (300 s in all) when nobody changes the policy."""


def _spans(problem: Problem, window: OrderWindow) -> Spans:
    """Return the draw times at which the stay fits the round and the patient is there, and the order is on time."""
    spans = [
        (max(w.earliest_s, clock("05:00") + LEAD_S), min(w.latest_s, clock("09:00") - AFTER_S)) for w in window.windows
    ]
    for span in problem.patient_of(problem.order(window.order_id)).away:
        spans = [
            part
            for a, b in spans
            for part in ((a, min(b, span.earliest_s - AFTER_S)), (max(a, span.latest_s + LEAD_S), b))
        ]
    spans = [(a, b) for a, b in spans if a <= b]
    if window.target is None:
        return spans
    return [(a, min(b, window.target.at_s)) for a, b in spans if a <= window.target.at_s] or spans[:1]


def _may_share(group: Sequence[Order], spans: dict[str, Spans]) -> bool:
    if any(_never_together(one, other) for one, other in combinations(group, 2)):
        return False
    begins = {a for o in group for a, _b in spans[o.id]}
    return any(all(any(a <= t <= b for a, b in spans[o.id]) for o in group) for t in begins)


def _never_together(one: Order, other: Order) -> bool:
    """Two draws of a series, two samples for the blood bank, two orders of one test that state different times."""
    if one.test != other.test:
        return False
    times = [(o.collect_at_s, o.collect_from_s, o.collect_to_s) for o in (one, other)]
    is_other_time = times[0] != times[1] and all(any(t is not None for t in own) for own in times)
    return (one.series is not None and one.series == other.series) or one.test == "XM" or is_other_time


def _fewest(orders: Sequence[Order], spans: dict[str, Spans]) -> int:
    """Return the least number of groups over all partitions (by subsets, each order's group chosen in full)."""
    count = len(orders)
    ok = [bool(s) and _may_share([orders[i] for i in range(count) if s >> i & 1], spans) for s in range(1 << count)]
    least = [0] + [count] * ((1 << count) - 1)
    for have in range(1, 1 << count):
        first = have & -have
        part = have
        while part:
            if part & first and ok[part]:
                least[have] = min(least[have], 1 + least[have ^ part])
            part = (part - 1) & have
    return least[-1]


def _compare(seed: int, num_series: int) -> tuple[int, int]:
    problem = _round(seed, num_series)
    windows, _unplanned = order_windows(problem)
    orders = [o for o in problem.orders if o.id in windows]
    groups = group_into_visits(problem, windows)
    assert sorted(o.id for g in groups for o in g.orders) == sorted(windows)
    spans = {o.id: _spans(problem, windows[o.id]) for o in orders}
    alone = [o for o in orders if not spans[o.id]]
    return len(groups), len(alone) + _fewest([o for o in orders if spans[o.id]], spans)


def test_visits_are_as_few_as_possible() -> None:
    pairs = {seed: _compare(seed, num_series=0) for seed in range(300)}
    assert {seed: pair for seed, pair in pairs.items() if pair[0] != pair[1]} == {}
    assert sum(least > 1 for _ours, least in pairs.values()) > 60


def test_visits_are_as_few_as_possible_with_two_series() -> None:
    pairs = {seed: _compare(seed, num_series=2) for seed in range(250, 480)}
    assert {seed: pair for seed, pair in pairs.items() if pair[0] != pair[1]} == {}
