"""Runs cases over all doors and tables them: ``python tests/fuzz/run.py CASES [SEED] [DOOR]``; README.md says how."""

from __future__ import annotations

import sys
import time
import traceback
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.fuzz.doors import DOORS

SLOWEST_S = 10.0
"""Seconds of processor time after which a case of a few kilobytes counts as hung."""


@dataclass
class Tally:
    """What became of the cases of one door."""

    tried: int = 0
    held: int = 0
    fell: list[str] = field(default_factory=list)
    """One line a case that fell: its seed and the last line of what was raised."""
    slowest_s: float = 0.0


def run(cases: int, seed: int, doors: tuple[str, ...] = tuple(DOORS)) -> dict[str, Tally]:
    """Try so many cases in all, the doors in turn; case n of a seed is the same whatever else is tried."""
    tallies = {name: Tally() for name in doors}
    for n in range(cases):
        name = doors[n % len(doors)]
        tally, case = tallies[name], f"{seed}:{n // len(doors)}:{name}"
        tally.tried += 1
        start = time.process_time()
        try:
            DOORS[name](Random(case))
        except Exception as error:  # whatever it is, it is what is looked for
            where = traceback.extract_tb(error.__traceback__)[-1]
            tally.fell.append(
                f"{case}: {type(error).__name__}: {str(error)[:120]} ({Path(where.filename).name}:{where.lineno})"
            )
            continue
        took_s = time.process_time() - start
        tally.slowest_s = max(tally.slowest_s, took_s)
        if took_s > SLOWEST_S:
            tally.fell.append(f"{case}: hung for {took_s:.0f} s")
        else:
            tally.held += 1
    return tallies


def main() -> int:
    """Print the table, then every case that fell; the exit code is 1 if one did."""
    cases, seed = int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1
    doors = tuple(name for name in DOORS if len(sys.argv) < 4 or name == sys.argv[3])
    tallies = run(cases, seed, doors)
    print(f"{'door':<24}{'tried':>8}{'held':>8}{'fell':>8}{'slowest':>10}")
    for name, tally in tallies.items():
        print(f"{name:<24}{tally.tried:>8}{tally.held:>8}{len(tally.fell):>8}{tally.slowest_s:>8.2f} s")
    fell = [line for tally in tallies.values() for line in tally.fell]
    print(*fell, sep="\n")
    return 1 if fell else 0


if __name__ == "__main__":
    sys.exit(main())
