"""Ruin and recreate: takes neighbouring visits out and puts them back better, again and again, repeatably.

After Schrimpf et al. (Record breaking optimization results using the ruin and recreate principle, 2000) and
Christiaens and Vanden Berghe (Slack induction by string removals, 2020); written anew for tiers
of goals that compare strictly in order. The work is counted in routes timed and gaps estimated, never in seconds.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from planner.domain.goals import EFFORT_PER_S, Tier
from planner.scheduling.search.estimates import Estimator
from planner.scheduling.search.handovers import drop_needless, has_empty, tidy_handovers
from planner.scheduling.search.recreate import insertion_order, put_back
from planner.scheduling.search.ruin import ruin
from planner.scheduling.timing.solution import Evaluator, Solution

__all__ = ["improve", "tidy_handovers"]

HOMELESS_TRIED = 6
"""Of the visits that have no place so many are tried each time: most find none, and trying is dear."""

GAPS_A_TIMING = 15
"""So many gaps estimated are as much work as one route timed."""

TRIES_A_TIMING = 3
"""So many rounds tried are at least as much work as one route timed, however much of them is remembered."""

TIDIED = 30
"""Hand-overs of a round better than the best are tidied about so many times in a search, and at its end."""

COMPACT, COMPACT_IF_SHORT = 0.2, 0.6
"""How often visits are put back where they take the least time: more often while some have no place."""

LEEWAY = {
    Tier.LEFT_OUT: (0, 0.15),
    Tier.SERVICE: (600, 0.5),
    Tier.EFFORT: (60 * EFFORT_PER_S, 0.005),
}
"""How much worse a tier may get on the way to a better round, at the begin of the search: by the larger of a number
and a share of the best value."""

LEEWAYS = tuple(LEEWAY[tier] for tier in Tier)


def improve(
    evaluator: Evaluator,
    start: Solution,
    *,
    seed: int,
    work: int,
    should_stop: Callable[[], bool] = lambda: False,
    on_better: Callable[[Solution], None] = lambda _solution: None,
    estimator: Estimator | None = None,
) -> Solution:
    """Return the best round found while so much more work is done; never worse than the start.

    A change is kept when it is no worse, or a little worse than the best (`_acceptable`), ever less so; the best
    round is remembered apart. ``work`` counts routes timed, and the gaps estimated at their share; a round tried counts
    too (`TRIES_A_TIMING`): where few visits are left, nearly all is remembered from rounds tried before.
    """
    rng = random.Random(seed)
    estimator = estimator or Estimator(evaluator)
    best = current = tidy_handovers(evaluator, start, range(len(start.routes)), estimator)
    begin, begin_gaps = evaluator.num_timed, estimator.num_gaps
    done = worked = tried = idle = next_tidy = 0
    while done < work and idle < 400 and not should_stop():
        candidate = _other(estimator, current, rng)
        before, worked = worked, evaluator.num_timed - begin + (estimator.num_gaps - begin_gaps) // GAPS_A_TIMING
        idle = idle + 1 if worked == before else 0
        tried += 1
        done = max(worked, tried // TRIES_A_TIMING)
        heat = max(0.0, 1 - done / work) ** 2
        if has_empty(candidate) or not _acceptable(candidate, current, best, heat):
            continue
        if candidate.values < best.values and done >= next_tidy:
            candidate = tidy_handovers(evaluator, candidate, _changed(candidate, best), estimator)
            next_tidy = done + work // TIDIED
        current = candidate
        if current.values < best.values:
            best = current
            on_better(best)
    best = tidy_handovers(evaluator, best, range(len(best.routes)), estimator)
    on_better(best)
    return best


def _other(estimator: Estimator, current: Solution, rng: random.Random) -> Solution:
    """Return a round near the current one."""
    evaluator = estimator.evaluator
    ruined = ruin(evaluator, current, rng)
    had, has = _served(current), _served(ruined)
    homeless = sorted(set(range(len(evaluator.instance.visits))) - had)
    missing = sorted(had - has) + rng.sample(homeless, k=min(len(homeless), HOMELESS_TRIED))
    is_compact = rng.random() < (COMPACT_IF_SHORT if homeless else COMPACT)
    candidate = put_back(estimator, ruined, insertion_order(evaluator, missing, rng), rng, is_compact)
    return drop_needless(evaluator, candidate, _changed(candidate, current))


def _changed(solution: Solution, other: Solution) -> list[int]:
    return [k for k, stops in enumerate(solution.routes) if stops != other.routes[k]]


def _acceptable(candidate: Solution, current: Solution, best: Solution, heat: float) -> bool:
    """Return whether to go on from a candidate: no worse than where we are, or little worse than the best.

    What counts is the first tier in which it differs from the best; it may be worse there by a share of the best
    value (at least by a few minutes), which shrinks with the heat, from 1 to 0.
    """
    if candidate.values <= current.values:
        return True
    for tier, (ours, theirs) in enumerate(zip(candidate.values, best.values, strict=True)):
        if ours != theirs:
            least, share = LEEWAYS[tier]
            return ours - theirs <= heat * max(least, share * theirs)
    return True


def _served(solution: Solution) -> set[int]:
    return {stop for stops in solution.routes for stop in stops if stop >= 0}
