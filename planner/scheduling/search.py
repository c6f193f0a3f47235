"""Ruin and recreate: takes neighbouring visits out and puts them back better, again and again, repeatably.

After Schrimpf et al. (Record breaking optimization results using the ruin and recreate principle, 2000) and
Christiaens and Vanden Berghe (Slack induction by string removals, 2020); written anew for goals that compare
strictly in order. The work is counted in routes timed, never in seconds.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

from planner.scheduling.insertion import insert_all, replace_route
from planner.scheduling.instance import BREAK
from planner.scheduling.solution import GOALS, Evaluator, Solution
from planner.scheduling.timing import Stops

HOMELESS_TRIED = 3

LEEWAY_S = tuple({"late": 600, "delivery": 600, "arrival": 600, "time": 240}.get(name, 0) for name, _unit in GOALS)
LEEWAY_SHARE = tuple(
    {"uncollected": 0.15, "late": 0.5, "delivery": 0.5, "arrival": 0.02}.get(n, 0.0) for n, _u in GOALS
)
"""How much worse a goal may get on the way to a better round, at the begin of the search."""


def improve(
    evaluator: Evaluator,
    start: Solution,
    *,
    seed: int,
    work: int,
    should_stop: Callable[[], bool] = lambda: False,
    on_better: Callable[[Solution], None] = lambda _solution: None,
) -> Solution:
    """Return the best round found while ``work`` more routes are timed; never worse than the start.

    A change is kept when it is no worse, or a little worse than the best (`_acceptable`), ever less so; the best
    round is remembered apart.
    """
    rng = random.Random(seed)
    best = current = tidy_handovers(evaluator, start, range(len(start.routes)))
    begin, end = evaluator.num_timed, evaluator.num_timed + work
    idle = 0
    while evaluator.num_timed < end and idle < 400 and not should_stop():
        before = evaluator.num_timed
        progress = (before - begin) / work
        candidate = _recreate(evaluator, current, _ruin(evaluator, current, rng), rng)
        idle = idle + 1 if evaluator.num_timed == before else 0
        if not _acceptable(candidate, current, best, (1 - progress) ** 2):
            continue
        changed = [c for c, stops in enumerate(candidate.routes) if stops != current.routes[c]]
        current = tidy_handovers(evaluator, candidate, changed)
        if current.values < best.values:
            best = current
            on_better(best)
    return best


def _acceptable(candidate: Solution, current: Solution, best: Solution, heat: float) -> bool:
    """Return whether to go on from a candidate: no worse than where we are, or little worse than the best.

    What counts is the first goal in which it differs from the best; it may be worse there by a share of the best
    value (at least by a few minutes), which shrinks with the heat, from 1 to 0.
    """
    if candidate.values <= current.values:
        return True
    for goal, (ours, theirs) in enumerate(zip(candidate.values, best.values, strict=True)):
        if ours != theirs:
            return ours - theirs <= heat * max(LEEWAY_S[goal], LEEWAY_SHARE[goal] * theirs)
    return True


def _ruin(evaluator: Evaluator, solution: Solution, rng: random.Random) -> Solution:
    """Return the round without some visits: a string of stops around one bed in each of the nearest routes."""
    instance = evaluator.instance
    served = [(c, p) for c, stops in enumerate(solution.routes) for p, stop in enumerate(stops) if stop >= 0]
    if not served:
        return solution
    collector, position = rng.choice(served)
    node = instance.visits[solution.routes[collector][position]].node
    ruined = solution
    for c in [
        collector,
        *rng.sample(
            [c for c in range(len(solution.routes)) if c != collector],
            k=min(len(solution.routes) - 1, rng.randint(0, 2)),
        ),
    ]:
        ruined = _cut_string(evaluator, ruined, c, node, rng)
    return ruined


def _cut_string(evaluator: Evaluator, solution: Solution, collector: int, node: int, rng: random.Random) -> Solution:
    """Return the round without a string of visits of one route near a place; its hand-overs stay."""
    instance = evaluator.instance
    stops = solution.routes[collector]
    beds = [p for p, stop in enumerate(stops) if stop >= 0]
    if not beds:
        return solution
    nearest = min(beds, key=lambda p: (instance.walk[node][instance.visits[stops[p]].node], p))
    length = rng.randint(1, min(8, len(beds)))
    first = max(0, beds.index(nearest) - rng.randint(0, length - 1))
    gone = set(beds[first : first + length])
    kept = tuple(stop for p, stop in enumerate(stops) if p not in gone)
    if all(stop < 0 for stop in kept):
        kept = ()
    timing = evaluator.timing(collector, kept)
    if timing is None:
        return solution
    return replace_route(evaluator, solution, collector, kept, timing) or solution


def _recreate(evaluator: Evaluator, before: Solution, solution: Solution, rng: random.Random) -> Solution:
    """Return the round with the visits put back that were cut out, in an order that changes from time to time.

    Of the visits that had no place before only a few are tried each time: most find none, and trying is dear.
    """
    visits = evaluator.instance.visits
    cut_out = sorted(_served(before) - _served(solution))
    homeless = sorted(set(range(len(visits))) - _served(before))
    missing = cut_out + rng.sample(homeless, k=min(len(homeless), HOMELESS_TRIED))
    rng.shuffle(missing)
    way = rng.randint(0, 3)
    if way == 0:
        missing.sort(key=lambda i: visits[i].windows[-1].latest_s)
    elif way == 1:
        missing.sort(key=lambda i: sum(w.latest_s - w.earliest_s for w in visits[i].windows))
    elif way == 2:
        missing.sort(key=lambda i: -visits[i].weight)
    return insert_all(evaluator, solution, missing)


def _served(solution: Solution) -> set[int]:
    return {stop for stops in solution.routes for stop in stops if stop >= 0}


def tidy_handovers(evaluator: Evaluator, solution: Solution, collectors: Sequence[int]) -> Solution:
    """Return the round with the hand-overs of some routes dropped, moved or changed while that is better.

    A hand-over that gains nothing goes too: afterwards no route gives to the same courier's departure twice.
    """
    for collector in collectors:
        improved = True
        while improved:
            improved = False
            for stops in _handover_moves(solution.routes[collector], len(evaluator.instance.pickups)):
                timing = evaluator.timing(collector, stops)
                if timing is None:
                    continue
                changed = replace_route(evaluator, solution, collector, stops, timing)
                if changed is None:
                    continue
                is_shorter = len(stops) < len(solution.routes[collector])
                if changed.values < solution.values or (is_shorter and changed.values == solution.values):
                    solution, improved = changed, True
                    break
    return solution


def _handover_moves(stops: Stops, num_pickups: int) -> list[Stops]:
    """Return the routes with one hand-over (or the break) dropped, changed or moved a few stops, or one more."""
    moves: list[Stops] = []
    for position, stop in enumerate(stops):
        if stop >= 0:
            continue
        without = stops[:position] + stops[position + 1 :]
        moves.append(without)
        if stop != BREAK:
            moves += [
                (*stops[:position], ~pickup, *stops[position + 1 :]) for pickup in range(num_pickups) if ~pickup != stop
            ]
        for other in range(max(0, position - 3), min(len(without), position + 3) + 1):
            if other != position:
                moves.append((*without[:other], stop, *without[other:]))
    for position in range(1, len(stops)):
        if stops[position - 1] >= 0 and stops[position] >= 0:
            moves += [(*stops[:position], ~pickup, *stops[position:]) for pickup in range(num_pickups)]
    return moves
