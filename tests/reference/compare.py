"""Compares the planner with the brute force on as many rounds as wished, breaks and, if wished, trays included.

Run: python tests/reference/compare.py FIRST LAST [MAX_VISITS] [quick|normal|thorough] [no-breaks] [trays]
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from planner.scheduling import schedule
from planner.solving.params import SolveParams
from tests.reference.brute_force import optimum
from tests.reference.tiny import random_round, with_trays
from tests.reference.to_planner import to_planner


def main() -> None:
    """Print every round in which something differs, and the counts."""
    words = sys.argv[1:]
    effort = next((w for w in words if w in ("quick", "normal", "thorough")), "quick")
    first, last, max_visits = ([int(w) for w in words if w.isdecimal()] + [5])[:3]
    brute_s = planner_s = 0.0
    counts = dict.fromkeys(("better than possible", "worse", "worse in goals 1 to 3", "bound too high", "unproven"), 0)
    counts["trays not in time"] = 0
    for seed in range(first, last):
        tiny = random_round(seed, max_visits, "no-breaks" not in words)
        tiny = with_trays(tiny, seed) if "trays" in words else tiny
        began = time.process_time()
        try:
            best = optimum(tiny)
        except LookupError:
            counts["trays not in time"] += 1
            continue
        between = time.process_time()
        outcome = schedule(*to_planner(tiny), SolveParams(effort=effort))
        brute_s, planner_s = brute_s + between - began, planner_s + time.process_time() - between
        values = tuple(g.value for g in outcome.plan.goals)
        bounds = tuple(g.bound for g in outcome.plan.goals)
        faults = {
            "better than possible": values < best,
            "worse": values > best,
            "worse in goals 1 to 3": values[:3] > best[:3],
            "bound too high": any(values[:i] == best[:i] and bounds[i] > best[i] for i in range(len(best))),
        }
        for name, is_so in (faults | {"unproven": values != bounds}).items():
            counts[name] += is_so
        if any(faults.values()) or outcome.trouble:
            named = ", ".join(name for name, is_so in faults.items() if is_so)
            print(
                f"{seed}: {named} {outcome.trouble}\n  {values} planner\n  {bounds} bounds\n  {best} best", flush=True
            )
    print(f"{last - first} rounds, effort {effort}: {counts}; brute force {brute_s:.0f} s, planner {planner_s:.0f} s")


if __name__ == "__main__":
    main()
