"""When a visit was made of which nobody told the time, and by whom: whose it was at that time, unless somebody says.

Example: the sheet of 05:10 has a bed with KS at 05:20, the one of 05:30 with AM at 06:10. At 05:40 it is reported as
drawn at 05:21: KS drew it. Reported as drawn, without a time: it was due with KS and is not with AM yet, so KS drew it
at 05:20. Reported as refused on the phone, without a time: nobody is due there yet, so nobody need have been there.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from planner.domain.plan import Outcome, Visit
from planner.domain.revisions.replan import Held
from planner.domain.revisions.reported import Reported
from planner.findings import Report, Severity
from planner.loaders.during.visit_book import VisitBook

_DRAWN = frozenset({Outcome.COLLECTED, Outcome.PARTIAL, Outcome.RECOLLECT})


def timed_and_held(reports: Iterable[Reported], book: VisitBook, report: Report) -> tuple[Reported, ...]:
    """Return the reports with the times and the people that nobody told, as far as they are not those of the sheet."""
    visits = {visit.draw_id: visit for visit in book.visits}
    return tuple(dict.fromkeys(_completed(reported, visits[reported.draw_id], book, report) for reported in reports))


def booked_otherwise(told: Visit, outcome: Outcome, by: int, book: VisitBook) -> str:
    """Return what to say of an outcome that is told again with another name."""
    staff = book.problem.staff
    return (
        f"bed {book.problem.place_name(told.place)}: reported as {outcome.value} before, and booked to "
        f"{staff[book.has[told.draw_id]].initials}. If it was {staff[by].initials}, take that report back with --undo "
        "first; if this is another visit, give its time"
    )


def _completed(reported: Reported, visit: Visit, book: VisitBook, report: Report) -> Reported:
    """Return a report with its time and who made the visit.

    The true time of a visit that was made before its time matters for series and for how long its tubes keep.
    """
    has = book.has[visit.draw_id]
    at_s, by = reported.at_s, reported.drawn_by
    if _is_of_the_patient_alone(reported, visit, book.now_s):
        return replace(reported, order_ids=visit.order_ids, at_s=book.now_s, was_there=False)
    held = _due_before(visit, book) if at_s is None and reported.outcome in _DRAWN else None
    if held is not None and by in (None, held.phlebotomist):
        at_s, by = held.draw_s, held.phlebotomist
        _say(reported, visit, held, at_s, book, report)
    elif at_s is None and visit.draw_s > book.now_s:
        at_s = book.now_s
        clock = book.problem.clock
        message = (
            f"reported without a time, and planned for {clock.format_clock(visit.draw_s)}: "
            f"{clock.format_clock(at_s)} is taken; write the true time in a progress file"
        )
        report.add("report-time", Severity.WARNING, message, source=reported.source, order_ids=visit.order_ids)
    if by is None and at_s is not None:
        held = next((one for one in book.held(visit) if at_s < one.until_s), None)
        if held is not None and held.phlebotomist != has:
            by = held.phlebotomist
            _say(reported, visit, held, at_s, book, report)
    is_other = by not in (None, has)
    return replace(reported, at_s=at_s, drawn_by=by if is_other else None, held_by=has if is_other else None)


def _is_of_the_patient_alone(reported: Reported, visit: Visit, now_s: int) -> bool:
    """Return whether a report is a refusal that somebody phoned before anybody was due at the bed."""
    is_refusal = reported.outcome is Outcome.REFUSED and reported.is_by_itself
    return is_refusal and reported.at_s is None and reported.drawn_by is None and visit.start_s > now_s


def _due_before(visit: Visit, book: VisitBook) -> Held | None:
    """Return on whose older sheet a visit was due, if it is not yet on the last one; None: on nobody else's."""
    has = book.has[visit.draw_id]
    due = [one for one in book.held(visit) if one.is_due and one.phlebotomist != has]
    return due[-1] if due and visit.draw_s > book.now_s else None


def _say(reported: Reported, visit: Visit, held: Held, at_s: int, book: VisitBook, report: Report) -> None:
    people, clock = book.problem.staff, book.problem.clock.format_clock
    bed = book.problem.place_name(visit.place)
    by, has = people[held.phlebotomist].initials, people[book.has[visit.draw_id]].initials
    untold = "" if reported.at_s is not None else ", without a time"
    message = (
        f"bed {bed}: reported as {reported.outcome.value}{untold}; it counts as made at {clock(at_s)} by {by}, on "
        f'whose sheet it was then. If it was {has}, take it back with --undo, and report "{bed}={clock(at_s)} by {has}"'
    )
    report.add("report-held", Severity.NOTE, message, source=reported.source, order_ids=visit.order_ids)
