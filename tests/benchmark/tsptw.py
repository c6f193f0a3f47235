"""Published single-vehicle instances with time windows (TSPTW), solved by the scheduler's own search and model.

Run: python tests/benchmark/tsptw.py FOLDER [travel|makespan ...] [part of a file's name ...]; FOLDER holds
`bounds.csv` and a folder of files a set. Each instance has 20 s on two cores: compact routes, then the exact model.

What stands for what. Node 0 is the base where the one collector starts at second 0, and the pickup where she ends: a
place to carry specimens to, without handling or transit, used once, so the last stop of the route. Every other node
is a bed with one window (the begin of the visit), no time at the bed (what a file counts as service is in its
matrix), and specimens that keep. The base's due time is the end of the shift. `makespan` is then part `finish` of
tier `effort`; `travel`, the sum of the arcs walked without waiting, is no goal of ours. Either is handed to the search
and to the model as the whole tier. Whole numbers are taken times 60, four decimals times 10 000. Direct
arcs are used as they stand: the triangle inequality does not hold in most files, and nothing here assumes it.
"""

from __future__ import annotations

import csv
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import itertools

from ortools.sat.python import cp_model

from planner.domain.goals import Tier
from planner.domain.orders import TimeWindow
from planner.scheduling.compact.beds import Beds
from planner.scheduling.compact.compact import TIME, WALKING, Walks, compact_walks
from planner.scheduling.compact.compact_start import beds_of
from planner.scheduling.exact.constraints import way_s
from planner.scheduling.exact.model import build_model
from planner.scheduling.exact.objective import finish
from planner.scheduling.exact.variables import HandoverSlot, RoundVars
from planner.scheduling.search.estimates import Estimator, Option, Options, with_visit
from planner.scheduling.search.kernel import MAX_OPTIONS
from planner.scheduling.search.recreate import first_round
from planner.scheduling.search.search import improve
from planner.scheduling.timing.instance import CollectorData, Instance, PickupData, SpecimenData, VisitData
from planner.scheduling.timing.solution import Evaluator, Solution, Values
from planner.scheduling.timing.timing import Stops, Timing, time_route
from planner.solving.cp_sat import run_cp_sat
from planner.solving.outcome import SolveStatus
from planner.solving.params import SolveParams

LIMIT_S = 20.0
SEARCH_S = 13.0
LEG_S, PACE = 2.0, 2_000
"""A search is given so many removals as take about so long; how many, so many removals tell."""

AGREED = 2
"""So many searches that end alike end the search before its time."""

ROUNDING = 0.02
"""The published tours of one set are late by up to so much, because of rounding in the files: allowed to us too."""

PRICED = list(Tier).index(Tier.EFFORT)
"""Where travel or makespan stand among the values: the search gives this tier the leeway that suits them."""


LOOSE = 10**9
"""Stands for a tier that holds nothing: nothing of the instances is in it."""


@dataclass(frozen=True)
class Published:
    """An instance, and what is published of it (None: nothing)."""

    name: str
    instance: Instance
    scale: int
    best: dict[str, float | None]
    lower: dict[str, float | None]


@dataclass(frozen=True)
class Result:
    """What we found, in the units of the file."""

    value: float | None
    bound: float | None
    took_s: float

    @property
    def is_proven(self) -> bool:
        return self.value is not None and self.bound is not None and self.bound >= self.value


def read(path: Path) -> tuple[list[list[float]], list[tuple[float, float]]]:
    """Return the matrix and the windows of a file: a count, the matrix, a window a node."""
    words = " ".join(line.split("#")[0] for line in path.read_text().splitlines()).split()
    size = int(words[0])
    numbers = [float(word) for word in words[1 : 1 + size * size + 2 * size]]
    matrix = [numbers[i * size : (i + 1) * size] for i in range(size)]
    ends = numbers[size * size :]
    return matrix, [(ends[2 * i], ends[2 * i + 1]) for i in range(size)]


def to_instance(matrix: list[list[float]], windows: list[tuple[float, float]], scale: int) -> Instance:
    """Return the round that an instance stands for (see the module's text)."""
    specimens = (SpecimenData(by_hand=False, limit_s=10**9, need_weight=0),)
    visits = tuple(
        VisitData(
            node=node,
            service_s=0,
            windows=(TimeWindow(earliest_s=round(first * scale), latest_s=round(last * scale)),),
            targets=(),
            weight=1,
            specimens=specimens,
            need_by_s=None,
            able=frozenset({0}),
        )
        for node, (first, last) in enumerate(windows)
        if node
    )
    return Instance(
        start_s=0,
        walk=tuple(tuple(round(x * scale) for x in row) for row in matrix),
        visits=visits,
        pickups=(PickupData(node=0, takes_hand=True, departures_s=(), transit_s=0),),
        collectors=(CollectorData(node=0, from_s=0, until_s=round(windows[0][1] * scale)),),
        handover_s=0,
        max_sends=1,
    )


class Priced(Evaluator):
    """Gives rounds the values: nodes left out, then travel or makespan."""

    def __init__(self, instance: Instance, objective: str) -> None:
        super().__init__(instance)
        self.is_travel = objective == "travel"

    def values(self, routes: tuple[Stops, ...], timings: tuple[Timing, ...]) -> Values:
        visits, walk = self.instance.visits, self.instance.walk
        end = self.instance.pickups[0].node
        nodes = [0, *(visits[s].node if s >= 0 else end for s in routes[0])]
        price = sum(walk[a][b] for a, b in itertools.pairwise(nodes))
        values = [0] * len(Tier)
        values[0] = len(visits) - sum(s >= 0 for s in routes[0])
        values[PRICED] = price if self.is_travel else timings[0].finish_s
        return tuple(values)


class Detours(Estimator):
    """Estimates an insertion by its detour alone."""

    def options(self, visit: int, collector: int, stops: Stops) -> Options:
        """Return the gaps that keep all windows, those with the shortest detour first."""
        walk, node = self.instance.walk, self.instance.visits[visit].node
        end = self.instance.pickups[0].node
        nodes = [self.instance.collectors[collector].node]
        nodes += [self.instance.visits[stop].node if stop >= 0 else end for stop in stops]
        found = []
        for gap in range(len(stops) + 1):
            pickup = -1 if stops else 0
            timing = time_route(self.instance, collector, with_visit(stops, gap, visit, pickup))
            self.num_gaps += 1
            if timing is not None:
                here, there = nodes[gap], nodes[gap + 1] if gap < len(stops) else end
                detour = walk[here][node] + walk[node][there] - walk[here][there]
                found.append(Option(0, detour, timing.finish_s, timing.finish_s, gap, pickup))
        by_time = sorted(found, key=lambda option: (option.time_s, option))
        return tuple(sorted(found)[:MAX_OPTIONS]), tuple(by_time[:MAX_OPTIONS])


def travel(_model: cp_model.CpModel, instance: Instance, v: RoundVars, slots: tuple[HandoverSlot, ...]) -> object:
    """Length of the arcs walked."""
    arcs = v.routes[0].arcs.items()
    return sum(way_s(instance, 0, slots, a, b) * literal for (a, b), literal in arcs if b)


def solve(published: Published, objective: str, limit_s: float = LIMIT_S) -> Result:
    """Search, then prove or improve with the exact model on two cores."""
    compact_walks(beds_of(published.instance), seed=0, removals=1)  # loads the machine code
    began = time.monotonic()
    instance = published.instance
    evaluator = Priced(instance, objective)
    best = _searched(evaluator, objective, began + SEARCH_S)
    best, bound = _prove(instance, evaluator, best, objective, limit_s - (time.monotonic() - began))
    is_whole = best.values[0] == 0
    scale = published.scale
    return Result(
        value=best.values[PRICED] / scale if is_whole else None,
        bound=None if bound is None else bound / scale,
        took_s=time.monotonic() - began,
    )


def _searched(evaluator: Priced, objective: str, until: float) -> Solution:
    """Return the best tour of compact routes; of whole rounds where visits are bound to one another."""
    if evaluator.instance.gaps:
        return _general_search(evaluator, until)
    tours = _compact_search(beds_of(evaluator.instance), WALKING if objective == "travel" else TIME, until)
    solutions = [evaluator.solution(((*tour, ~0) if tour else (),)) for tour in tours]
    return min((s for s in solutions if s is not None), key=lambda s: s.values)


def _general_search(evaluator: Priced, until: float) -> Solution:
    """Search whole rounds with one seed after the other while that still gains."""
    estimator = (Detours if evaluator.is_travel else Estimator)(evaluator)
    best = first_round(estimator)
    seed = stale = 0
    while time.monotonic() < until and stale < AGREED:
        seed += 1
        found = improve(
            evaluator,
            best,
            seed=seed,
            work=300 * len(evaluator.instance.visits),
            estimator=estimator,
            should_stop=lambda: time.monotonic() > until,
        )
        stale = 0 if found.values < best.values or best.values[0] else stale + 1
        best = min(best, found, key=lambda s: s.values)
    return best


def _compact_search(beds: Beds, prices: tuple[int, int], until: float) -> list[tuple[int, ...]]:
    """Return the best tour of each of some searches: soon one of two that agree, or all that the time allows."""
    began = time.monotonic()
    compact_walks(beds, seed=0, removals=PACE, prices=prices)
    removals = round(LEG_S * PACE / (time.monotonic() - began))
    found: list[Walks] = []
    while time.monotonic() < until:
        found.append(
            compact_walks(
                beds,
                seed=len(found) + 1,
                removals=removals,
                prices=prices,
                should_stop=lambda: time.monotonic() > until,
            )
        )
        ranks = sorted((len(w.absent), w.walking_s if prices is WALKING else w.time_s) for w in found)
        if len(found) >= AGREED and ranks[0] == ranks[AGREED - 1] and not ranks[0][0]:
            break
    return [walks.routes[0] for walks in found]


def _prove(
    instance: Instance, evaluator: Priced, best: Solution, objective: str, limit_s: float
) -> tuple[Solution, int | None]:
    if best.values[0]:
        return best, None  # the model starts from a whole round
    known = replace(best, values=(0, LOOSE, LOOSE))
    built = build_model(instance, known, Tier.EFFORT, travel if objective == "travel" else finish)
    outcome = run_cp_sat(built.model, SolveParams(workers=2), deterministic_limit=1e9, wall_limit_s=max(0.5, limit_s))
    if outcome.status is SolveStatus.INFEASIBLE:
        raise AssertionError("the model excludes a tour that keeps all windows")
    if outcome.status.has_solution:
        found = evaluator.solution(built.routes(outcome))
        assert found is not None
        best = min(best, found, key=lambda s: s.values)
    return best, outcome.bound


def instances(folder: Path) -> list[Published]:
    """Return the instances that `bounds.csv` of a folder lists."""
    found = []
    with (folder / "bounds.csv").open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            matrix, windows = read(folder / row["set"] / row["file"])
            if row["set"] == "SolomonPotvinBengio":
                windows = [(first, last + ROUNDING) for first, last in windows]
            numbers = [x for line in matrix for x in line] + [x for window in windows for x in window]
            scale = 60 if all(x == int(x) for x in numbers) else 10_000

            def number(key: str, row: dict[str, str] = row) -> float | None:
                return float(row[key]) if row[key] else None

            found.append(
                Published(
                    name=f"{row['set']}/{row['file']}",
                    instance=to_instance(matrix, windows, scale),
                    scale=scale,
                    best={"travel": number("travel_cost_best"), "makespan": number("makespan_opt")},
                    lower={"travel": number("travel_cost_lower_bound"), "makespan": number("makespan_opt")},
                )
            )
    return found


def main() -> None:
    """Print a table for each objective."""
    folder, words = Path(sys.argv[1]), sys.argv[2:]
    objectives = [w for w in words if w in ("travel", "makespan")] or ["travel", "makespan"]
    parts = [w for w in words if w not in objectives]
    for objective in objectives:
        listed = [p for p in instances(folder) if not parts or any(part in p.name for part in parts)]
        show(listed, objective, solve)


def show(listed: Sequence[Published], objective: str, solver: Callable[[Published, str], Result]) -> None:
    """Print a table: published, ours, bound, seconds; and how many were reached and proven."""
    reached = proven = wrong = 0
    print(f"{objective}\n{'instance':<44} {'nodes':>5} {'published':>10} {'ours':>10} {'bound':>10} {'s':>5}")
    for published in listed:
        result, best = solver(published, objective), published.best[objective]
        slack = 0.006 if published.scale == 10_000 else 0.0  # published to two decimals
        is_reached = best is not None and result.value is not None and result.value <= best + slack
        contradicts = best is not None and (
            (result.bound is not None and result.bound > best + slack)
            or (result.value is not None and result.value < (published.lower[objective] or 0) - slack)
        )
        reached, proven, wrong = reached + is_reached, proven + result.is_proven, wrong + contradicts
        words = [("reached", is_reached), ("proven", result.is_proven), ("CONTRADICTS", contradicts)]
        print(
            f"{published.name:<44} {len(published.instance.visits):>5} {best or '-':>10} "
            f"{_short(result.value):>10} {_short(result.bound):>10} {result.took_s:>5.1f} "
            + " ".join(word for word, holds in words if holds),
            flush=True,
        )
    print(f"{objective}: {reached} of {len(listed)} reached, {proven} proven, {wrong} contradicting\n")


def _short(value: float | None) -> str:
    return "-" if value is None else f"{value:.4f}".rstrip("0").rstrip(".")


if __name__ == "__main__":
    main()
