"""How much must stay undone for want of hands: a bound on tier `left-out` from time alone, whoever draws whom.

Whoever is drawn takes her stay at the bed and, before it, at least the shortest walk from any other stop. In every
span of the round, the people present have so many seconds. So, for every span [a, b]: the stays of the visits that
can only be made within it, and their walks, are no more than the seconds present in it; the first walk of each
person may lie before a. A visit that nobody could make if there were no other is not made. What can be drawn at most
under all these sums is found exactly (a knapsack for each span at once); the rest of the weight is a bound. Order,
lateness and hand-overs but one are left out: they only make it worse.

Example: one person from 05:00 to 06:00, ten visits of 7 minutes with walks of at least 30 s: 10 * 450 s = 4500 s
against 3600 s less a hand-over of 60 s, so at most seven are drawn, and three stay undone whatever the plan.
"""

from __future__ import annotations

from dataclasses import replace

from ortools.sat.python import cp_model

from planner.scheduling.rounds.alone import made_alone
from planner.scheduling.timing.instance import Instance
from planner.solving.cp_sat import run_cp_sat
from planner.solving.params import SolveParams

MAX_SPANS = 1_500
WORK = 0.3
"""Deterministic seconds of the solver; these models take far less."""


def least_uncollected(instance: Instance, params: SolveParams, wall_limit_s: float) -> int:
    """Return a weight that no round can leave less of undone.

    Raises
    ------
    SolverError
        If the solver refuses the model.
    """
    visits = instance.visits
    sizes = [visit.service_s + walk_s for visit, walk_s in zip(visits, _least_walks(instance), strict=True)]
    model = cp_model.CpModel()
    made = [model.new_bool_var(f"made[{i}]") for i in range(len(visits))]
    restless = tuple(replace(who, break_s=0, break_window=None) for who in instance.collectors)
    without_breaks = replace(instance, collectors=restless)  # beside another bed a break may cost less than alone
    for i in range(len(visits)):
        if not made_alone(without_breaks, i):  # a round that makes it could drop all else but its hand-overs
            model.add(made[i] == 0)
    for first_s, last_s in _spans(instance):
        inside = [
            i for i, v in enumerate(visits) if v.windows[0].earliest_s >= first_s and _last_end_s(instance, i) <= last_s
        ]
        seconds = _present_s(
            instance, first_s, last_s, max((sizes[i] - visits[i].service_s for i in inside), default=0)
        )
        if sum(sizes[i] for i in inside) > seconds:
            model.add(sum(sizes[i] * made[i] for i in inside) <= max(0, seconds))
    model.maximize(sum(visit.weight * m for visit, m in zip(visits, made, strict=True)))
    outcome = run_cp_sat(model, params, deterministic_limit=WORK, wall_limit_s=wall_limit_s)
    total = sum(visit.weight for visit in visits)
    return 0 if outcome.bound is None else max(0, total - outcome.bound)


def _least_walks(instance: Instance) -> list[int]:
    """Return the shortest walk to each visit from any other stop; 0 where another stop shares its place."""
    stops = (
        [v.node for v in instance.visits] + [p.node for p in instance.pickups] + [c.node for c in instance.collectors]
    )
    nodes = sorted(set(stops))
    return [
        0
        if stops.count(visit.node) > 1
        else min((instance.walk[node][visit.node] for node in nodes if node != visit.node), default=0)
        for visit in instance.visits
    ]


def _last_end_s(instance: Instance, visit: int) -> int:
    data = instance.visits[visit]
    shift_s = max((instance.collectors[k].until_s for k in data.able), default=0)
    return min(data.windows[-1].latest_s + data.service_s, shift_s)


def _spans(instance: Instance) -> list[tuple[int, int]]:
    """Return the spans from some window's begin to some window's end, and the whole round."""
    firsts = sorted({v.windows[0].earliest_s for v in instance.visits})
    lasts = sorted({_last_end_s(instance, i) for i in range(len(instance.visits))}, reverse=True)
    whole = min(c.from_s for c in instance.collectors), max(c.until_s for c in instance.collectors)
    spans = [(a, b) for a in firsts for b in lasts if a < b]
    return [(min(whole[0], *firsts), max(whole[1], *lasts)), *spans[: MAX_SPANS - 1]] if firsts else []


def _present_s(instance: Instance, first_s: int, last_s: int, walk_s: int) -> int:
    """Return the seconds that people are there in a span, and the walk that each may have made before it begins.

    A span that holds all of the shifts loses a hand-over: what was drawn is given away at least once.
    """
    seconds, is_all = 0, True
    for who in instance.collectors:
        there_s = min(who.until_s, last_s) - max(who.from_s, first_s)
        if there_s > 0:
            seconds += there_s + (walk_s if who.from_s < first_s else 0)
        is_all = is_all and first_s <= who.from_s and who.until_s <= last_s
    return seconds - (instance.handover_s if is_all and all(v.specimens for v in instance.visits) else 0)
