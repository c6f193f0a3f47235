"""What a visit would cost elsewhere: a stop earlier or later on its route, or with somebody else, timed anew."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from planner.domain.derived.shares import may_make
from planner.domain.goals import PARTS, Part, Tier
from planner.domain.plan import Plan, Visit
from planner.domain.problem import Problem
from planner.prepared import draws_as_planned
from planner.scheduling.rounds.from_plan import planned_stops
from planner.scheduling.rounds.numbers import build_instance
from planner.scheduling.rounds.trays import settled_trays
from planner.scheduling.search.handovers import without_empty
from planner.scheduling.timing.insertion import insert_visit, replace_route
from planner.scheduling.timing.solution import Evaluator, Solution, part_prices, part_values
from planner.scheduling.timing.timing import Stops
from planner.solving.params import SolveParams


class Where(Enum):
    """Where else a visit is tried."""

    EARLIER = "one stop earlier"
    LATER = "one stop later"
    SOMEBODY_ELSE = "somebody else"


@dataclass(frozen=True, slots=True, kw_only=True)
class Elsewhere:
    """A visit tried in another place of the same round, every other stop in its order.

    ``draw_s`` is None where no such round keeps the rules; ``may`` is False where skills or wards already say so.
    ``tier`` is the first tier that differs (None: none does), ``worse`` by how much in its unit (below 0: better), and
    ``parts`` what its parts add to that.
    """

    where: Where
    phlebotomist: int
    draw_s: int | None = None
    may: bool = True
    tier: Tier | None = None
    worse: int = 0
    parts: tuple[tuple[Part, int], ...] = ()


def tried_elsewhere(problem: Problem, plan: Plan, visit: Visit, params: SolveParams) -> tuple[Elsewhere, ...] | None:
    """Return what a visit to come would cost elsewhere; None where it is past, or the plan cannot be timed as it is.

    Nothing is searched: the visit is taken out and put in again, for somebody else where it costs least.
    """
    draws = draws_as_planned(problem, plan, params)
    index = next((n for n, draw in enumerate(draws) if draw.id == visit.draw_id), None)
    if index is None:
        return None
    evaluator = Evaluator(build_instance(problem, draws, settled_trays(problem)))
    routes: list[Stops] = []
    for person in range(len(problem.staff)):
        trays, coming = planned_stops(problem, plan, draws, evaluator.instance, person)
        routes.append((*trays, *coming) if any(stop >= 0 for stop in (*trays, *coming)) else ())
    base = evaluator.solution(tuple(routes))
    if base is None or base.values[1:] != tuple(goal.value for goal in plan.goals)[1:]:
        return None
    return tuple(_tried(problem, evaluator, base, index, visit))


def _tried(problem: Problem, evaluator: Evaluator, base: Solution, index: int, visit: Visit) -> Iterator[Elsewhere]:
    own = next(person for person, stops in enumerate(base.routes) if index in stops)
    for where, stops in _neighbours(base.routes[own], index):
        timing = evaluator.timing(own, stops)
        changed = None if timing is None else replace_route(evaluator, base, own, stops, timing)
        yield _cost(evaluator, base, changed, index, visit, Elsewhere(where=where, phlebotomist=own))
    without = evaluator.solution(tuple(tuple(stop for stop in stops if stop != index) for stops in base.routes))
    without = None if without is None else without_empty(evaluator, without)
    patient = problem.patients[visit.patient_id]
    for person, who in enumerate(problem.staff):
        if person == own:
            continue
        tried = Elsewhere(where=Where.SOMEBODY_ELSE, phlebotomist=person, may=may_make(who, patient))
        is_able = without is not None and person in evaluator.instance.visits[index].able
        changed = insert_visit(evaluator, without, index, {person}) if without is not None and is_able else None
        yield _cost(evaluator, base, changed, index, visit, tried)


def _neighbours(stops: Stops, index: int) -> Iterator[tuple[Where, Stops]]:
    """Yield the route with the visit before the visit that comes before it, and behind the one that comes next."""
    at = stops.index(index)
    rest = (*stops[:at], *stops[at + 1 :])
    if before := [n for n in range(at) if rest[n] >= 0]:
        yield Where.EARLIER, (*rest[: before[-1]], index, *rest[before[-1] :])
    if behind := [n for n in range(at, len(rest)) if rest[n] >= 0]:
        yield Where.LATER, (*rest[: behind[0] + 1], index, *rest[behind[0] + 1 :])


def _cost(
    evaluator: Evaluator, base: Solution, changed: Solution | None, index: int, visit: Visit, tried: Elsewhere
) -> Elsewhere:
    """Return a try with what the changed round counts against the plan."""
    if changed is None:
        return tried
    person, at = next((p, stops.index(index)) for p, stops in enumerate(changed.routes) if index in stops)
    draw_s = changed.timings[person].starts_s[at] + visit.draw_s - visit.start_s
    pairs = zip(Tier, base.values, changed.values, strict=True)
    tier, worse = next(((tier, after - now) for tier, now, after in pairs if after != now), (None, 0))
    now_of, after_of, prices = (
        part_values(evaluator, base),
        part_values(evaluator, changed),
        part_prices(evaluator.instance),
    )
    added = {part: (after_of[part] - now_of[part]) * prices[part] for part in (PARTS[tier] if tier else ())}
    return Elsewhere(
        where=tried.where,
        phlebotomist=tried.phlebotomist,
        draw_s=draw_s,
        tier=tier,
        worse=worse,
        parts=tuple((part, more) for part, more in added.items() if more),
    )
