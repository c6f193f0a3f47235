"""Our plans beside those of a search written apart (`tests/reference/opponent.py`), on rounds with every rule.

Run: nice -n 19 python tests/benchmark/opponents.py FIRST LAST [--visits N ...] [--effort ...] [--tries N]

Prints each round in which the opponent contradicts the checker, is better in one of the first two tiers, or beats what
is called proven; and of the third tier, where the first two are equal, by how much either is better. 400 000 tries
are about 30 s of a core.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from planner.pipeline import plan_round
from planner.solving.params import Effort, SolveParams
from tests.benchmark.rounds import generated_problem
from tests.reference.opponent import Met, meet


@dataclass(frozen=True)
class Match:
    """One round: what both found, and of ours the bounds."""

    seed: int
    visits: int
    ours: tuple[int, ...]
    bounds: tuple[int, ...]
    met: Met

    @property
    def is_better_above(self) -> bool:
        """Whether the opponent is better in the first tier, or in the second with the first equal."""
        return self.met.values[:2] < self.ours[:2]

    @property
    def beats_proof(self) -> bool:
        """Whether it is better in a tier that is said to be at its least with any visits: a bound of zero."""
        return any(
            self.ours[:n] == self.met.values[:n] and self.met.values[n] < self.ours[n] <= self.bounds[n]
            for n in range(len(self.ours))
        )


def match(seed: int, visits: int, effort: str, tries: int) -> Match:
    """Let both plan a generated round."""
    problem = generated_problem(seed, visits, every_rule=True)
    planned = plan_round(problem, SolveParams(effort=effort))
    groups = [frozenset(order.id for order in draw.request.orders) for draw in planned.draws]
    goals = planned.plan.goals
    met = meet(problem, groups, seed, tries)
    return Match(seed, visits, tuple(g.value for g in goals), tuple(g.bound for g in goals), met)


def main() -> None:
    """Print what differs, and the counts."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("first", type=int)
    parser.add_argument("last", type=int)
    parser.add_argument("--visits", nargs="+", type=int, default=[8, 15, 25, 40])
    parser.add_argument("--effort", choices=[*Effort], default="normal")
    parser.add_argument("--tries", type=int, default=400_000)
    options = parser.parse_args()
    matches = []
    for seed in range(options.first, options.last):
        one = match(seed, options.visits[seed % len(options.visits)], options.effort, options.tries)
        matches.append(one)
        marks = [
            "CONTRADICTION" if one.met.contradictions else "",
            "better in tier 1 or 2" if one.is_better_above else "",
            "BEATS A PROOF" if one.beats_proof else "",
        ]
        if any(marks):
            print(f"{seed} ({one.visits}): {', '.join(filter(None, marks))}; ours {one.ours}, bounds {one.bounds}")
            print(f"  opponent {one.met.values}", *one.met.contradictions[:3], sep="\n  ", flush=True)
    _print(matches)


def _print(matches: list[Match]) -> None:
    above = sum(one.is_better_above for one in matches)
    below = sum(one.ours[:2] < one.met.values[:2] for one in matches)
    equal = [one for one in matches if one.ours[:2] == one.met.values[:2]]
    gaps = sorted(100 * (one.ours[2] - one.met.values[2]) / max(1, one.met.values[2]) for one in equal)
    print(
        f"{len(matches)} rounds: contradictions {sum(bool(one.met.contradictions) for one in matches)}, proofs beaten "
        f"{sum(one.beats_proof for one in matches)}; in tiers 1 and 2 the opponent is better in {above}, we in {below}"
    )
    if gaps:
        print(
            f"tier 3 of the {len(gaps)} others, ours above the opponent's (below zero: ours is better): median "
            f"{median(gaps):.1f} %, worst {gaps[-1]:.1f} %; the opponent is better in {sum(gap > 0 for gap in gaps)}"
        )


if __name__ == "__main__":
    main()
