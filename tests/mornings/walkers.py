"""How the round truly goes: everybody walks her newest sheet at her own pace, and visits come to what they come to."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field

from planner.domain.draws import DrawId
from planner.domain.orders import OrderId
from planner.domain.places import PlaceId
from planner.domain.plan import Outcome, Plan, Stop, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.reported import Reported

OutcomeOf = Callable[[Visit], dict[OrderId, Outcome]]
"""What a visit comes to, order by order."""

AT_THE_DOOR_S = 60
"""What a visit takes that is refused, or finds nobody."""


@dataclass(slots=True)
class Walker:
    """One phlebotomist who tells what she has done: where she truly is, what is to do, what she has not told yet."""

    person: int
    place: PlaceId
    clock_s: int
    pace: float
    """Her walking time for a second of the table's."""
    to_do: list[Stop] = field(default_factory=list)
    untold: list[Reported] = field(default_factory=list)
    begun: DrawId | None = None
    """The visit that she is at."""

    def walk_until(self, problem: Problem, now_s: int, outcome_of: OutcomeOf, rng: random.Random) -> None:
        """Make the stops that are over by now."""
        while self.to_do:
            stop = self.to_do[0]
            begun_s = self.clock_s + round(self.pace * problem.walking.between(self.place, stop.place))
            if stop.start_s > stop.arrive_s:  # the sheet says when to begin
                begun_s = max(begun_s, stop.start_s)
            stay_s = round((stop.depart_s - stop.start_s) * rng.uniform(0.85, 1.3))
            outcomes = outcome_of(stop) if isinstance(stop, Visit) else {}
            if outcomes and set(outcomes.values()) <= {Outcome.AWAY, Outcome.REFUSED}:
                stay_s = AT_THE_DOOR_S
            if begun_s + stay_s > now_s:
                self.begun = stop.draw_id if isinstance(stop, Visit) and begun_s < now_s else None
                return
            self.to_do.pop(0)
            self.place, self.clock_s, self.begun = stop.place, begun_s + stay_s, None
            if isinstance(stop, Visit):
                drawn_s = begun_s + min(stop.draw_s - stop.start_s, stay_s)
                self.untold += [
                    Reported(order_ids=(order,), draw_id=stop.draw_id, outcome=outcome, at_s=drawn_s)
                    for order, outcome in outcomes.items()
                ]

    def told(self) -> list[Reported]:
        """Return what she tells now; she does not tell it again."""
        told, self.untold = self.untold, []
        return told

    def take_sheet(self, problem: Problem, plan: Plan, now_s: int) -> None:
        """Go on with a new sheet: first with visits that it takes to be made and that are not, then with the rest."""
        stops = next((r.stops for r in plan.routes if r.phlebotomist == self.person), ())
        assert problem.replan is not None
        past = problem.replan.past[self.person]
        behind = [stops[n] for n in sorted(past.assumed) if isinstance(stops[n], Visit)]
        if self.begun is None or self.begun not in {stop.draw_id for stop in behind if isinstance(stop, Visit)}:
            self.clock_s = max(self.clock_s, now_s)
        self.to_do = [*behind, *stops[len(past.stops) :]]
