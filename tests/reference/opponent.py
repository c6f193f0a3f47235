"""A search of its own against the planner's: annealing over routes and over how a patient's orders share visits.

Every state is a round by `own_clock`. A move takes a visit (or some in a row) elsewhere, adds or drops a hand-over or a
break, takes one order out of its visit, or puts two visits of a patient together. What is found is written as a plan
and handed to the independent checker, whose findings and figures must agree.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from planner.checker import check_plan
from planner.checker.accounting import expected_goals
from planner.checker.facts import Facts
from planner.checker.window_rules import wishes
from planner.domain.draws import Draw, DrawId
from planner.domain.plan import (
    Break,
    Goal,
    GoalPart,
    Handover,
    Plan,
    PlannedTube,
    Reason,
    Route,
    Stop,
    Unplanned,
    Visit,
)
from planner.domain.problem import Problem
from tests.reference import own_clock
from tests.reference.own_clock import REST, Bed, Group, OwnRound, Timed

Routes = tuple[tuple[own_clock.Stop, ...], ...]
LOST, SERVED = 10**9, 10**4
"""What one of the first and of the second tier weighs in one of the third, for annealing alone."""
MAX_PASSES = 20


@dataclass(frozen=True)
class Round:
    """Routes by the clock, and the three tiers but for the order of isolation, which the opponent does not look at."""

    routes: Routes
    timed: tuple[Timed, ...]
    left: frozenset[Group]
    values: tuple[int, int, int]

    @property
    def cost(self) -> int:
        """One number that grows with the tiers."""
        return LOST * self.values[0] + SERVED * self.values[1] + self.values[2]


class Opponent:
    """Searches one round."""

    def __init__(self, problem: Problem, groups: Sequence[Group], seed: int) -> None:
        self.own, self.problem = OwnRound(problem), problem
        self.rng = random.Random(f"opponent {seed}")
        whole = [group for group in groups if self.own.bed(group) is not None]
        children = {order.patient_id for order in problem.orders if problem.patients[order.patient_id].weight_g}
        self.fixed = children  # what a blood limit lets wait hangs on all visits of a child
        self.first = self.judged(tuple(() for _ in problem.staff), frozenset(whole))
        assert self.first is not None

    def judged(self, routes: Routes, left: frozenset[Group], known: Round | None = None) -> Round | None:
        """Return the round of routes; None where they break a rule."""
        timed: list[Timed] = []
        for person, stops in enumerate(routes):
            if known is not None and known.routes[person] == stops:
                timed.append(known.timed[person])
                continue
            one = self.own.time(person, stops, {})
            if one is None:
                return None
            timed.append(one)
        settled = self._settled(routes, timed)
        return None if settled is None else Round(routes, settled, left, self._values(settled, left))

    def _settled(self, routes: Routes, timed: list[Timed]) -> tuple[Timed, ...] | None:
        """Return the least schedule in which gaps are kept and nobody shares a bed."""
        begun = {group: s for one in timed for group, s in one.begun.items()}
        mine: dict[str, list[Group]] = {}
        for group in begun:
            mine.setdefault(str(self._bed(group).draw.request.patient_id), []).append(group)
        twice = [group for groups in mine.values() if len(groups) > 1 for group in sorted(groups, key=sorted)]
        if not twice:
            return tuple(timed)
        bonds, floors = self.own.bonds(twice), dict[Group, int]()
        for _ in range(MAX_PASSES):
            raised = dict[Group, int]()
            for first, second, least_s, most_s in bonds:
                if begun[second] < begun[first] + least_s:
                    raised[second] = begun[first] + least_s
                elif begun[second] > begun[first] + most_s:
                    raised[first] = begun[second] - most_s
            for groups in mine.values():
                for one, other in combinations(sorted(groups, key=lambda g: (begun[g], sorted(g))), 2):
                    free_s = begun[one] + self._bed(one).stay_s
                    if begun[other] < free_s:
                        raised[other] = max(raised.get(other, 0), free_s)
            if not raised:
                return tuple(timed)
            floors |= raised
            for person, stops in enumerate(routes):
                if any(group in raised for group in timed[person].begun):
                    again = self.own.time(person, stops, floors)
                    if again is None:
                        return None
                    timed = [*timed[:person], again, *timed[person + 1 :]]
                    begun |= again.begun
        return None

    def _values(self, timed: Sequence[Timed], left: frozenset[Group]) -> tuple[int, int, int]:
        prices, staff = self.problem.policy.prices, self.problem.staff
        served = [group for one in timed for group in one.begun]
        patients = {self._bed(group).draw.request.patient_id for group in served}
        there_s = [who.until_s - who.from_s for who in staff]
        total_s = sum(one.bed_s for one in timed)
        shares = [100 * one.bed_s - 100 * s // sum(there_s) * total_s for one, s in zip(timed, there_s, strict=True)]
        finish_s = max(0, max(one.over_s for one in timed) - self.problem.start_s)
        return (
            sum(self._bed(group).weight for group in left),
            sum(one.service for one in timed) + prices.puncture_s * (len(served) - len(patients)),
            sum(one.effort for one in timed) + prices.finish_pct * finish_s + prices.share * max(0, *shares),
        )

    def _bed(self, group: Group) -> Bed:
        bed = self.own.bed(group)
        assert bed is not None
        return bed

    def search(self, tries: int, heat: tuple[float, float] = (60_000.0, 300.0)) -> Round:
        """Return the best round of so many tries."""
        at = best = self.first
        assert at is not None and best is not None
        for n in range(tries):
            temperature = heat[0] * (heat[1] / heat[0]) ** (n / tries)
            moved = self._move(at)
            if moved is None:
                continue
            worse = moved.cost - at.cost
            if worse <= 0 or self.rng.random() < math.exp(-min(700.0, worse / temperature)):
                at = moved
                if at.cost < best.cost:
                    best = at
        return best

    def _move(self, at: Round) -> Round | None:
        kind, rng = self.rng.random(), self.rng
        if at.left and kind < 0.5:
            return self._put(at, at.routes, at.left, rng.choice(sorted(at.left, key=sorted)))
        busy = [
            (k, p) for k, stops in enumerate(at.routes) for p, stop in enumerate(stops) if isinstance(stop, frozenset)
        ]
        if not busy:
            return None
        k, p = rng.choice(busy)
        route = at.routes[k]
        if kind < 0.70:
            num = rng.choice((1, 1, 1, 2, 3))
            taken = route[p : p + num]
            return self._replaced(at, at.routes, at.left, k, (*route[:p], *route[p + num :]), taken)
        if kind < 0.80:
            place = rng.randrange(p + 1, len(route) + 1)
            return self._with(at, k, (*route[:place], rng.randrange(len(self.problem.pickups)), *route[place:]))
        if kind < 0.90:
            out = [n for n, stop in enumerate(route) if isinstance(stop, int)]
            if not out:
                return None
            n = rng.choice(out)
            rest = (*route[:n], *route[n + 1 :])
            place = rng.randrange(len(rest) + 1)
            return self._with(at, k, (*rest[:place], route[n], *rest[place:]) if rng.random() < 0.5 else rest)
        if kind < 0.92:
            place = rng.randrange(len(route) + 1)
            return self._with(
                at, k, (*(s for s in route[:place] if s != REST), REST, *(s for s in route[place:] if s != REST))
            )
        if kind < 0.94:
            stop = route[p]
            assert isinstance(stop, frozenset)
            return self.judged(self._set(at.routes, k, self._tidy((*route[:p], *route[p + 1 :]))), at.left | {stop}, at)
        return self._regrouped(at, k, p)

    def _regrouped(self, at: Round, k: int, p: int) -> Round | None:
        """Take one order out of a visit, or put another visit of the patient, made or left out, into it."""
        group, rng = at.routes[k][p], self.rng
        assert isinstance(group, frozenset)
        patient = self._bed(group).draw.request.patient_id
        if patient in self.fixed:
            return None
        others = [g for one in at.timed for g in one.begun if g != group] + list(at.left)
        others = sorted((g for g in others if self._bed(g).draw.request.patient_id == patient), key=sorted)
        without = self._set(at.routes, k, (*at.routes[k][:p], *at.routes[k][p + 1 :]))
        if others and (len(group) == 1 or rng.random() < 0.5):
            other = rng.choice(others)
            whole = group | other
            if self.own.bed(whole) is None:
                return None
            routes = tuple(self._tidy(tuple(s for s in stops if s != other)) for stops in without)
            return self._put(at, routes, at.left - {other}, whole)
        if len(group) == 1:
            return None
        alone = frozenset({rng.choice(sorted(group))})
        rest = group - alone
        if self.own.bed(alone) is None or self.own.bed(rest) is None:
            return None
        kept = self._set(at.routes, k, (*at.routes[k][:p], rest, *at.routes[k][p + 1 :]))
        return self._put(at, kept, at.left, alone) or self.judged(kept, at.left | {alone}, at)

    def _put(self, at: Round, routes: Routes, left: frozenset[Group], group: Group) -> Round | None:
        k = self.rng.randrange(len(routes))
        return self._replaced(at, routes, left - {group}, None, (), (group,), k)

    def _replaced(
        self,
        at: Round,
        routes: Routes,
        left: frozenset[Group],
        k: int | None,
        rest: tuple[own_clock.Stop, ...],
        taken: tuple[own_clock.Stop, ...],
        to: int | None = None,
    ) -> Round | None:
        """Return the round with some stops taken out of a route and put, with a hand-over at times, into another."""
        if k is not None:
            routes = self._set(routes, k, rest)
        to = (k if self.rng.random() < 0.6 else self.rng.randrange(len(routes))) if to is None else to
        assert to is not None
        stops = routes[to]
        place = self.rng.randrange(len(stops) + 1)
        more = (self.rng.randrange(len(self.problem.pickups)),) if not stops[place:] or self.rng.random() < 0.15 else ()
        routes = self._set(routes, to, (*stops[:place], *taken, *more, *stops[place:]))
        return self.judged(tuple(self._tidy(stops) for stops in routes), left, at)

    def _with(self, at: Round, k: int, stops: tuple[own_clock.Stop, ...]) -> Round | None:
        return self.judged(self._set(at.routes, k, self._tidy(stops)), at.left, at)

    @staticmethod
    def _set(routes: Routes, k: int, stops: tuple[own_clock.Stop, ...]) -> Routes:
        return (*routes[:k], stops, *routes[k + 1 :])

    @staticmethod
    def _tidy(stops: tuple[own_clock.Stop, ...]) -> tuple[own_clock.Stop, ...]:
        """Return a route without hand-overs before the first visit; none where it has no visit."""
        first = next((n for n, stop in enumerate(stops) if isinstance(stop, frozenset)), None)
        return () if first is None else (*(s for s in stops[:first] if s == REST), *stops[first:])

    def plan_of(self, found: Round) -> Plan:
        """Return a round as a plan; hand-overs that take nothing are left out, and the tiers are the checker's."""
        found = self._without_needless(found)
        number: dict[str, int] = {}
        routes = []
        for k, (stops, timed) in enumerate(zip(found.routes, found.timed, strict=True)):
            routes.append(Route(phlebotomist=k, stops=tuple(self._stops(k, stops, timed, number))))
        lost = [order_id for group in found.left for order_id in group]
        served = {o for route in routes for visit in route.visits for o in visit.order_ids}
        lost += [o.id for o in self.problem.orders if o.id not in served and o.id not in lost]
        unplanned = tuple(Unplanned.of(self.problem.order(o), Reason.NO_TIME, "no room", bed="") for o in sorted(lost))
        plan = Plan(routes=tuple(routes), unplanned=unplanned, goals=())
        facts = Facts(self.problem, plan)
        missed = sorted({(o.id, rule) for at, o, rule, span in wishes(facts) if not span.holds(at.visit.draw_s)})
        goals = tuple(
            Goal(
                name=name,
                unit=unit,
                value=value,
                bound=0,
                parts=tuple(GoalPart(name=part, unit=its, value=own, price=price) for part, its, own, price in parts),
            )
            for name, unit, value, parts in expected_goals(facts)
        )
        return replace(plan, goals=goals, preferences_missed=tuple(missed))

    def _without_needless(self, found: Round) -> Round:
        for k, (stops, timed) in enumerate(zip(found.routes, found.timed, strict=True)):
            used = {taker for taken in timed.taken for taker in taken}
            kept = tuple(s for p, s in enumerate(stops) if not (isinstance(s, int) and s >= 0 and p not in used))
            if kept != stops and (other := self.judged(self._set(found.routes, k, kept), found.left)) is not None:
                return self._without_needless(other)
        return found

    def _stops(self, k: int, stops: Sequence[own_clock.Stop], timed: Timed, number: dict[str, int]) -> list[Stop]:
        made: list[Stop] = []
        who, own = self.problem.staff[k], self.own
        clock_s, place = who.from_s, who.starts_at
        for p, (stop, start_s) in enumerate(zip(stops, timed.starts, strict=True)):
            if isinstance(stop, frozenset):
                bed = self._bed(stop)
                draw = bed.draw
                there, over_s = draw.request.bed, start_s + bed.stay_s
                arrive_s = clock_s + own.between(str(place), str(there))
                patient = draw.request.patient_id
                number[patient] = number.get(patient, 0) + 1
                made.append(
                    Visit(
                        draw_id=DrawId(f"{patient}#{number[patient]}"),
                        patient_id=patient,
                        place=there,
                        order_ids=tuple(order.id for order in draw.request.orders),
                        arrive_s=arrive_s,
                        start_s=start_s,
                        draw_s=start_s + draw.lead_s,
                        depart_s=over_s,
                        tubes=tuple(_given(draw, bed, timed.taken[p])),
                        needle=draw.tube_set.needle,
                    )
                )
            elif stop == REST:
                there, over_s = place, start_s + who.break_s
                made.append(Break(place=there, arrive_s=clock_s, start_s=start_s, depart_s=over_s))
            else:
                pickup = self.problem.pickups[stop]
                there, over_s = pickup.place, start_s + own.hand_s
                departs_s = next((d for d in pickup.departures_s if d >= over_s), None)
                made.append(
                    Handover(
                        place=there,
                        kind=pickup.kind,
                        arrive_s=clock_s + own.between(str(place), str(there)),
                        start_s=start_s,
                        depart_s=over_s,
                        departs_s=departs_s,
                        lab_arrival_s=(over_s if departs_s is None else departs_s) + pickup.transit_s,
                    )
                )
            clock_s, place = over_s, there
        return made


def _given(draw: Draw, bed: Bed, taken: Sequence[int]) -> list[PlannedTube]:
    taker = {kind.by_hand: position for kind, position in zip(bed.kinds, taken, strict=True)}
    return [PlannedTube(tube=t, handover=None if t.is_discard else taker[t.by_hand]) for t in draw.tube_set.tubes]


@dataclass(frozen=True)
class Met:
    """What the opponent found, by the checker's figures, and what contradicts: findings, or tiers counted otherwise."""

    plan: Plan
    values: tuple[int, ...]
    own: tuple[int, int, int]
    contradictions: tuple[str, ...]


def meet(problem: Problem, groups: Sequence[Group], seed: int, tries: int) -> Met:
    """Let the opponent search a round, beginning with visits of some groups of orders."""
    opponent = Opponent(problem, groups, seed)
    found = opponent.search(tries)
    plan = opponent.plan_of(found)
    values = tuple(goal.value for goal in plan.goals)
    pairs = sum(p.counted for goal in plan.goals for p in goal.parts if "pairs" in p.unit)
    found = opponent._without_needless(found)
    never = values[0] - found.values[0]
    own = (values[0] if never >= 0 else found.values[0], found.values[1], found.values[2] + pairs)
    codes = [
        f"{finding.code}: {finding.message}" for finding in check_plan(problem, plan) if finding.code != "goal-bound"
    ]
    said = [] if own == values else [f"tiers by the own clock {own}, by the checker {values}"]
    return Met(plan, values, own, (*codes, *said))
