"""The strip at the end of a route: beds not drawn, what was done and given away, and whom to tell."""

from __future__ import annotations

from planner.domain.plan import Route
from planner.domain.policy import EVERYBODY
from planner.exporters.view.context import ViewContext

SIGN_OUT_TITLE = "Sign out, when the route is done"
_WRITTEN = (
    "Visits done _______ of {visits}     Tubes sent _______ of {tubes}     Finished at _____:_____",
    "Told the {lead} what is not drawn, at _____:_____     Sheet left where ____________________",
)
NOT_DRAWN_HEADS = ("Not drawn: bed", "Tests, and why", "Told whom, when")
NOT_DRAWN_ROWS = 4
"""Columns and empty rows of the list of beds not drawn."""

_LEAD, _NO_NUMBER = "lead", ", phone ____________,"


def sign_out_lines(context: ViewContext, route: Route) -> tuple[str, ...]:
    """Return what is counted and written at the end of a route: room for what was done, and how much was to do."""
    visits = context.visits_to_come(route)
    if not context.coming(route):
        return ()
    tubes = sum(not planned.tube.is_discard for visit in visits for planned in visit.tubes)
    return tuple(words.format(visits=len(visits), tubes=tubes, lead=_lead(context)) for words in _WRITTEN)


def _lead(context: ViewContext) -> str:
    """Return who is told at the end, with the number: 'round lead 5501'; with room for it where none is stated."""
    phones = context.problem.policy.sheet.phones
    who = next((who for who in sorted(phones) if who.casefold().endswith(_LEAD)), None)
    if who is not None:
        return context.clean(f"{who} {phones[who]}")
    return _LEAD + (context.clean(f" {phones[EVERYBODY]}") if EVERYBODY in phones else _NO_NUMBER)
