"""By person: visits, wards in the order of the route, and what shaped it; whoever has few visits sees why."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from itertools import groupby

from planner.domain.derived.shares import Share, shares
from planner.domain.plan import Visit
from planner.exporters.view.context import ViewContext
from planner.exporters.view.people import shaped_words, share_words, shares_of

INDENT = 8


def people_lines(context: ViewContext, width: int) -> list[str]:
    """Return for each person the visits to come, their span, the wards, and what shaped the route.

    Nothing for a single person.
    """
    found = shares_of(context)
    lines = ["", "By person"] if found else []
    for person in range(len(found)):
        lines += _person(context, found, person, width)
    return lines


def person_lines(context: ViewContext, person: int, width: int) -> list[str]:
    """Return the same for one person, also where nobody else is there."""
    return _person(context, shares(context.problem, context.plan, context.windows), person, width)


def _person(context: ViewContext, found: Sequence[Share], person: int, width: int) -> list[str]:
    share, initials = found[person], context.clean(context.problem.staff[person].initials)
    lines = _row(initials, share_words(share) + _span_words(context, share.visits), width)
    shaped = shaped_words(context, found, person)
    return lines + (_row("", shaped, width) if shaped else [])


def _row(label: str, text: str, width: int) -> list[str]:
    first = f"  {label:<{INDENT - 2}}"[:INDENT]
    return textwrap.wrap(
        text, width, initial_indent=f"{first:<{INDENT}}", subsequent_indent=" " * INDENT, break_on_hyphens=False
    )


def _span_words(context: ViewContext, visits: tuple[Visit, ...]) -> str:
    if not visits:
        return ""
    first, last = context.clock(visits[0].start_s), context.clock(visits[-1].depart_s)
    wards = [ward for ward, _ in groupby(context.problem.patients[v.patient_id].ward for v in visits)]
    named = f": {', '.join(map(context.clean, wards))}" if any(wards) else ""
    return f", {first} to {last}{named}"
