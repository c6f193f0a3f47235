"""The tubes that were drawn so far, with when they reach the laboratory and what was added to them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from planner.domain.catalogue import LabTest
from planner.domain.draws import DrawId, Tube
from planner.domain.orders import PatientId
from planner.domain.places import PlaceId
from planner.domain.plan import Handover, Outcome, Plan, PlannedTube, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnTube:
    """A tube that was drawn. ``lab_arrival_s`` is when it was or will be in the laboratory; None: not known.

    ``is_assumed``: nobody said that the visit took place, so its time is the planned one. ``is_one_of_several``: a test
    of it takes several tubes, which are never shared. ``added`` are tests that were added to it since.
    """

    draw_id: DrawId
    patient_id: PatientId
    place: PlaceId
    collector: str
    drawn_s: int
    tube: Tube
    lab_arrival_s: int | None
    is_assumed: bool = False
    is_one_of_several: bool = False
    added: tuple[LabTest, ...] = ()


def drawn_tubes(problem: Problem, past: Iterable[Past], plan: Plan) -> tuple[DrawnTube, ...]:
    """Return the tubes of the visits made so far, with what earlier revisions added to them.

    Parameters
    ----------
    past
        What happened. Only visits that were collected count: of a partial one nobody knows which tubes are filled.
    plan
        The revision that is replanned: it says when a tube that is still in a tray was to reach the laboratory.
    """
    planned = {v.draw_id: _arrivals(v, r.stops) for r in plan.routes for v in r.visits}
    addons = problem.replan.addons if problem.replan else ()
    added: dict[tuple[DrawId, int], tuple[LabTest, ...]] = {}
    for addon in addons:
        at = (addon.draw_id, addon.draw_position)
        added[at] = (*added.get(at, ()), problem.catalogue.tests[addon.test])
    found: list[DrawnTube] = []
    for one in past:
        for index, visit in enumerate(one.stops):
            if not isinstance(visit, Visit) or visit.outcome is not Outcome.COLLECTED:
                continue
            made = _arrivals(visit, one.stops)
            expected = planned.get(visit.draw_id, made)
            counts = Counter(code for held in visit.tubes for code in held.tube.tests)
            for tube in (held.tube for held in visit.tubes):
                if tube.is_discard or set(tube.order_ids) & set(visit.tried):
                    continue
                arrival_s = made[tube.draw_position]
                drawn = DrawnTube(
                    draw_id=visit.draw_id,
                    patient_id=visit.patient_id,
                    place=visit.place,
                    collector=problem.staff[one.phlebotomist].initials,
                    drawn_s=visit.draw_s,
                    tube=tube,
                    lab_arrival_s=expected.get(tube.draw_position) if arrival_s is None else arrival_s,
                    is_assumed=index in one.assumed,
                    is_one_of_several=any(counts[code] > 1 for code in tube.tests),
                    added=added.get((visit.draw_id, tube.draw_position), ()),
                )
                found.append(drawn)
    return tuple(found)


def _arrivals(visit: Visit, stops: Sequence[object]) -> dict[int, int | None]:
    """Return when each tube of a visit reaches the laboratory, by its position; None: it is not handed over."""
    return {held.tube.draw_position: _arrival(held, stops) for held in visit.tubes}


def _arrival(held: PlannedTube, stops: Sequence[object]) -> int | None:
    stop = None if held.handover is None or held.handover >= len(stops) else stops[held.handover]
    return stop.lab_arrival_s if isinstance(stop, Handover) else None
