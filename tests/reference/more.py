"""Rounds with one resource more, and in which tier of goals a plan with it is worse than the plan without it.

Run: python tests/reference/more.py FIRST LAST [VISITS ...] [effort]; prints each pair that is worse, and the counts.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from planner.domain.goals import Tier
from planner.domain.places import PickupKind
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.pipeline import PlannedRound, plan_round
from planner.scheduling import schedule
from planner.solving.params import SolveParams
from tests.benchmark.rounds import generated_problem

LONGER_S = 30 * 60


def with_more(problem: Problem) -> Iterator[tuple[str, Problem]]:
    """Yield the round with a person more, a courier more, a longer shift; whatever could be done before still can."""
    first = problem.staff[0]
    one_more = replace(first, name="One More", initials="+1", break_window=None, break_s=0)
    yield "person", replace(problem, staff=(*problem.staff, one_more))
    for n, pickup in enumerate(problem.pickups):
        if pickup.kind is PickupKind.COURIER:
            between_s = (problem.start_s + problem.end_s) // 2
            times = tuple(sorted({*pickup.departures_s, between_s}))
            pickups = (*problem.pickups[:n], replace(pickup, departures_s=times), *problem.pickups[n + 1 :])
            yield "courier", replace(problem, pickups=pickups)
            break
    last = problem.staff[-1]
    staff = (*problem.staff[:-1], replace(last, until_s=last.until_s + LONGER_S))
    yield "shift", replace(problem, staff=staff)


def same_routes(more: Problem, planned: PlannedRound, params: SolveParams) -> Plan:
    """Return the routes of the plan without the resource, counted in the round that has it.

    A fair share, and so what counts above it, is another one with more hours: values of two rounds say nothing.
    """
    return schedule(
        more, planned.draws, params, planned.plan.unplanned, start=planned.plan, is_trial=True, trial_work=0
    ).plan


def worse_in(before: Plan, after: Plan) -> tuple[Tier, int, int] | None:
    """Return the first tier in which plans of one round differ, where the second is worse there, and both values."""
    for tier, was, now in zip(Tier, before.goals, after.goals, strict=True):
        if was.value != now.value:
            return (tier, was.value, now.value) if now.value > was.value else None
    return None


def main() -> None:
    """Measure generated rounds."""
    numbers = [int(word) for word in sys.argv[1:] if word.isdecimal()]
    effort = next((word for word in sys.argv[1:] if word in ("quick", "normal", "thorough")), "quick")
    params = SolveParams(effort=effort, proves=False)
    first, last, *sizes = numbers
    counts, compared = Counter[tuple[str, str]](), Counter[str]()
    rises: dict[str, list[float]] = {}
    for seed in range(first, last):
        problem = generated_problem(seed, sizes[seed % len(sizes)] if sizes else 12, 2)
        before = plan_round(problem, params)
        for name, more in with_more(problem):
            worse = worse_in(same_routes(more, before, params), plan_round(more, params).plan)
            compared[name] += 1
            if worse is not None:
                tier, was, now = worse
                counts[name, tier.value] += 1
                rises.setdefault(tier.value, []).append(100 * (now - was) / max(1, was))
                print(f"{seed}: one {name} more, {tier.value} {was} -> {now}", flush=True)
    print(f"compared {dict(compared)}; worse {dict(counts)}")
    for tier, found in rises.items():
        found.sort()
        print(f"{tier}: {len(found)} worse, median {found[len(found) // 2]:.2f} %, worst {found[-1]:.2f} %")


if __name__ == "__main__":
    main()
