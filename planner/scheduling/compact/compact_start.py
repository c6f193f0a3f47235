"""A first round with little walking: compact routes, given the hand-overs and breaks that they need.

What `planner.scheduling.compact.compact` leaves aside comes back here stop by stop, each route timed exactly: a
hand-over where a specimen could not wait for the end of the route, a break where one is owed. A visit that then has no
room, or is bound to another visit in a way the routes do not keep, is put back where the estimates say.

Example: beds 1 to 4, blood of bed 2 good for 20 minutes, and bed 3 half an hour away: 1, 2, hand-over, 3, 4,
hand-over.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from planner.scheduling.compact.beds import Beds
from planner.scheduling.compact.compact import Walks, compact_walks
from planner.scheduling.search.estimates import Estimator
from planner.scheduling.search.recreate import put_back
from planner.scheduling.timing.instance import BREAK, Instance, VisitData
from planner.scheduling.timing.solution import Solution
from planner.scheduling.timing.timing import Stops, Timing

SEARCHES = 2
"""So many searches are made, each with a seed of its own; the machine code lets threads run side by side."""


def compact_start(
    estimator: Estimator, *, seed: int, removals: int, should_stop: Callable[[], bool] = lambda: False
) -> Solution:
    """Return the best round made of some compact routes (`compact_walks`, so many removals); hard rules are kept."""
    found = _found(estimator.instance, seed, removals, should_stop)
    starts = [round_of_walks(estimator, walks.routes) for walks in found]
    return min(starts, key=lambda start: start.values)


def _found(instance: Instance, seed: int, removals: int, should_stop: Callable[[], bool]) -> list[Walks]:
    """Return what `SEARCHES` of compact routes find, each on a core of its own where there are so many."""
    beds, is_over = beds_of(instance), threading.Event()
    with ThreadPoolExecutor(SEARCHES) as pool:
        searches = [
            pool.submit(
                compact_walks,
                beds,
                seed=seed * SEARCHES + n,
                removals=removals,
                should_stop=lambda: is_over.is_set() or should_stop(),
            )
            for n in range(SEARCHES)
        ]
        try:
            return [search.result() for search in searches]
        finally:
            is_over.set()  # Ctrl-C ends the searches too


def round_of_walks(estimator: Estimator, walks: Sequence[Sequence[int]]) -> Solution:
    """Return a round in which everybody makes some visits in their order, as far as hard rules let them.

    Hand-overs and breaks are added. A visit that has no place then is put where the estimates say.
    """
    instance = estimator.instance
    bound = {i for gap in instance.gaps for i in (gap.first, gap.second)} | {i for ij in instance.same_bed for i in ij}
    routes = _routes(estimator, walks)
    solution = estimator.evaluator.solution(routes)
    if solution is None:
        routes = _routes(estimator, [[v for v in route if v not in bound] for route in walks])
        solution = estimator.evaluator.solution(routes)
    assert solution is not None, "routes that are timed one by one and bound to no other make a round"
    served = {stop for stops in solution.routes for stop in stops}
    return put_back(estimator, solution, [v for v in range(len(instance.visits)) if v not in served])


def beds_of(instance: Instance) -> Beds:
    """Return a round as compact routes see it.

    Who can be on time for a soft end must be. The break of a collector is kept free at the end of her shift.
    """
    visits, who = instance.visits, instance.collectors
    nodes = [visit.node for visit in visits] + [c.node for c in who]
    walk_s = np.array(instance.walk, dtype=np.int64)
    way_s = np.zeros((len(nodes) + 1, len(nodes) + 1), dtype=np.int64)
    way_s[:-1, :-1] = walk_s[np.ix_(nodes, nodes)]
    way_s[: len(visits), -1] = [_way_out_s(instance, visit) for visit in visits]
    return Beds(
        way_s=way_s,
        stay_s=np.array([visit.service_s for visit in visits], dtype=np.int64),
        windows=tuple(_windows(instance, visit) for visit in visits),
        weight=tuple(visit.weight for visit in visits),
        able=np.array([[k in visit.able for k in range(len(who))] for visit in visits], dtype=bool),
        begin_s=tuple(c.from_s for c in who),
        until_s=tuple(c.until_s - c.break_s for c in who),
    )


def _way_out_s(instance: Instance, visit: VisitData) -> int:
    """Return the seconds from a bed to the nearest pickup, the hand-over included."""
    needs_hand = any(s.by_hand for s in visit.specimens)
    pickups = [p for p in instance.pickups if p.takes_hand or not needs_hand]
    return min((instance.walk[visit.node][p.node] for p in pickups), default=0) + instance.handover_s


def _windows(instance: Instance, visit: VisitData) -> tuple[tuple[int, int], ...]:
    """Return the windows of a visit, cut at its soft end where somebody can be there by then."""
    windows = [(w.earliest_s, w.latest_s) for w in visit.windows]
    who = instance.collectors
    first_s = min((who[k].from_s + instance.walk[who[k].node][visit.node] for k in visit.able), default=0)
    due_s = min((target_s for target_s, _weight in visit.targets), default=windows[-1][1])
    punctual = [(a, min(b, due_s)) for a, b in windows if max(a, first_s) <= min(b, due_s)]
    return tuple(punctual or windows)


def _routes(estimator: Estimator, routes: Sequence[Sequence[int]]) -> tuple[Stops, ...]:
    return tuple(_with_handovers(estimator, k, route) for k, route in enumerate(routes))


def _with_handovers(estimator: Estimator, collector: int, visits: Sequence[int]) -> Stops:
    """Return a route of the visits with hand-overs and the break that it needs; what has no room is left out."""
    head: Stops = ()
    whole: Stops = ()
    for visit in visits:
        for further in _further(estimator, head, visit):
            ending = _best_ending(estimator, collector, further)
            if ending is not None:
                head, whole = further, ending
                break
    return whole


def _further(estimator: Estimator, head: Stops, visit: int) -> Iterator[Stops]:
    """Return the ways to go on to a visit: straight, after a hand-over, after the break, after both."""
    yield (*head, visit)
    last = next((stop for stop in reversed(head) if stop != BREAK), -1)
    handovers = _near(estimator, last) if last >= 0 else []
    yield from ((*head, ~pickup, visit) for pickup in handovers)
    if BREAK not in head:
        yield (*head, BREAK, visit)
        yield from ((*head, ~pickup, BREAK, visit) for pickup in handovers)


def _best_ending(estimator: Estimator, collector: int, head: Stops) -> Stops | None:
    """Return the route with the hand-over at its end that is best for its tiers of goals; None when none is in time."""
    if BREAK in head and estimator.instance.collectors[collector].break_window is None:
        return None
    endings = [(*head, ~pickup) for pickup in _near(estimator, head[-1])]
    timed = [(stops, timing) for stops in endings if (timing := estimator.evaluator.timing(collector, stops))]
    return min(timed, key=lambda entry: (_rank(entry[1]), entry[0]))[0] if timed else None


def _near(estimator: Estimator, visit: int) -> list[int]:
    node = estimator.instance.visits[visit].node
    return sorted({pickup for by_hand in (False, True) for pickup in estimator.pickups_near(node, by_hand)})


def _rank(timing: Timing) -> tuple[int, int]:
    return timing.service, timing.effort
