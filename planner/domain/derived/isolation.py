"""Who in protective isolation is visited by somebody who comes from an isolation room: said at the bed, and decided."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.domain.orders import Precaution
from planner.domain.places import PlaceId
from planner.domain.plan import Plan, Route, Visit
from planner.domain.problem import Problem
from planner.finding_codes import Code
from planner.findings import Finding, Severity

CODE: Code = "protective-after-airborne"
_MAY_BE_AIRBORNE = frozenset({Precaution.AIRBORNE, Precaution.UNCLEAR})

ISOLATION_ROOMS = (Precaution.AIRBORNE, Precaution.UNCLEAR, Precaution.DROPLET, Precaution.CONTACT)
"""Rooms out of which something may be carried to a patient without defences, the worst first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """A visit to come to a patient in protective isolation, and the isolation rooms before it on the same route.

    ``rooms`` are bed and precaution in the order of the route; visits made before a replan are among them. Of a
    patient whose isolation is not clear, which may be protective, they are the airborne ones.
    """

    phlebotomist: int
    visit: Visit
    rooms: tuple[tuple[PlaceId, Precaution], ...]
    is_protective: bool = True

    @property
    def is_airborne(self) -> bool:
        """Return whether one of the rooms is, or may be, of airborne isolation: a person decides who goes."""
        return any(precaution in _MAY_BE_AIRBORNE for _, precaution in self.rooms)


def exposures(problem: Problem, route: Route) -> Iterator[Exposure]:
    """Yield what a route brings from isolation rooms to protective ones, in the order of the route."""
    rooms: dict[tuple[PlaceId, Precaution], None] = {}
    for visit in route.visits:
        own = problem.patients[visit.patient_id].precautions
        before = tuple(room for room in rooms if room[0] != visit.place)
        is_protective = Precaution.PROTECTIVE in own
        if not is_protective:
            may_be = Precaution.UNCLEAR in own and Precaution.AIRBORNE not in own
            before = tuple(room for room in before if may_be and room[1] is Precaution.AIRBORNE)
        if before and visit.outcome is None:
            yield Exposure(phlebotomist=route.phlebotomist, visit=visit, rooms=before, is_protective=is_protective)
        if room := next((precaution for precaution in ISOLATION_ROOMS if precaution in own), None):
            rooms[visit.place, room] = None


def isolation_findings(problem: Problem, plan: Plan) -> list[Finding]:
    """Return a finding for each protective patient whom somebody visits after an airborne room."""
    return [
        _finding(problem, exposure)
        for route in plan.routes
        for exposure in exposures(problem, route)
        if exposure.is_protective and exposure.is_airborne
    ]


def _finding(problem: Problem, exposure: Exposure) -> Finding:
    airborne = [place for place, precaution in exposure.rooms if precaution in _MAY_BE_AIRBORNE]
    is_sure = all(precaution is not Precaution.UNCLEAR for _, precaution in exposure.rooms)
    who = problem.staff[exposure.phlebotomist].initials
    isolation = "airborne isolation" if is_sure else "isolation that is airborne or not clear"
    message = (
        f"bed {problem.place_name(exposure.visit.place)} (protective isolation) is visited by {who} after {isolation} "
        f"in bed {problem.place_names.listed(airborne)}. Send another person or another time, or decide that {who} may "
        "go in"
    )
    return Finding(code=CODE, severity=Severity.WARNING, message=message, order_ids=exposure.visit.order_ids)
