"""Measures the command itself: writes generated rounds as tables and runs ``planner plan`` on each.

Run: python tests/benchmark/command.py [patients ...] [--people N] [--seeds N] [--effort quick|normal|thorough]
[--plain]; the five sizes of `LIMITS` else. The rounds hold every rule (`every_rule`), or with ``--plain`` only those
of `rounds.generated_problem`. Each can be made without leaving anything out (`walked.feasible_round`): tiers 1 and 2
of the walk that shows it stand in the last column.

Seconds run from the start of the process to its end, processor time is that of it and the processes that it started.
The peak is that of the largest of these processes; below the memory of this script itself (some 100 MB) it tells
nothing, because a process begins as a copy of the one that starts it. All else is read from the plan that was written.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from planner.domain.goals import Tier
from planner.solving.params import Effort
from tests.benchmark.round_tables import write_tables
from tests.benchmark.walked import feasible_round

ROOT = Path(__file__).resolve().parents[2]
PATIENTS_PER_PERSON = 20
LIMITS = {30: (2, 5), 70: (5, 10), 120: (6, 15), 350: (18, 45), 600: (30, 90)}
"""By patients: the people of the round, and the seconds that we allow the whole command."""


@dataclass(frozen=True, slots=True)
class Run:
    """One run of the command. ``peak_mb`` is the largest resident memory of any process of it."""

    exit_code: int
    wall_s: float
    cpu_s: float
    peak_mb: float
    last_words: str


def run_plan(folder: Path, out: Path, effort: str) -> Run:
    """Run ``planner plan`` on a folder of tables and wait for it."""
    command = [sys.executable, "-m", "planner", "plan", str(folder), "--out", str(out), "--effort", effort]
    with tempfile.TemporaryFile() as said:
        began = time.perf_counter()
        process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=said)
        _pid, status, used = os.wait4(process.pid, 0)
        wall_s = time.perf_counter() - began
        process.returncode = os.waitstatus_to_exitcode(status)
        said.seek(0)
        words = said.read().decode(errors="replace").strip()
    return Run(process.returncode, wall_s, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, words[-2000:])


def row_of(seed: int, patients: int, people: int, effort: str, every_rule: bool) -> tuple[str, Run]:
    """Plan one round by the command; return its row and the run."""
    problem, walk = feasible_round(seed, patients, people, every_rule=every_rule)
    with tempfile.TemporaryDirectory() as temporary:
        folder, out = Path(temporary, f"generated {seed}"), Path(temporary, "out")
        write_tables(problem, folder)
        run = run_plan(folder, out, effort)
        file = out / "r1" / "plan.json"
        plan = json.loads(file.read_bytes()) if file.is_file() else None
    cells = ["no plan"] if plan is None else _cells(plan, [order.id for order in problem.orders])
    figures = f"{run.exit_code:>4} {run.wall_s:>6.1f} {run.cpu_s:>6.1f} {run.peak_mb:>5.0f} "
    visits = "-" if plan is None else str(len(_visits(plan)))
    held = f"   {walk.goals[0].value} {walk.goals[1].value}"
    return f"{visits:>6} {people:>6} {seed:>4} " + figures + " ".join(cells) + held, run


def _visits(plan: dict[str, Any]) -> list[dict[str, Any]]:
    return [stop for route in plan["routes"] for stop in route["stops"] if stop["kind"] == "visit"]


def _cells(plan: dict[str, Any], order_ids: Sequence[str]) -> list[str]:
    """Return orders left out, orders that the plan does not speak of, and each tier of goals with its proof."""
    planned = {order_id for visit in _visits(plan) for order_id in visit["order_numbers"]}
    left = {unplanned["order_number"] for unplanned in plan["unplanned"]}
    lost = [order_id for order_id in order_ids if order_id not in planned | left]
    goals = [
        f"{goal['value']} {'ok' if goal['proven'] else '-' + str(goal['value'] - goal['bound'])}"
        for goal in plan["goals"]
    ]
    proven = sum(goal["proven"] for goal in plan["goals"])
    shown = [f"{goal:>16}" for goal in goals]
    return [f"{len(left & set(order_ids)):>4}", f"{len(lost):>4}", *shown, f"{proven:>4} of {len(goals)}"]


def _table(sizes: Sequence[int], people: int | None, seeds: int, effort: str, every_rule: bool) -> None:
    rules = "every rule" if every_rule else "the rules of rounds.py"
    print(f"planner plan, effort {effort}, {rules}; a tier: value, then 'ok' when proven, else how far the bound is")
    names = [f"{tier.value:>16}" for tier in Tier]
    print(
        f"{'visits':>6} {'people':>6} {'seed':>4} exit {'s':>6} {'cpu s':>6} {'MB':>5} left lost",
        *names,
        "proven   walk",
    )
    for size in sizes:
        runs = []
        usual, limit_s = LIMITS.get(size, (max(1, -(-size // PATIENTS_PER_PERSON)), None))
        for seed in range(1, seeds + 1):
            row, run = row_of(seed, size, people or usual, effort, every_rule)
            print(row, flush=True)
            if run.exit_code not in (0, 3):
                print(run.last_words, flush=True)
            runs.append(run.wall_s)
        limit = f", allowed {limit_s} s" if limit_s else ""
        print(f"{size} patients: mean {sum(runs) / len(runs):.1f} s, worst {max(runs):.1f} s{limit}\n", flush=True)


def main() -> None:
    """Print the table for the numbers of patients given."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sizes", nargs="*", type=int, default=[*LIMITS], metavar="patients")
    parser.add_argument("--people", type=int, help="Collectors; those of `LIMITS`, or one for each 20 patients, else.")
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--effort", choices=[*Effort], default="normal")
    parser.add_argument("--plain", action="store_true", help="Without the rules of every_rule.py.")
    options = parser.parse_args()
    _table(options.sizes, options.people, options.seeds, options.effort, not options.plain)


if __name__ == "__main__":
    main()
