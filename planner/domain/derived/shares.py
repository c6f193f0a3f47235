"""Who gets how many visits: the fair share by the time that each is there, and which visits each may make at all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.domain.draws import OrderWindow
from planner.domain.orders import OrderId, Patient
from planner.domain.plan import Plan, Visit
from planner.domain.problem import Problem
from planner.domain.staff import Phlebotomist

FAR_PCT = 25
"""A share that is off the fair one by more percent than this is explained (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """What one person does of the visits to come.

    ``fair`` is the part of all ``num_all`` visits that the person's time there has in the time of all. ``able`` is how
    many skills and wards let them make, ``in_shift`` how many of these fit their shift and the visit's own window, if
    nothing else were to do. ``alone`` are those of their own that nobody else may make.
    """

    visits: tuple[Visit, ...]
    num_all: int
    fair: float
    able: int
    in_shift: int
    alone: int

    @property
    def is_far(self) -> bool:
        """True when the share is off the fair one by more than `FAR_PCT`, and by a visit or more."""
        off = abs(len(self.visits) - self.fair)
        return off >= 1 and off * 100 > FAR_PCT * self.fair

    @property
    def is_bound(self) -> bool:
        """True when skills, wards, the shift or windows keep visits from this person, or leave some to nobody else."""
        return self.in_shift < self.num_all or self.alone > 0


def shares(problem: Problem, plan: Plan, windows: Mapping[OrderId, OrderWindow]) -> tuple[Share, ...]:
    """Return the share of everybody, in the order of the staff; in a round that has begun of what is still to come."""
    begun = {past.phlebotomist: past for past in problem.replan.past} if problem.replan else {}
    own: dict[int, tuple[Visit, ...]] = {}
    for route in plan.routes:
        num_past = len(begun[route.phlebotomist].stops) if route.phlebotomist in begun else 0
        own[route.phlebotomist] = tuple(stop for stop in route.stops[num_past:] if isinstance(stop, Visit))
    to_come = [visit for visits in own.values() for visit in visits]
    there_s = [max(0, who.until_s - _free_s(problem, person)) for person, who in enumerate(problem.staff)]
    found = []
    for person, who in enumerate(problem.staff):
        able = [visit for visit in to_come if may_make(who, problem.patients[visit.patient_id])]
        others = [other for n, other in enumerate(problem.staff) if n != person]
        mine = own.get(person, ())
        found.append(
            Share(
                visits=mine,
                num_all=len(to_come),
                fair=len(to_come) * there_s[person] / max(1, sum(there_s)),
                able=len(able),
                in_shift=sum(_fits(problem, person, visit, windows) for visit in able),
                alone=sum(not any(may_make(o, problem.patients[v.patient_id]) for o in others) for v in mine),
            )
        )
    return tuple(found)


def may_make(who: Phlebotomist, patient: Patient) -> bool:
    """Return whether skills and wards let somebody draw from a patient."""
    return patient.needs <= who.skills and who.goes_to(patient.ward)


def earliest_s(visit: Visit, windows: Mapping[OrderId, OrderWindow]) -> int | None:
    """Return the first draw time that all orders of a visit have in common; None where no window is known."""
    return max((windows[o].earliest.at_s for o in visit.order_ids if o in windows), default=None)


def _free_s(problem: Problem, person: int) -> int:
    past = problem.replan.past if problem.replan else ()
    return next((one.free_s for one in past if one.phlebotomist == person), problem.staff[person].from_s)


def _fits(problem: Problem, person: int, visit: Visit, windows: Mapping[OrderId, OrderWindow]) -> bool:
    """Return whether somebody could make a visit within the shift and its window, with nothing else to do."""
    who, lead_s = problem.staff[person], visit.draw_s - visit.start_s
    past = problem.replan.past if problem.replan else ()
    place = next((one.place for one in past if one.phlebotomist == person), who.starts_at)
    way_s = 0 if place == visit.place else problem.walking.between(place, visit.place)
    draw_s = max(_free_s(problem, person) + way_s + lead_s, earliest_s(visit, windows) or 0)
    latest_s = min((windows[o].latest.at_s for o in visit.order_ids if o in windows), default=draw_s)
    return draw_s <= latest_s and draw_s + visit.depart_s - visit.draw_s <= who.until_s
