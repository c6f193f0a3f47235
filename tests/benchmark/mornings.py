"""Simulates many mornings at published rates, and prints stops moved and seconds per replan, and what became of orders.

Run: nice python tests/benchmark/mornings.py [number of mornings] [visits] [first seed]; 300 mornings of 30 beds else.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmark.rounds import generated_problem
from tests.mornings.morning import Morning, simulate
from tests.mornings.rates import Rates


def main() -> None:
    """Simulate, with a line for each fault as it is found, and the figures at the end."""
    numbers = [int(word) for word in sys.argv[1:] if word.isdecimal()]
    count, visits, first = (numbers + [300, 30, 1][len(numbers) :])[:3]
    began_s = time.perf_counter()
    mornings: list[Morning] = []
    for seed in range(first, first + count):
        mornings.append(simulate(seed, generated_problem(seed, visits), Rates()))
        for fault in mornings[-1].faults:
            print("FAULT", fault, flush=True)
        if len(mornings) % 10 == 0:
            _print(mornings, visits, time.perf_counter() - began_s)
    _print(mornings, visits, time.perf_counter() - began_s)


def _print(mornings: Sequence[Morning], visits: int, took_s: float) -> None:
    seconds = [s for m in mornings for s in m.seconds]
    moved = [n for m in mornings for n in m.moved]
    heard = sum((m.heard for m in mornings), Counter[str]())
    ends = sum((m.ends for m in mornings), Counter[str]())
    in_vain = sum((m.in_vain for m in mornings), Counter[str]())
    print(
        f"{len(mornings)} mornings of {visits} beds, {len(seconds)} replans in {took_s:.0f} s; "
        f"faults {sum(len(m.faults) for m in mornings)}\n"
        f"  seconds of a core a replan: median {median(seconds):.2f}, worst {max(seconds):.2f}\n"
        f"  stops moved a replan: mean {sum(moved) / len(moved):.2f}, median {median(moved):g}, worst {max(moved)}; "
        f"of {sum(n for m in mornings for n in m.num_promised) / len(moved):.1f} to come\n"
        f"  set beside walking on: {sum(m.compared for m in mornings)}\n"
        f"  heard: {dict(heard.most_common())}\n"
        f"  orders ended: {dict(ends.most_common())}\n"
        f"  drawn in vain, by cause: {dict(in_vain.most_common())}",
        flush=True,
    )


if __name__ == "__main__":
    main()
