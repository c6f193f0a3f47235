"""Compares the planner with a brute force on as many rounds as wished, breaks and, if wished, trays included.

Run: python tests/reference/compare.py FIRST LAST [MAX_VISITS] [quick|normal|thorough] [no-breaks] [trays] [plain]
     [bound] [work=MILLIONS]

FIRST and LAST are seeds (LAST excluded), MAX_VISITS at most 8 (5 if left out): a round has 1 to so many. ``plain`` asks
`brute_force`, which is enough for four visits, else `exhaust` is asked. Rounds that are too much work for it (numbers
looked up, 10 millions if not said: some seconds) are counted as skipped. "Not optimal" says how many plans miss the
best, by the first tier in which they do. ``bound`` makes other rounds, of visits bound to one another (series, one at
the bed) and small trays, for `joint`, which manages five visits.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from planner.domain.goals import Tier
from planner.scheduling import schedule
from planner.solving.params import SolveParams
from tests.reference import brute_force, exhaust, joint
from tests.reference.tiny import TinyRound, random_round, with_trays
from tests.reference.to_planner import to_planner

Values = tuple[int, ...]


def main() -> None:
    """Print every round in which something differs, and the counts."""
    words = sys.argv[1:]
    effort = next((w for w in words if w in ("quick", "normal", "thorough")), "quick")
    first, last, max_visits = ([int(w) for w in words if w.isdecimal()] + [5])[:3]
    brute_s = planner_s = 0.0
    counts, worse, sizes, skipped = Counter[str](), Counter[str](), Counter[int](), Counter[int]()
    for seed in range(first, last):
        tiny = _round(seed, max_visits, words)
        num_visits = sum(visit.tray_of is None for visit in tiny.visits)
        began = time.process_time()
        try:
            best = _optimum(tiny, words)
        except LookupError:
            counts["trays not in time"] += 1
            continue
        except (exhaust.TooMuchWorkError, joint.TooMuchWorkError):
            skipped[num_visits] += 1
            continue
        finally:
            between = time.process_time()
            brute_s += between - began
        sizes[num_visits] += 1
        counts.update(_compare(seed, tiny, best, effort, worse))
        planner_s += time.process_time() - between
    print(
        f"{last - first} rounds, effort {effort}, {sum(sizes.values())} compared; by visits: {_listed(sizes)}\n"
        f"skipped for too much work, by visits: {_listed(skipped)}\n"
        f"{_listed(counts)}\nnot optimal, by first tier: {_listed(worse)}\n"
        f"brute force {brute_s:.0f} s, planner {planner_s:.0f} s"
    )


def _round(seed: int, max_visits: int, words: list[str]) -> TinyRound:
    if "bound" in words:
        return joint.random_bound_round(seed, max_visits)
    tiny = random_round(seed, max_visits, "no-breaks" not in words)
    return with_trays(tiny, seed) if "trays" in words else tiny


def _optimum(tiny: TinyRound, words: list[str]) -> Values:
    if "bound" in words:
        return joint.optimum(tiny)
    if "plain" in words:
        return brute_force.optimum(tiny)
    work = next((int(w[5:]) * 1_000_000 for w in words if w.startswith("work=")), exhaust.WORK_LIMIT)
    return exhaust.optimum(tiny, work)


def _compare(seed: int, tiny: TinyRound, best: Values, effort: str, worse: Counter[str]) -> Counter[str]:
    """Plan one round, print what differs, and return what is to be counted."""
    outcome = schedule(*to_planner(tiny), SolveParams(effort=effort))
    values = tuple(g.value for g in outcome.plan.goals)
    bounds = tuple(g.bound for g in outcome.plan.goals)
    faults = {
        "better than possible": values < best,
        "not optimal": values > best,
        "bound too high": any(values[:i] == best[:i] and bounds[i] > best[i] for i in range(len(best))),
        "proven and not optimal": values == bounds and values != best,
        "trouble": bool(outcome.trouble),
    }
    if values > best:
        goal = next(i for i, (mine, its) in enumerate(zip(values, best, strict=True)) if mine != its)
        worse[list(Tier)[goal].value] += 1
    if any(faults.values()):
        named = ", ".join(name for name, is_so in faults.items() if is_so)
        print(f"{seed}: {named} {outcome.trouble}\n  {values} planner\n  {bounds} bounds\n  {best} best", flush=True)
    return Counter({name: int(is_so) for name, is_so in (faults | {"unproven": values != bounds}).items()})


def _listed(counts: Counter[str] | Counter[int]) -> str:
    return ", ".join(f"{key}: {num}" for key, num in sorted(counts.items(), key=str)) or "none"


if __name__ == "__main__":
    main()
