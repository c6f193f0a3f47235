"""Tells which visit of several is meant by a report that names a bed or a patient."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from planner.domain.plan import Visit
from planner.findings import Report, Severity, Source
from planner.loaders.during.visit_book import VisitBook


def visit_meant(
    visits: Sequence[Visit],
    who: str,
    book: VisitBook,
    report: Report,
    source: Source | None,
    *,
    to_write: Callable[[str], str],
    at_s: int | None = None,
    drawn_by: int | None = None,
) -> Visit | None:
    """Return the visit that a report is about; where several can be meant, None and a finding that says what to write.

    Parameters
    ----------
    who
        How the report names the patient: it begins the finding.
    to_write
        Says how to write the report with order numbers, given with commas, instead of the bed or patient.
    at_s
        The time reported: it tells the visit planned nearest to it, on the last sheet or an older one.
    drawn_by
        Who made the visit, by the place in the staff: where the time does not tell, the one that they had.
    """
    told = book.to_tell(visits, at_s)
    if isinstance(told, Visit):
        return told
    told = [v for n, v in enumerate(told) if not any(set(_orders(v)) & set(_orders(later)) for later in told[n + 1 :])]
    one = told[0] if len(told) == 1 else _nearest(told, book, at_s) or _of_person(told, book, drawn_by)
    if one or not told:
        return one
    clock = book.problem.clock.format_clock
    ids = [order_id for v in told for order_id in _orders(v)]
    choices = [f"{to_write(','.join(_orders(v)))} for that planned for {clock(v.draw_s)}" for v in told]
    if at_s is None and _are_due_in_turn(told, book):
        message = (
            f"{who} has {len(told)} visits due that are not reported; the earliest is taken. If another was meant, "
            f"write {', or '.join(choices[1:])}"
        )
        report.add("report-unclear", Severity.WARNING, message, source=source, order_ids=ids)
        return told[0]
    message = f"{who} has {len(told)} visits; write {', or '.join(choices)}"
    report.add("report-unclear", Severity.ERROR, message, source=source, order_ids=ids)
    return None


def _orders(visit: Visit) -> tuple[str, ...]:
    return visit.order_ids or visit.tried


def _are_due_in_turn(visits: Sequence[Visit], book: VisitBook) -> bool:
    """Whether visits are of one patient, due by now, and nobody has reported any."""
    one_patient = len({v.patient_id for v in visits}) == 1
    return one_patient and all(book.is_open(v) and book.is_due(v) for v in visits)


def _nearest(visits: Sequence[Visit], book: VisitBook, at_s: int | None) -> Visit | None:
    """Return the visit planned for a time, if it is nearer by half than any other; None: the time does not tell."""
    if at_s is None or len(visits) < 2:
        return None
    away_s = {v.draw_id: min(abs(planned_s - at_s) for planned_s in book.planned_s(v)) for v in visits}
    first, second, *_rest = sorted(visits, key=lambda visit: away_s[visit.draw_id])
    near_s, next_s = away_s[first.draw_id], away_s[second.draw_id]
    return first if 2 * near_s <= next_s and next_s else None


def _of_person(visits: Sequence[Visit], book: VisitBook, drawn_by: int | None) -> Visit | None:
    """Return the one visit that somebody has on the last sheet, or had on an older one; None: none, or several."""
    theirs = [visit for visit in visits if drawn_by is not None and drawn_by in book.had_by(visit)]
    return theirs[0] if len(theirs) == 1 else None
