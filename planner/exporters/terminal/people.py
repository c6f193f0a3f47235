"""What shaped each person's route, in a line or two: who has few visits, and why, is said."""

from __future__ import annotations

import textwrap
from itertools import groupby

from planner.domain.plan import Route, Visit
from planner.domain.staff import Phlebotomist
from planner.exporters.view.context import ViewContext
from planner.exporters.view.words import count_words

INDENT = 8


def people_lines(context: ViewContext, width: int) -> list[str]:
    """Return for each person the visits, their span, the wards in the order of the route, and what bound the route.

    Nothing for a single person, whose route holds whatever can be done.
    """
    if len(context.problem.staff) < 2:
        return []
    route_of = {route.phlebotomist: route for route in context.plan.routes}
    lines = ["", "By person"]
    for index, who in enumerate(context.problem.staff):
        route = route_of.get(index)
        visits = route.visits if route else ()
        lines += _row(context.clean(who.initials), _route_words(context, route, visits), width)
        if bound := _bound_words(context, index, visits):
            lines += _row("", bound, width)
    return lines


def _row(label: str, text: str, width: int) -> list[str]:
    first = f"  {label:<{INDENT - 2}}"[:INDENT]
    return textwrap.wrap(
        text, width, initial_indent=f"{first:<{INDENT}}", subsequent_indent=" " * INDENT, break_on_hyphens=False
    )


def _route_words(context: ViewContext, route: Route | None, visits: tuple[Visit, ...]) -> str:
    if route is None or not visits:
        return "no visit"
    first, last = context.clock(visits[0].start_s), context.clock(visits[-1].depart_s)
    wards = [ward for ward, _ in groupby(context.problem.patients[v.patient_id].ward for v in visits)]
    words = f"{count_words(len(visits), 'visit')}, {first} to {last}"
    return f"{words}: {', '.join(map(context.clean, wards))}" if any(wards) else words


def _bound_words(context: ViewContext, index: int, visits: tuple[Visit, ...]) -> str:
    """Return which of the planned visits a person may make at all, and which nobody else may."""
    staff, patients = context.problem.staff, context.problem.patients
    who = staff[index]
    planned = [patients[v.patient_id] for route in context.plan.routes for v in route.visits]

    def may(person: Phlebotomist, ward: str, needs: frozenset[str]) -> bool:
        return needs <= person.skills and person.goes_to(ward)

    able = sum(may(who, patient.ward, patient.needs) for patient in planned)
    mine = [patients[v.patient_id] for v in visits]
    alone = sum(not any(may(other, p.ward, p.needs) for n, other in enumerate(staff) if n != index) for p in mine)
    parts = [f"goes to {', '.join(map(context.clean, sorted(who.wards)))} only"] if who.wards else []
    parts += [f"may make {able} of the {len(planned)} visits"] if able < len(planned) else []
    parts += [f"{alone} of them nobody else may make"] if alone else []
    return "; ".join(parts)
