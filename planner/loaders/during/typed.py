"""Reads what is reported on the command line: beds, patient numbers or order numbers, or how far somebody has come."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import partial

from planner.domain.orders import OrderId
from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.reported import Reported
from planner.findings import Finding, Report, Severity, Source
from planner.loaders.during.drawn_by import booked_otherwise, timed_and_held
from planner.loaders.during.settle import settle_reports
from planner.loaders.during.visit_book import VisitBook
from planner.loaders.during.visit_meant import visit_meant
from planner.units import SECONDS_PER_MINUTE


def parse_done(text: str, problem: Problem, plan: Plan, now_s: int) -> tuple[tuple[Reported, ...], tuple[Finding, ...]]:
    """Return beds such as ``12,14B,3`` as visits that were collected when the plan said.

    A patient number or an order number may stand for a bed; an order number is about that order alone.
    """
    return report_visits([(text, None)], Outcome.COLLECTED, VisitBook(problem, plan, now_s), "--done")


def report_visits(
    named: Iterable[tuple[str, int | None]],
    outcome: Outcome,
    book: VisitBook,
    option: str,
    *,
    is_by_itself: bool = False,
    drawn_by: int | None = None,
) -> tuple[tuple[Reported, ...], tuple[Finding, ...]]:
    """Return reports of visits that came to the same; named by beds, patient numbers or order numbers.

    Parameters
    ----------
    named
        Lists with commas, each with the clock time at which it happened (seconds on the wall's clock; None: not
        stated).
    option
        Where it was said: it stands before what is said of a fault.
    is_by_itself
        Whether nothing is said of other visits by it.
    drawn_by
        Who it was, by the place in the staff; None: not stated.
    """
    report = Report()
    source = Source(file=option)
    found: list[Reported] = []
    for text, visits, ids, at_s in _all_named(named, book):
        if not visits:
            report.add("bed-not-found", Severity.ERROR, book.bed_fault(text, book.beds(text)), source=source)
        elif at_s is not None and at_s > book.now_s:
            message = f"{text!r} at {book.problem.clock.format_clock(at_s)} lies after now; correct the time"
            report.add("report-time", Severity.ERROR, message, source=source)
        elif told := book.told_before(visits, outcome, at_s):
            if drawn_by is not None and drawn_by != book.has[told.draw_id]:
                message = booked_otherwise(told, outcome, drawn_by, book)
                report.add("report-contradicts", Severity.ERROR, message, source=source, order_ids=told.order_ids)
                continue
            found.append(
                Reported(
                    order_ids=told.order_ids or told.tried,
                    draw_id=told.draw_id,
                    outcome=outcome,
                    source=source,
                    is_by_itself=is_by_itself,
                )
            )
        elif visit := visit_meant(
            visits,
            f"bed {text!r}",
            book,
            report,
            source,
            to_write=partial(_to_write, option, at_s, drawn_by, book),
            at_s=at_s,
            drawn_by=drawn_by,
        ):
            found.append(
                Reported(
                    order_ids=ids or visit.order_ids or visit.tried,
                    draw_id=visit.draw_id,
                    outcome=outcome,
                    at_s=at_s,
                    source=source,
                    is_by_itself=is_by_itself,
                    drawn_by=drawn_by,
                )
            )
    return timed_and_held(settle_reports(found, book, report), book, report), tuple(report)


def _all_named(
    named: Iterable[tuple[str, int | None]], book: VisitBook
) -> Iterator[tuple[str, list[Visit], tuple[OrderId, ...], int | None]]:
    """Yield each name with the visits that it can mean, the orders that alone are meant, and the instant stated.

    Order numbers of one visit, one after the other, are one name.
    """
    for text, wall_s in named:
        at_s = None if wall_s is None else book.problem.clock.near(wall_s, book.now_s)
        found: list[tuple[str, list[Visit], tuple[OrderId, ...]]] = []
        for part in _parts(text, book):
            visits, order_id = book.named(part)
            ids: tuple[OrderId, ...] = () if order_id is None else (order_id,)
            if ids and found and found[-1][2] and found[-1][1] == visits:
                before, _visits, other_ids = found.pop()
                part, ids = f"{before},{part}", (*other_ids, *ids)
            found.append((part, visits, tuple(dict.fromkeys(ids))))
        yield from ((*each, at_s) for each in found)


def _to_write(option: str, at_s: int | None, drawn_by: int | None, book: VisitBook, orders: str) -> str:
    """Return what to type instead of a bed: all that was said, with order numbers."""
    at = "" if at_s is None else f"={book.problem.clock.format_clock(at_s)}"
    by = "" if drawn_by is None else f" by {book.problem.staff[drawn_by].initials}"
    return f'{option} "{orders}{at}{by}"'


def report_up_to(person: int, wall_s: int, book: VisitBook) -> tuple[tuple[Reported, ...], tuple[Finding, ...]]:
    """Return all visits of somebody that the last sheet has by a time as collected when it says: what follows is not.

    A stat that was due on somebody else's sheet before, and that nobody reported, is not answered for by that.

    Parameters
    ----------
    person
        By the place in the staff.
    wall_s
        The time on the sheet, in seconds on the wall's clock; all draws in that minute count.
    """
    report = Report()
    source = Source(file="--done")
    clock, who = book.problem.clock, book.problem.staff[person].initials
    at_s = clock.near(wall_s, book.now_s)
    minute_s = min(book.now_s, at_s + SECONDS_PER_MINUTE - 1 if at_s % SECONDS_PER_MINUTE == 0 else at_s)
    mine = [visit for visit in book.visits if book.has[visit.draw_id] == person and visit.draw_s <= minute_s]
    done = [visit for visit in mine if book.is_open(visit)]
    asked = {visit.draw_id: others for visit in done if (others := book.asked_too(visit, person))}
    if at_s > book.now_s:
        message = f"{who} up to {clock.format_clock(at_s)} lies after now; correct the time"
        report.add("report-time", Severity.ERROR, message, source=source)
        return (), tuple(report)
    if not mine:
        message = f"{who} has no draw by {clock.format_clock(at_s)} on the last sheet; name the beds that were drawn"
        report.add("report-unclear", Severity.ERROR, message, source=source)
    elif not done:
        ids = [order_id for visit in mine for order_id in (*visit.order_ids, *visit.tried)]
        message = f"all that {who} has by {clock.format_clock(at_s)} was reported before; nothing to do"
        report.add("report-repeated", Severity.NOTE, message, source=source, order_ids=ids)
    for visit in done:
        if visit.draw_id in asked:
            bed, had_it = book.problem.place_name(visit.place), " and ".join(asked[visit.draw_id])
            message = (
                f"bed {bed}: not taken as drawn by {who} up to {clock.format_clock(at_s)}, as {had_it} may have drawn "
                f'its stat before; ask {had_it}, then report it: --drawn "{bed}=HH:MM by NAME"'
            )
            report.add("report-stat-asked", Severity.WARNING, message, source=source, order_ids=visit.order_ids)
    found = [
        Reported(order_ids=visit.order_ids, draw_id=visit.draw_id, outcome=Outcome.COLLECTED, source=source)
        for visit in done
        if visit.draw_id not in asked
    ]
    return tuple(found), tuple(report)


def beds_not_found(text: str, book: VisitBook) -> list[str]:
    """Return what of a list of beds names no visit, or not clearly one bed."""
    return [part for part in _parts(text, book) if not book.named(part)[0]]


def _parts(text: str, book: VisitBook) -> list[str]:
    """Return the names in a list parted by commas; a bed whose name has a comma is kept whole."""
    pieces = re.split(r"[,;]", text)
    parts: list[str] = []
    at = 0
    while at < len(pieces):
        trials = (",".join(pieces[at:end]).strip() for end in range(len(pieces), at, -1))
        whole = next((trial for trial in trials if book.named(trial)[0]), pieces[at].strip())
        parts += [whole] if whole else []
        at += whole.count(",") + 1
    return parts
