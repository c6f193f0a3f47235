"""Measures the tube room: a morning of 600 patients, and patients with 40 tests.

Run: python tests/benchmark/tube_sets.py
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from planner.domain.orders import Order, Patient
from planner.tubes import choose_tubes
from planner.tubes.report import figures_of, total_line
from tests.unit.tubes.bedside import (
    PARAMS,
    make_child,
    make_order,
    make_patient,
    make_problem,
    make_request,
    real_catalogue,
)

COMMON = (
    *("CBC", "CBCD", "BMP", "CMP", "LYTES", "CREA", "LFT", "CRP", "MAGN", "PHOS", "PT", "APTT", "FIB", "TNI"),
    *("GLU", "LACT", "BC", "TS", "TSH", "VANCT", "ESR"),
)
"""Asked for often on a ward (our choice); the other tests of the catalogue are drawn one time in five."""


def a_patient(rng: random.Random, number: int) -> tuple[Patient, list[Order]]:
    """One in ten is a child with a weight; 1 to 12 orders each, 6 on average."""
    name = f"P{number:03d}"
    years = rng.randint(1, 13)
    is_child = rng.random() < 0.1
    patient = make_child(years, 8 + 2.5 * years, name) if is_child else make_patient(name)
    rare = list(real_catalogue().tests)
    codes = {rng.choice(COMMON if rng.random() < 0.8 else rare) for _ in range(rng.randint(1, 12))}
    return patient, [make_order(code, f"{name}-{n:02d}", name) for n, code in enumerate(sorted(codes))]


def timed(patients: Sequence[tuple[Patient, list[Order]]], title: str) -> None:
    """Choose for all at once, then one by one with nothing remembered, and print the figures."""
    problem = make_problem([p for p, _ in patients], [o for _, orders in patients for o in orders])
    requests = [make_request(patient, orders) for patient, orders in patients]
    began = time.perf_counter()
    choice = choose_tubes(problem, requests, PARAMS)
    whole_s = time.perf_counter() - began
    alone = []
    for request in requests:
        began = time.perf_counter()
        choose_tubes(problem, [request], PARAMS)
        alone.append(time.perf_counter() - began)
    print(f"{title}: {len(patients)} patients, {len(problem.orders)} orders in {whole_s:.2f} s together")
    print(f"  alone: median {statistics.median(alone) * 1e3:.1f} ms, worst {max(alone) * 1e3:.0f} ms")
    print(f"  {total_line(figures_of(choice.tube_sets.values()))}")
    print(f"  orders that wait: {len(choice.postponed)}")


def main() -> None:
    """Print the figures."""
    rng = random.Random(600)
    choose_tubes(make_problem([], []), [], PARAMS)
    timed([a_patient(rng, n) for n in range(600)], "morning")
    codes = list(real_catalogue().tests)
    heavy = []
    for n in range(100):
        name = f"H{n:03d}"
        orders = [make_order(c, f"{name}-{m:02d}", name) for m, c in enumerate(sorted(rng.sample(codes, 40)))]
        heavy.append((make_patient(name), orders))
    timed(heavy, "40 tests each")
    chemistry = [c for c, t in real_catalogue().tests.items() if t.share_group == "CHEM"]
    hard = []
    for n in range(50):
        name = f"C{n:03d}"
        orders = [make_order(c, f"{name}-{m:02d}", name) for m, c in enumerate(sorted(rng.sample(chemistry, 40)))]
        hard.append((make_patient(name), orders))
    timed(hard, "40 tests of one share group")
    children = []
    for n in range(60):
        name = f"K{n:03d}"
        orders = [make_order(c, f"{name}-{m:02d}", name) for m, c in enumerate(sorted(rng.sample(codes, 15)))]
        children.append((make_child(3, 14, name), orders))
    timed(children, "children over their limit")


if __name__ == "__main__":
    main()
