"""The best of tiny rounds whose visits are bound to one another, by trying every pair of routes, from the rule book.

What binds: draws of one patient's series keep their gap, one is at a patient's bed at a time, trays hold so many tubes.
All of it but the tray says "not before" once it is settled who is at a bed first, so both ways are tried, and routes
have one common least solution: instants are raised until nothing moves. The tray is a matter of the order of stops.

A route by itself is no later than beside another: its own goals tell pairs that cannot be better than the best, and
those are left out. Beds that together weigh less are tried only where none that weigh more can be served.
Rounds are those of `random_bound_round`: nothing by hand, no breaks, promises, trays. A hand-over takes all that is
held. For a small tray that is not every way there is: to give one tube to a courier and keep another for a station
behind it can be better, which neither this search nor the planner's timing of a route tries (`full_tray`).
"""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, pairwise, permutations, product

from tests.reference.brute_force import FREE, Stop, Vector, instants
from tests.reference.tiers import effort_of, pair_cost, service_of, tiers, ward_cost
from tests.reference.tiny import UNCOLLECTED, TinyRound, random_round

Route = tuple[Stop, ...]
Bound = tuple[int, int, int]
"""(Sooner visit, later visit, least seconds between their starts)."""

WORK_LIMIT = 60_000
"""Pairs of routes timed for one round before it is given up."""


class TooMuchWorkError(Exception):
    """A round asks for more work than is allowed; nothing is known of it."""


def random_bound_round(seed: int, max_visits: int = 5) -> TinyRound:
    """Return a round in which one or two patients have two or three visits, in a series or not, and trays are small."""
    rng = random.Random(f"bound visits of {seed}")
    tiny = random_round(seed, max_visits, with_breaks=False)
    visits = [replace(v, promise=None, orders=tuple(replace(o, by_hand=False) for o in v.orders)) for v in tiny.visits]
    order = rng.sample(range(len(visits)), k=len(visits))
    while len(order) > 1 and rng.random() < 0.8:
        group = sorted(order.pop() for _ in range(min(len(order), rng.choice([2, 2, 3]))))
        is_series, wanted_s = rng.random() < 0.7, 0
        for i in group:
            first = visits[group[0]]
            visits[i] = replace(
                visits[i],
                bed=first.bed,
                turn=first.turn,
                needs=first.needs,
                ward=first.ward,
                patient=None if i == group[0] else group[0],
                wanted_s=wanted_s if is_series else None,
            )
            wanted_s += rng.randrange(0, 40) * 60
    return replace(
        tiny,
        visits=tuple(visits),
        outlets=tiny.outlets[:2],
        tolerance_s=rng.choice([0, 60, 300, 900]),
        tray_limit=rng.choice([None, None, 1, 2, 3, 4]),
    )


def optimum(tiny: TinyRound, work_limit: int = WORK_LIMIT) -> Vector:
    """Return the values of the three tiers of the best round."""
    routes = [_routes_alone(tiny, who) for who in range(len(tiny.people))]
    everyone = range(len(tiny.visits))
    weights = [sum(UNCOLLECTED[o.priority] for o in v.orders) for v in tiny.visits]
    sets = [frozenset(s) for size in range(len(weights) + 1) for s in combinations(everyone, size)]
    lost = {s: sum(w for i, w in enumerate(weights) if i not in s) for s in sets}
    left = [work_limit]
    best: Vector | None = None
    for served in sorted(sets, key=lambda s: lost[s]):
        if best is not None and lost[served] > best[0]:
            break
        for pair in _shared_out(served, len(routes)):
            best = _best_of(
                tiny, lost[served], pair, [r.get(s, []) for r, s in zip(routes, pair, strict=True)], best, left
            )
    assert best is not None
    return best


def _shared_out(served: frozenset[int], num_people: int) -> Iterator[tuple[frozenset[int], ...]]:
    for who in product(range(num_people), repeat=len(served)):
        yield tuple(frozenset(i for i, k in zip(sorted(served), who, strict=True) if k == n) for n in range(num_people))


def _best_of(
    tiny: TinyRound,
    lost: int,
    shared: tuple[frozenset[int], ...],
    fronts: list[list[tuple[Vector, Route]]],
    best: Vector | None,
    left: list[int],
) -> Vector | None:
    """Return the best of the pairs of routes that see given beds, or what was the best before."""
    served = [i for beds in shared for i in beds]
    for chosen in _pairs(fronts):
        alone = _values(tiny, lost, shared, [values for values, _route in chosen])
        if best is not None and alone >= best:
            if len(chosen) == 1:
                break  # the routes of one person ascend
            continue
        for bounds in _ways_to_bind(tiny, served):
            left[0] -= 1
            if left[0] < 0:
                raise TooMuchWorkError
            found = _least(tiny, [route for _values, route in chosen], bounds)
            if found is not None:
                values = _values(tiny, lost, shared, found)
                best = values if best is None else min(best, values)
    return best


def _pairs(fronts: list[list[tuple[Vector, Route]]]) -> Iterator[tuple[tuple[Vector, Route], ...]]:
    return product(*fronts)


def _values(tiny: TinyRound, lost: int, shared: tuple[frozenset[int], ...], parts: list[Vector]) -> Vector:
    late, delivery, turns, arrival_s, time_s, finish_s = (list(column) for column in zip(*parts, strict=True))
    begin_s = min(p.from_s for p in tiny.people)
    num = sum(len(beds) for beds in shared)
    return tiers(
        tiny,
        lost,
        [sorted(beds) for beds in shared],
        service_of(tiny, sum(late), sum(delivery), 0),
        effort_of(tiny, sum(time_s), sum(arrival_s) - num * begin_s, sum(turns)),
        max(0, max(finish_s) - begin_s),
    )


def _rank(tiny: TinyRound, values: Vector) -> Vector:
    """Return what routes of one person that see the same beds are compared by when there is nobody else."""
    late, delivery, turns, arrival_s, time_s, over_s = values
    effort = effort_of(tiny, time_s, arrival_s, turns) + tiny.prices.finish_pct * over_s
    return service_of(tiny, late, delivery, 0), effort


def _routes_alone(tiny: TinyRound, who: int) -> dict[frozenset[int], list[tuple[Vector, Route]]]:
    """Return all routes of one person by the beds they see, with their goals when she is alone, the best first."""
    found: dict[frozenset[int], list[tuple[Vector, Route]]] = defaultdict(list)
    found[frozenset()] = [((0, 0, 0, 0, 0, 0), ())]
    able = [i for i, visit in enumerate(tiny.visits) if tiny.people[who].may_see(visit)]
    for beds in (p for size in range(1, len(able) + 1) for p in permutations(able, size)):
        if instants(tiny, tiny.people[who], tuple(("bed", i, "") for i in beds)) is None:
            continue
        for outs in product([None, *range(len(tiny.outlets))], repeat=len(beds)):
            if outs[-1] is None or not _is_allowed(tiny, beds, outs):
                continue
            route: list[Stop] = []
            for i, out in zip(beds, outs, strict=True):
                route += [("bed", i, "")] + ([] if out is None else [("out", out, FREE)])
            values = _goals(tiny, who, tuple(route), None)
            if values is not None:
                found[frozenset(beds)].append((values[0], tuple(route)))
    for routes in found.values():
        routes.sort(key=lambda found: (_rank(tiny, found[0]), found))
    return found


def _is_allowed(tiny: TinyRound, beds: tuple[int, ...], outs: tuple[int | None, ...]) -> bool:
    """Return whether no way out is used too often and the tray is never too full."""
    for n, outlet in enumerate(tiny.outlets):
        if outlet.kind != "courier" and outs.count(n) > tiny.max_sends:
            return False
    held = 0
    for i, out in zip(beds, outs, strict=True):
        held += len(tiny.visits[i].orders)
        if tiny.tray_limit is not None and held > tiny.tray_limit:
            return False
        held = held if out is None else 0
    return True


def _goals(
    tiny: TinyRound, who: int, route: Route, not_before: list[int] | None
) -> tuple[Vector, dict[int, int]] | None:
    """Return (late, delivery, turns, sum of arrivals, time, end) of a route, and the starts of its visits."""
    if not route:
        return (0, 0, 0, 0, 0, 0), {}
    person = tiny.people[who]
    timed = instants(tiny, person, route, not_before)
    if timed is None:
        return None
    over_s, (late, delivery, arrival_s, wait), _last_s, starts_s = timed
    beds = [n for what, n, _given in route if what == "bed"]
    turns = wait + sum(pair_cost(tiny, a, b) for a, b in combinations(beds, 2))
    turns += sum(ward_cost(tiny, tiny.visits[a].ward, tiny.visits[b]) for a, b in pairwise(beds))
    time_s = over_s - person.from_s - sum(tiny.visits[i].service_s for i in beds)
    starts = {n: start_s for (what, n, _given), start_s in zip(route, starts_s, strict=True) if what == "bed"}
    return (late, delivery, turns, arrival_s, time_s, over_s), starts


def _ways_to_bind(tiny: TinyRound, served: list[int]) -> Iterator[list[Bound]]:
    """Return what the rules ask between starts, for each way to settle who is at a patient's bed first."""
    visits = tiny.visits
    fixed: list[Bound] = []
    chain_of: dict[int, list[int]] = defaultdict(list)
    for i, visit in enumerate(visits):
        if visit.wanted_s is not None:
            chain_of[i if visit.patient is None else visit.patient].append(i)
    for chain in chain_of.values():
        made = [i for i in chain if i in served]
        for a, b in pairwise(made):  # what is left out in between leaves its gaps, and its tolerances, to the others
            steps = chain.index(b) - chain.index(a)
            wanted_s, lead_s = (
                (visits[b].wanted_s or 0) - (visits[a].wanted_s or 0),
                visits[a].lead_s - visits[b].lead_s,
            )
            fixed.append((a, b, max(0, wanted_s - steps * tiny.tolerance_s) + lead_s))
            fixed.append((b, a, -(wanted_s + steps * tiny.tolerance_s + lead_s)))
    shared = [
        (a, b)
        for a, b in combinations(sorted(served), 2)
        if (a if visits[a].patient is None else visits[a].patient)
        == (b if visits[b].patient is None else visits[b].patient)
    ]
    for firsts in product(*shared):
        yield fixed + [
            (first, a + b - first, visits[first].service_s) for (a, b), first in zip(shared, firsts, strict=True)
        ]


def _least(tiny: TinyRound, routes: list[Route], bounds: list[Bound]) -> list[Vector] | None:
    """Return the goals of routes at their common least instants, None when there are none."""
    floors: dict[int, int] = {}
    while True:
        goals: list[Vector] = []
        starts: dict[int, int] = {}
        for who, route in enumerate(routes):
            not_before = [floors.get(n, 0) if what == "bed" else 0 for what, n, _given in route]
            timed = _goals(tiny, who, route, not_before)
            if timed is None:
                return None
            goals.append(timed[0])
            starts |= timed[1]
        raised = {
            later: max(floors.get(later, 0), starts[sooner] + least_s)
            for sooner, later, least_s in bounds
            if starts[later] < starts[sooner] + least_s
        }
        if not raised:
            return goals
        floors |= raised
