"""What a command that is taken back had taken away from somebody: it comes again, and nobody is taken to have made it.

Example: bed 4 is due at 06:41, and at 06:42 its refusal is reported by mistake. Its phlebotomist leaves it out. At
06:43 that is taken back: by the older sheet they are at bed 4 now, and they are not. Had it been reported as drawn
instead, they would have been told nothing else than their sheet: what was due when that was said is assumed as before.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from planner.domain.draws import DrawId
from planner.domain.orders import OrderId
from planner.domain.plan import Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.events import Event
from planner.domain.revisions.replan import Held, Promised, Replan
from planner.domain.revisions.reported import Reported
from planner.replanning.past.happened import FILLED
from planner.replanning.past.open_visits import is_stat, unanswered


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenBack:
    """What is taken back: ``goes_on_from`` is the last revision that stands.

    ``plan`` and ``replan`` are those of the last sheet, ``events`` those that are no longer in force.
    """

    goes_on_from: int
    plan: Plan
    replan: Replan
    events: tuple[Event, ...] = ()

    @property
    def sheet(self) -> Plan:
        """The last sheet without the visits that were reported by then: its readers leave them out."""
        told = _told(self.replan)
        return replace(
            self.plan,
            routes=tuple(
                replace(r, stops=tuple(s for s in r.stops if not isinstance(s, Visit) or s.draw_id not in told))
                for r in self.plan.routes
            ),
        )


def comes_back(problem: Problem, plan: Plan, back: TakenBack) -> tuple[Promised, ...]:
    """Return the visits that are to come again: those that somebody was told to leave out, until now.

    Parameters
    ----------
    problem, plan
        The revision that is gone on with.
    back
        What is taken back: a report of the visit, or whatever took it away from its phlebotomist's sheet.
    """
    return tuple(_comes_back(problem, plan, back))


def _comes_back(problem: Problem, plan: Plan, back: TakenBack) -> Iterator[Promised]:
    told = _told(problem.replan) if problem.replan else frozenset()
    reports = [event.what for event in back.events if isinstance(event.what, Reported)]
    unsaid = {report.draw_id for report in reports}
    drawn = unsaid - {report.draw_id for report in reports if report.outcome not in FILLED}
    has: dict[int, set[OrderId]] = {
        route.phlebotomist: {order_id for visit in route.visits for order_id in visit.order_ids}
        for route in back.sheet.routes
    }
    for route in plan.routes:
        person = route.phlebotomist
        for position, visit in enumerate(route.visits):
            is_left_out = visit.draw_id in unsaid or not has.get(person, set()) & set(visit.order_ids)
            stat = is_stat(problem, visit)
            held = Held(phlebotomist=person, draw_s=visit.draw_s, until_s=back.replan.now_s, is_stat=stat)
            is_closed = not stat and unanswered(problem, visit) is None
            is_assumed = visit.draw_id in drawn and held.is_due and is_closed
            if visit.draw_id in told or not is_left_out or is_assumed:
                continue
            yield Promised(
                draw_id=visit.draw_id,
                patient_id=visit.patient_id,
                place=visit.place,
                order_ids=visit.order_ids,
                phlebotomist=person,
                position=position,
                draw_s=visit.draw_s,
                earlier=(*(problem.replan.held(visit.order_ids) if problem.replan else ()), held),
                is_stat=stat,
            )


def _told(replan: Replan) -> frozenset[DrawId]:
    """Return the visits that were reported by a revision, not only assumed."""
    return frozenset(visit.draw_id for visit in replan.visits) - replan.assumed
