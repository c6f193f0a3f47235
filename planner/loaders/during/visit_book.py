"""The visits of a plan as reports name them: by bed, by patient, by order."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from planner.domain.beds import find_beds, nearest_beds, which_bed
from planner.domain.draws import DrawId
from planner.domain.order_numbers import find_order, find_patient
from planner.domain.orders import OrderId
from planner.domain.places import PlaceId
from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Held
from planner.domain.revisions.reported import Reported
from planner.loaders.names.known import SiteNames
from planner.units import minutes_to_s

_SOON_S = minutes_to_s(10)
"""A visit planned this long after a stated time, or less, may be the one that was made (engineering choice)."""


class VisitBook:
    """The visits of a plan, those first of which nobody has told the outcome."""

    def __init__(self, problem: Problem, plan: Plan, now_s: int) -> None:
        self.problem = problem
        self._names = SiteNames(problem.site_names)
        self.now_s = now_s
        has = [(v, route.phlebotomist) for route in plan.routes for v in route.visits]
        has += [(one.visit, one.phlebotomist) for one in (problem.replan.answered if problem.replan else ())]
        self.has = {visit.draw_id: person for visit, person in has}
        """Whose visit each is on the last sheet, or was until a report ended it."""
        self.visits = sorted((visit for visit, _person in has), key=lambda v: (v.start_s, v.draw_id))
        self.assumed: frozenset[DrawId] = problem.replan.assumed if problem.replan else frozenset()
        self.said: dict[tuple[DrawId, OrderId], Outcome] = {
            (event.what.draw_id, order_id): event.what.outcome
            for event in (problem.replan.log if problem.replan else ())
            if isinstance(event.what, Reported)
            for order_id in event.what.order_ids
        }
        """What earlier revisions were told last of each order of a visit."""
        self._ids = [*(o.id for o in problem.orders), *(u.order_id for u in (*problem.set_aside, *plan.unplanned))]

    def is_open(self, visit: Visit) -> bool:
        """Return whether nobody has told yet what came of a visit."""
        return visit.outcome is None or visit.draw_id in self.assumed

    def asked_too(self, visit: Visit, person: int) -> list[str]:
        """Return the initials of others on whose sheets a stat of a visit was due before, unreported."""
        held = self.problem.replan.unanswered(visit.order_ids) if self.problem.replan else ()
        others = dict.fromkeys(one.phlebotomist for one in held if one.phlebotomist != person)
        return [self.problem.staff[other].initials for other in others]

    def beds(self, text: str) -> tuple[PlaceId, ...]:
        """Return the beds of visits that a text can mean; beds without a visit do not make it unclear."""
        visited = {place for v in self.visits for place in (v.place, self.problem.patients[v.patient_id].bed)}
        places = [self.problem.places[place] for place in self.problem.places if place in visited]
        return find_beds(places, self._names.bed(text, self.problem.places.values()))

    def named(self, text: str) -> tuple[list[Visit], OrderId | None]:
        """Return the visits that a text names: by draw id, bed, patient number, or an order number, with it."""
        if drawn := [v for v in self.visits if v.draw_id == text.strip()]:
            return drawn, None
        beds = self.beds(text)
        if len(beds) == 1:
            return self.at_bed(beds[0]), None
        if not text.strip():
            return [], None
        if patient := find_patient(self.problem.patients, {}, text):
            return [v for v in self.visits if v.patient_id == patient.id], None
        order_id = self.order_id(text)
        visits = [v for v in self.visits if order_id in (*v.order_ids, *v.tried)]
        return (visits, order_id) if order_id is not None else ([], None)

    def bed_fault(self, text: str, found: Sequence[PlaceId]) -> str:
        """Return what to say of a text that means no bed with a visit, or several."""
        if found:
            return which_bed(text, map(self.problem.place_names, found))
        places = self.problem.places.values()
        if known := find_beds(places, self._names.bed(text, places)):
            return f"bed {self.problem.place_name(known[0])} has no visit in this plan; look at the sheet"
        return f"bed {text!r} is not in this round. {nearest_beds(places, text)}"

    def at_bed(self, bed: PlaceId) -> list[Visit]:
        """Return the visits at a bed, and those made elsewhere before the patient was moved there."""
        return [v for v in self.visits if bed in (v.place, self.problem.patients[v.patient_id].bed)]

    def order_id(self, text: str) -> OrderId | None:
        """Return the order of the round whose number a person wrote, case and lost leading zeros aside."""
        return find_order(self._ids, text)

    def told_before(
        self, visits: Iterable[Visit], outcome: Outcome, at_s: int | None, order_id: OrderId | None = None
    ) -> Visit | None:
        """Return the visit of which, or of an order of which, this outcome was told before; ``at_s`` as reported.

        A file that is kept all morning says of a patient who was away at 05:20 so again, when another visit to the
        same bed is still to come.
        """
        parent_s = self.problem.replan.now_s if self.problem.replan else None
        if parent_s is None or (at_s is not None and at_s > parent_s):
            return None
        return next((v for v in visits if not self.is_open(v) and self._outcome(v, order_id) is outcome), None)

    def _outcome(self, visit: Visit, order_id: OrderId | None) -> Outcome | None:
        """Return what was told of an order of a visit, else of the visit."""
        return visit.outcome if order_id is None else self.said.get((visit.draw_id, order_id), visit.outcome)

    def to_tell(self, visits: Iterable[Visit], at_s: int | None = None) -> Visit | list[Visit]:
        """Return the one visit that a report without order numbers is about, else those between which it is open.

        ``at_s`` is the time reported. Visits that nobody has reported go before those whose outcome is told, be they
        assumed or to come; of these the ones due count, and one to come a few minutes after ``at_s``. So a visit that
        is only assumed goes before a later one of the same patient. Where visits of several patients were made at a
        bed, the patient whose visit is to come is meant.
        """
        listed = list(visits)
        still = self._of_patient_meant([v for v in listed if self.is_open(v)])
        due = [v for v in still if self.is_due(v) or (at_s is not None and v.draw_s - at_s <= _SOON_S)]
        found = due or still or listed
        return found[0] if len(found) == 1 else found

    def planned_s(self, visit: Visit) -> tuple[int, ...]:
        """Return when a visit was to be drawn, by the last sheet and by older ones."""
        return (visit.draw_s, *(held.draw_s for held in self.held(visit)))

    def had_by(self, visit: Visit) -> frozenset[int]:
        """Return on whose sheets a visit is or was."""
        return frozenset({self.has[visit.draw_id], *(held.phlebotomist for held in self.held(visit))})

    def held(self, visit: Visit) -> tuple[Held, ...]:
        """Return on whose older sheets a visit was, the oldest first."""
        return self.problem.replan.held(visit.order_ids) if self.problem.replan else ()

    def is_due(self, visit: Visit) -> bool:
        """Return whether a visit was planned to begin by now."""
        return visit.start_s <= self.now_s

    def _of_patient_meant(self, visits: Sequence[Visit]) -> list[Visit]:
        """Return the visits of the patients to whom somebody is due to come, else is to come at all."""
        to_come = [v for v in visits if v.outcome is None]
        group = [v for v in to_come if self.is_due(v)] or to_come or visits
        patients = {v.patient_id for v in group}
        return [v for v in visits if v.patient_id in patients]
