"""Puts a round together from routes that were seen in many rounds: each visit once, each collector one route.

The search meets good routes in rounds that are otherwise bad. After Rochat and Taillard (Probabilistic diversification
and intensification in local search for vehicle routing, 1995) the routes seen are kept, and a set-partitioning model
picks one for each collector, the goals strictly in their order.

Example: the best round has routes A1 and B1, another had A2 (shorter, without bed 7) and a third B3 (with bed 7 and
all of B1): A2 and B3 are a round that the search never stood in.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import starmap
from typing import Any

from ortools.sat.python import cp_model

from planner.scheduling.instance import Instance
from planner.scheduling.solution import GOALS, Evaluator, Solution, Values
from planner.scheduling.timing import Stops, Timing
from planner.solving.params import SolveParams
from planner.solving.stages import Term, minimise_in_turn

MAX_ROUTES = 2_500
"""So many routes are kept; when there are more, those seen last."""

WORK = 1.5
"""Deterministic seconds of the solver for each goal."""


class RoutePool:
    """The best route seen for every set of visits, by kind of collector."""

    def __init__(self, instance: Instance) -> None:
        able = [
            frozenset(i for i, v in enumerate(instance.visits) if k in v.able) for k in range(len(instance.collectors))
        ]
        kinds = list(zip(instance.collectors, able, strict=True))
        self.kind_of = [kinds.index(kind) for kind in kinds]
        """The first collector who is just like each one."""
        self._routes: dict[tuple[int, frozenset[int]], tuple[Stops, Timing]] = {}

    def add(self, solution: Solution) -> None:
        """Remember the routes of a round."""
        for collector, (stops, timing) in enumerate(zip(solution.routes, solution.timings, strict=True)):
            key = (self.kind_of[collector], frozenset(stop for stop in stops if stop >= 0))
            if not key[1]:
                continue
            known = self._routes.pop(key, None)
            self._routes[key] = (stops, timing) if known is None or _rank(timing) < _rank(known[1]) else known

    def routes(self) -> list[tuple[int, frozenset[int], Stops, Timing]]:
        """Return (kind of collector, visits, stops, timing) of the routes seen last."""
        kept = list(self._routes.items())[-MAX_ROUTES:]
        return [(kind, visits, stops, timing) for (kind, visits), (stops, timing) in kept]


def _rank(timing: Timing) -> tuple[int, ...]:
    return timing.late, timing.delivery, timing.arrival, timing.time_s, timing.finish_s


def recombine(evaluator: Evaluator, pool: RoutePool, best: Solution, params: SolveParams) -> Solution:
    """Return the best round that the routes of the pool make, or the one in hand when they make none better."""
    pool.add(best)
    routes = pool.routes()
    model = cp_model.CpModel()
    chosen = [model.new_bool_var(f"route[{n}]") for n in range(len(routes))]
    by_visit: dict[int, list[int]] = defaultdict(list)
    by_kind: dict[int, list[int]] = defaultdict(list)
    for n, (kind, visits, _stops, _timing) in enumerate(routes):
        by_kind[kind].append(n)
        for visit in sorted(visits):
            by_visit[visit].append(n)
    for kind, mine in by_kind.items():
        model.add(sum(chosen[n] for n in mine) <= pool.kind_of.count(kind))
    for mine in by_visit.values():
        model.add_at_most_one(chosen[n] for n in mine)
    in_hand = set(zip((pool.kind_of[k] for k in range(len(best.routes))), best.routes, strict=True))
    for n, (kind, _visits, stops, _timing) in enumerate(routes):
        model.add_hint(chosen[n], (kind, stops) in in_hand)
    terms = _terms(model, evaluator, routes, chosen, best.values)
    outcome = minimise_in_turn(model, terms, params, deterministic_limit=WORK, keep=chosen).outcome
    if outcome is None:
        return best
    picked = [routes[n] for n, literal in enumerate(chosen) if outcome.value(literal)]
    found = evaluator.solution(_given_out(pool, picked))
    return best if found is None or found.values >= best.values else found


def _given_out(pool: RoutePool, picked: list[tuple[int, frozenset[int], Stops, Timing]]) -> tuple[Stops, ...]:
    """Return the picked routes by collector; alike collectors get theirs in the order of the first visits."""
    waiting: dict[int, list[Stops]] = defaultdict(list)
    for kind, _visits, stops, _timing in picked:
        waiting[kind].append(stops)
    for mine in waiting.values():
        mine.sort(reverse=True)
    return tuple(waiting[kind].pop() if waiting[kind] else () for kind in pool.kind_of)


def _terms(
    model: cp_model.CpModel,
    evaluator: Evaluator,
    routes: list[tuple[int, frozenset[int], Stops, Timing]],
    chosen: list[cp_model.IntVar],
    values: Values,
) -> list[Term]:
    """Return the goals as sums over the chosen routes, most important first; each is no worse than in hand at first."""
    visits = evaluator.instance.visits

    def total(cost: Any) -> Any:
        return sum(value * chosen[n] for n, value in enumerate(starmap(cost, routes)) if value)

    collected = total(lambda _k, served, _s, _t: sum(visits[i].weight for i in served))
    sums = {
        "uncollected": evaluator.total_weight - collected,
        "late": total(lambda _k, _v, _s, t: t.late),
        "punctures": total(lambda _k, served, _s, _t: len(served)),
        "delivery": total(lambda _k, _v, _s, t: t.delivery),
        "arrival": total(lambda _k, _v, _s, t: t.arrival),
        "time": total(lambda _k, _v, _s, t: t.time_s),
    }
    in_hand = dict(zip((name for name, _unit in GOALS), values, strict=True))
    model.add(sums["uncollected"] <= in_hand["uncollected"])
    return [Term(expression=expression, highest=2**30) for expression in sums.values()]
