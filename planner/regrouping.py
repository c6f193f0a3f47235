"""Which orders share a visit, decided with the routes: visits of the round that was found are parted and put together.

Orders are first grouped before anybody walks (`planner.visits`). Then single changes are tried in the round, each with
a short search around it, and kept where the tiers of goals, strictly compared, are better: a visit that was left out
in parts of which some have room; a late one without the specimens that keep it waiting; two visits of a patient in one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from planner.domain.draws import Draw, DrawId, VisitRequest
from planner.domain.orders import Order
from planner.domain.plan import Plan, Visit
from planner.domain.problem import Problem
from planner.prepared import PreparedRound, lost_weight, with_other_visits
from planner.scheduling import schedule
from planner.scheduling.rounds.alone import draws_made_alone
from planner.solving.params import SolveParams
from planner.solving.stopping import CTRL_C
from planner.visits.parts import pairs_of_visits, put_together, with_parts
from planner.visits.splitting import parts_by_rule, parts_by_stability

MAX_LOST = 4
"""Visits left out that are tried in parts, the heaviest first."""

MAX_LATE = 3
"""Late visits that are tried in two parts, the costliest first."""

MAX_PAIRS = 12
"""Pairs of visits that are tried as one, those nearest in time first."""

Parting = Callable[[VisitRequest, Draw], list[list[Order]] | None]


@dataclass(slots=True)
class Regrouping:
    """Visits, and a plan of them whose goals the next change must better; its search was short, nothing is proven."""

    problem: Problem
    params: SolveParams
    prepared: PreparedRound
    plan: Plan
    was_interrupted: bool = False
    hit_wall_guard: bool = False

    def run(self) -> bool:
        """Try all changes one after another; return whether one was kept."""
        before = self.plan
        for draw in self._lost()[:MAX_LOST]:
            self._try_parts(draw.id, parts_by_rule)
        for draw in self._late()[:MAX_LATE]:
            self._try_parts(draw.id, parts_by_stability)
        for first, second in self._pairs()[:MAX_PAIRS]:
            self._try_as_one(first, second)
        return self.plan is not before

    def _try_parts(self, draw_id: DrawId, parting: Parting) -> None:
        request = self._request(draw_id)
        draw = next((d for d in self.prepared.draws if d.id == draw_id), None)
        parts = None if request is None or draw is None else parting(request, draw)
        if parts is not None:
            self._try(with_parts(self.prepared.requests, draw_id, parts))

    def _try_as_one(self, first_id: DrawId, second_id: DrawId) -> None:
        first, second = self._request(first_id), self._request(second_id)
        if first is None or second is None:
            return
        requests = put_together(self.problem, self.prepared.requests, first, second)
        if requests is not None:
            self._try(requests, first_id)

    def _try(self, requests: tuple[VisitRequest, ...], made: DrawId | None = None) -> None:
        """Keep other visits if the round is better with them; one that nobody could make (``made``) is not searched."""
        if self.was_interrupted or CTRL_C.is_asked:
            self.was_interrupted = True
            return
        try:
            self._search(requests, made)
        except KeyboardInterrupt:
            self.was_interrupted = True

    def _search(self, requests: tuple[VisitRequest, ...], made: DrawId | None) -> None:
        other = with_other_visits(self.problem, self.prepared, requests, self.params)
        if made is not None and not all(
            draws_made_alone(self.problem, [draw for draw in other.draws if draw.id == made]) or [False]
        ):
            return
        trial = schedule(
            self.problem,
            other.draws,
            self.params,
            unplanned=other.unplanned,
            lost_weight=lost_weight(self.problem, other.unplanned),
            start=self.plan,
            is_trial=True,
        )
        self.was_interrupted = trial.was_interrupted
        self.hit_wall_guard = self.hit_wall_guard or trial.hit_wall_guard
        if not trial.was_interrupted and values_of(trial.plan) < values_of(self.plan):
            self.prepared, self.plan = other, trial.plan

    def _request(self, draw_id: DrawId) -> VisitRequest | None:
        return next((request for request in self.prepared.requests if request.id == draw_id), None)

    def _visits(self) -> dict[DrawId, Visit]:
        return {visit.draw_id: visit for route in self.plan.routes for visit in route.visits}

    def _lost(self) -> list[Draw]:
        """Return the draws of several orders that have no place, the heaviest first."""
        made = self._visits()
        lost = [draw for draw in self.prepared.draws if draw.id not in made and len(draw.request.orders) > 1]
        return sorted(lost, key=lambda draw: (-draw.uncollected_weight, draw.id))

    def _late(self) -> list[Draw]:
        """Return the draws that are made past a target, the costliest first."""
        made = self._visits()
        cost = {
            draw.id: sum(weight * max(0, made[draw.id].draw_s - target_s) for target_s, weight in draw.targets)
            for draw in self.prepared.draws
            if draw.id in made
        }
        late = [draw for draw in self.prepared.draws if cost.get(draw.id, 0) > 0]
        return sorted(late, key=lambda draw: (-cost[draw.id], draw.id))

    def _pairs(self) -> Sequence[tuple[DrawId, DrawId]]:
        """Return the pairs of visits of one patient that are made, those nearest in time first."""
        made = self._visits()
        pairs = [(a.id, b.id) for a, b in pairs_of_visits(self.prepared.requests) if a.id in made and b.id in made]
        return sorted(pairs, key=lambda pair: (abs(made[pair[0]].draw_s - made[pair[1]].draw_s), pair))


def values_of(plan: Plan) -> tuple[int, ...]:
    """Return what a plan counts in each tier of goals, as rounds are compared."""
    return tuple(goal.value for goal in plan.goals)
