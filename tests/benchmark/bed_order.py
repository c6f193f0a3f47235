"""Mornings on five wards, our plan beside the same draws walked in bed order, ward by ward.

Run: nice -n 19 python tests/benchmark/bed_order.py [--mornings N] [--first SEED] [--visits N] [--people N]
     [--effort quick|normal|thorough]

In bed order: the list, by ward and bed, is cut into one run for each person, as long as the hours there are; stats of
the run come first, as everybody would; nobody waits for a window. Specimens are given away at the nearest pickup after
each ward, and right after a stat where they are in first. Both walks are measured by the same few lines, from the
stops alone.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from planner.domain.derived.metrics import natural_key
from planner.domain.draws import Draw, OrderWindow
from planner.domain.orders import OrderId, Priority
from planner.domain.places import Pickup, PickupKind, PlaceId
from planner.domain.plan import Handover, Plan, Visit
from planner.domain.problem import Problem
from planner.pipeline import plan_round
from planner.solving.params import Effort, SolveParams
from tests.benchmark.rounds import generated_problem


@dataclass(slots=True)
class Drawn:
    """A visit as it was made: its ward, its orders, when it was drawn and when its last tube was in the laboratory."""

    ward: str
    order_ids: tuple[OrderId, ...]
    draw_s: int
    brought_s: int | None = None


@dataclass(slots=True)
class Walk:
    """What one person did, and when it was over."""

    drawn: list[Drawn] = field(default_factory=list)
    over_s: int = 0


@dataclass(frozen=True)
class Figures:
    """A morning in figures; all are better where they are less."""

    off_share_pct: int
    """Of the person farthest from the fair share of the visits, by hours there."""
    ward_changes: int
    returns: int
    """Changes to a ward that this person had been on before."""
    stat_min: int
    """The longest way of a stat from the draw to the laboratory; minutes, rounded up."""
    off_time: int
    """Orders drawn outside their window or past its soft end, or not at all."""
    need_by: int
    """Orders in the laboratory past their ward's need-by time."""
    finish_min: int
    """Minutes from the begin of the round to the end of the last route."""


def figures(problem: Problem, windows: Mapping[OrderId, OrderWindow], walks: Sequence[Walk]) -> Figures:
    """Measure a morning."""
    there_s = [who.until_s - who.from_s for who in problem.staff]
    total = sum(len(walk.drawn) for walk in walks)
    fair = [total * s / sum(there_s) for s in there_s]
    moves = [[a.ward for a in walk.drawn] for walk in walks]
    changes = [(wards[:n], b) for wards in moves for n, (a, b) in enumerate(pairwise(wards), start=1) if a != b]
    drawn = {order_id: visit for walk in walks for visit in walk.drawn for order_id in visit.order_ids}
    needed = problem.policy.round.needed_by_s
    stats = [
        v.brought_s - v.draw_s
        for o, v in drawn.items()
        if problem.order(o).priority is Priority.STAT and v.brought_s is not None
    ]
    return Figures(
        off_share_pct=round(max(100 * abs(len(walk.drawn) - own) / own for walk, own in zip(walks, fair, strict=True))),
        ward_changes=len(changes),
        returns=sum(ward in before for before, ward in changes),
        stat_min=-(-max(stats, default=0) // 60),
        off_time=sum(
            order_id not in drawn or not _is_on_time(window, drawn[order_id].draw_s)
            for order_id, window in windows.items()
        ),
        need_by=sum(
            visit.brought_s is not None and visit.brought_s > needed.get(visit.ward, needed.get("*", 10**9))
            for visit in drawn.values()
        ),
        finish_min=-(-(max(walk.over_s for walk in walks) - problem.start_s) // 60),
    )


def _is_on_time(window: OrderWindow, draw_s: int) -> bool:
    return any(draw_s in w for w in window.windows) and (window.target_s is None or draw_s <= window.target_s)


def planned_walks(problem: Problem, plan: Plan) -> list[Walk]:
    """Return what the plan's routes come to."""
    walks = [Walk() for _ in problem.staff]
    for route in plan.routes:
        walk = walks[route.phlebotomist]
        for stop in route.stops:
            walk.over_s = stop.depart_s
            if isinstance(stop, Visit):
                ward = problem.patients[stop.patient_id].ward
                walk.drawn.append(Drawn(ward, stop.order_ids, stop.draw_s, _brought_s(route.stops, stop)))
    return walks


def _brought_s(stops: Sequence[object], visit: Visit) -> int | None:
    takers = [stops[t.handover] for t in visit.tubes if t.handover is not None]
    return max((taker.lab_arrival_s for taker in takers if isinstance(taker, Handover)), default=None)


def bed_order_walks(problem: Problem, draws: Sequence[Draw]) -> list[Walk]:
    """Walk the draws in bed order, ward by ward."""
    listed = sorted(draws, key=lambda d: (problem.places[d.request.bed].ward, natural_key(d.request.bed), d.id))
    there_s = [who.until_s - who.from_s for who in problem.staff]
    ends = [round(len(listed) * sum(there_s[: k + 1]) / sum(there_s)) for k in range(len(there_s))]
    return [_walk(problem, k, listed[begin:end]) for k, (begin, end) in enumerate(pairwise([0, *ends]))]


def _walk(problem: Problem, person: int, run: Sequence[Draw]) -> Walk:
    who, walk = problem.staff[person], Walk()
    place, clock_s, tray, held = who.starts_at, who.from_s, list[Drawn](), list[Draw]()
    stats = [draw for draw in run if _is_stat(draw)]
    order = [*stats, *(draw for draw in run if draw not in stats)]
    for n, draw in enumerate(order):
        clock_s += problem.walking.between(place, draw.request.bed)
        place, ward = draw.request.bed, problem.patients[draw.request.patient_id].ward
        tray.append(Drawn(ward, tuple(o.id for o in draw.request.orders), clock_s + draw.lead_s))
        walk.drawn.append(tray[-1])
        held += [draw]
        clock_s += draw.service_s
        is_last = n + 1 == len(order)
        if is_last or _is_stat(draw) or problem.patients[order[n + 1].request.patient_id].ward != ward:
            pickup = _pickup(problem, place, clock_s, held, _is_stat(draw))
            clock_s += problem.walking.between(place, pickup.place) + problem.policy.handover.handover_s
            place = pickup.place
            for drawn in tray:
                drawn.brought_s = _arrival_s(pickup, clock_s)
            tray.clear()
            held.clear()
    walk.over_s = clock_s if run else 0
    return walk


def _is_stat(draw: Draw) -> bool:
    return any(order.priority is Priority.STAT for order in draw.request.orders)


def _pickup(problem: Problem, place: PlaceId, clock_s: int, held: Sequence[Draw], is_stat: bool) -> Pickup:
    """Return the nearest pickup that may take all that is held, for a stat the one that brings it in first."""
    by_hand = any(tube.by_hand for draw in held for tube in draw.tube_set.tubes)
    found: list[tuple[int, int, str, Pickup]] = []
    for pickup in problem.pickups:
        way_s = problem.walking.between(place, pickup.place)
        brought_s = _arrival_s(pickup, clock_s + way_s + problem.policy.handover.handover_s)
        if brought_s is not None and not (by_hand and pickup.kind is PickupKind.TUBE):
            found.append((brought_s if is_stat else way_s, way_s, pickup.place, pickup))
    return min(found)[3]


def _arrival_s(pickup: Pickup, clock_s: int) -> int | None:
    leaves = [s for s in pickup.departures_s if s >= clock_s] if pickup.departures_s else [clock_s]
    return leaves[0] + pickup.transit_s if leaves else None


def _rows(options: argparse.Namespace) -> Iterator[tuple[int, Figures, Figures]]:
    for seed in range(options.first, options.first + options.mornings):
        problem = generated_problem(seed, options.visits, options.people, every_rule=True)
        planned = plan_round(problem, SolveParams(effort=options.effort, proves=False))
        ours = figures(problem, planned.windows, planned_walks(problem, planned.plan))
        yield seed, ours, figures(problem, planned.windows, bed_order_walks(problem, planned.draws))


_HEADS = {
    "off_share_pct": "off share %",
    "ward_changes": "ward changes",
    "returns": "returns",
    "stat_min": "stat to lab min",
    "off_time": "off time",
    "need_by": "need-by",
    "finish_min": "finish min",
}


def main() -> None:
    """Print a row for each morning, ours and in bed order, and in how many each column is no worse."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--mornings", type=int, default=20)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--visits", type=int, default=57)
    parser.add_argument("--people", type=int, default=5)
    parser.add_argument("--effort", choices=[*Effort], default="normal")
    rows: list[tuple[Figures, Figures]] = []
    print("| morning | " + " | ".join(f"{head}, ours / bed order" for head in _HEADS.values()) + " |")
    for seed, ours, beds in _rows(parser.parse_args()):
        rows.append((ours, beds))
        cells = [f"{getattr(ours, name)} / {getattr(beds, name)}" for name in _HEADS]
        print(f"| {seed} | " + " | ".join(cells) + " |", flush=True)
    middles = [[median(getattr(one[n], name) for one in rows) for n in (0, 1)] for name in _HEADS]
    print("| median | " + " | ".join(f"{a:g} / {b:g}" for a, b in middles) + " |")
    no_worse = [sum(getattr(a, name) <= getattr(b, name) for a, b in rows) for name in _HEADS]
    print("| no worse in | " + " | ".join(str(num) for num in no_worse) + " |")


if __name__ == "__main__":
    main()
