"""Reads what was done so far: a progress file, or bed numbers; every row becomes a report or a finding."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path

from planner.domain.orders import OrderId
from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.reported import Reported
from planner.findings import Finding, Report, Severity, Source
from planner.loaders.during.outcome_words import NOT_YET, OUTCOMES
from planner.loaders.during.settle import settle_reports
from planner.loaders.during.times import checked_time, stated_time, untold_time
from planner.loaders.during.visit_book import VisitBook
from planner.loaders.sources import read_grids
from planner.loaders.tables.read_table import read_table, score
from planner.loaders.tables.records import Record
from planner.loaders.values.fields import Fields, Reading, word

_NAMING = ("bed", "patient_number", "order_number")


def read_progress(
    path: Path, problem: Problem, plan: Plan, now_s: int
) -> tuple[tuple[Reported, ...], tuple[Finding, ...]]:
    """Return what a progress file reports of the visits of a plan, with all that is wrong in it.

    The file is a CSV file or a workbook with the columns of DEVELOPERS.md, "Progress file", under any of their
    synonyms. A row may name a bed, a patient number, order numbers, or several of them; without order numbers it is
    about all orders of the visit. Bad input never raises.
    """
    report = Report()
    if not path.is_file():
        message = "there is no such file; give the progress file that the sheet saved, or bed numbers"
        report.add("input-not-found", Severity.ERROR, message, source=Source(file=path.name))
        return (), tuple(report)
    grids = read_grids(path, "progress", report)
    grids = [grid for grid in grids if score("progress", grid)] or grids[:1]
    tables = [table for grid in grids if (table := read_table("progress", grid, report))]
    reading = Reading(report, {}, problem.clock, problem.start_s, problem.end_s)
    rows = _Rows(VisitBook(problem, plan, now_s), reading)
    found = [reported for table in tables for record in table.records for reported in rows.read(record)]
    return _timed(settle_reports(found, rows.book, report), rows.book, report), tuple(report)


def parse_done(text: str, problem: Problem, plan: Plan, now_s: int) -> tuple[tuple[Reported, ...], tuple[Finding, ...]]:
    """Return beds such as ``12,14B,3`` as visits that were collected when the plan said."""
    report = Report()
    book = VisitBook(problem, plan, now_s)
    source = Source(file="--done")
    found: list[Reported] = []
    for bed in (part.strip() for part in re.split(r"[,;]", text)):
        visits = _visits_at(bed, book, report, source) if bed else []
        if visit := _one(visits, f"bed {bed!r}", book, report, source):
            found.append(
                Reported(order_ids=visit.order_ids, draw_id=visit.draw_id, outcome=Outcome.COLLECTED, source=source)
            )
    return _timed(settle_reports(found, book, report), book, report), tuple(report)


def _timed(reports: Iterable[Reported], book: VisitBook, report: Report) -> tuple[Reported, ...]:
    """Give a time to reports without one on visits that were planned for later."""
    visits = {v.draw_id: v for v in book.visits}
    timed: dict[Reported, Finding | None] = {}
    for reported in reports:
        if reported.at_s is not None:
            timed[reported] = None
            continue
        at_s, finding = untold_time(visits[reported.draw_id], book, reported.source)
        timed[replace(reported, at_s=at_s)] = finding
    report.extend(dict.fromkeys(finding for finding in timed.values() if finding))
    return tuple(timed)


def _visits_at(bed: str, book: VisitBook, report: Report, source: Source) -> list[Visit]:
    beds = book.beds(bed)
    if len(beds) == 1:
        return book.at_bed(beds[0])
    report.add("bed-not-found", Severity.ERROR, book.bed_fault(bed, beds), source=source)
    return []


def _one(visits: Sequence[Visit], who: str, book: VisitBook, report: Report, source: Source) -> Visit | None:
    """Return the visit that is meant; two between which it is open are a finding."""
    told = book.to_tell(visits)
    if isinstance(told, Visit):
        return told
    if told:
        clock = book.problem.clock
        choices = "; ".join(f"{clock.format_clock(v.draw_s)} orders {', '.join(v.order_ids)}" for v in told)
        message = f"{who} has {len(told)} visits ({choices}); name the orders in a progress file"
        ids = [order_id for v in told for order_id in v.order_ids]
        report.add("report-unclear", Severity.ERROR, message, source=source, order_ids=ids)
    return None


class _Rows:
    """Turns rows of a progress file into reports."""

    def __init__(self, book: VisitBook, reading: Reading) -> None:
        self.book = book
        self.reading = reading
        self.report = reading.report
        self.initials = {p.initials.casefold() for p in book.problem.staff}
        self.strangers: set[str] = set()

    def read(self, record: Record) -> list[Reported]:
        """Return the reports of a row, one for each visit that it is about; none with a finding."""
        fields = Fields(record, self.reading)
        fields.whole_row()
        for name in (*_NAMING, "outcome"):
            fields.text(name)
        if fields.faults:
            return []
        outcome = self._outcome(fields)
        if outcome is None:
            return []
        at_s = stated_time(fields, self.book)
        visits = self._visits(fields, outcome, at_s)
        return [self._reported(fields, visit, ids, outcome, at_s) for visit, ids in visits]

    def _outcome(self, fields: Fields) -> Outcome | None:
        text = word(fields.text("outcome")).rstrip(".!")
        if outcome := OUTCOMES.get(text):
            return outcome
        known = ", ".join(o.value for o in Outcome)
        if text in NOT_YET:
            message = f"the row states no outcome, so the visit is not reported; write one of {known}, or nothing"
            fields.add("outcome-unknown", Severity.NOTE, "outcome", message)
        else:
            close = get_close_matches(text, OUTCOMES, n=1, cutoff=0.7)
            meant = f" ({close[0]}?)" if close else ""
            message = f"{fields.text('outcome')!r} is no outcome{meant}; write {known}. The row is not used"
            fields.add("outcome-unknown", Severity.ERROR, "outcome", message)
        return None

    def _visits(self, fields: Fields, outcome: Outcome, at_s: int | None) -> list[tuple[Visit, tuple[OrderId, ...]]]:
        """Return the visits that a row names with the orders that it is about."""
        visits = self._named(fields)
        texts = fields.parts("order_number", ";,")
        if visits is None:
            return []
        told = self.book.told_before(visits, outcome, at_s)
        if not texts and told:
            return [(told, told.order_ids)]
        if not texts:
            who = " ".join(f"{n.replace('_', ' ')} {fields.text(n)!r}" for n in ("bed",) if fields.text(n))
            one = _one(visits, who or "the patient", self.book, self.report, fields.record.source)
            return [(one, one.order_ids)] if one else []
        found: dict[str, tuple[Visit, tuple[OrderId, ...]]] = {}
        for text in texts:
            order_id = self._order(fields, text, visits)
            if order_id is not None:
                with_order = [v for v in visits if order_id in v.order_ids]
                told = self.book.told_before(with_order, outcome, at_s)
                visit = told or next((v for v in with_order if self.book.is_open(v)), with_order[-1])
                found[visit.draw_id] = (visit, (*found.get(visit.draw_id, (visit, ()))[1], order_id))
        return list(found.values())

    def _named(self, fields: Fields) -> list[Visit] | None:
        """Return the visits at the bed and of the patient of a row; None with a finding when they disagree."""
        if not any(fields.text(name) for name in _NAMING):
            message = "the row names no bed and no order; write at least one of them"
            fields.add("report-unclear", Severity.ERROR, "bed", message)
            return None
        visits = self.book.visits
        if bed := fields.text("bed"):
            beds = self.book.beds(bed)
            if len(beds) != 1 and fields.text("ward"):
                beds = self.book.beds(f"{fields.text('ward')} {bed}")
            if len(beds) != 1:
                fields.add("bed-not-found", Severity.ERROR, "bed", self.book.bed_fault(bed, beds))
                return None
            visits = self.book.at_bed(beds[0])
        if number := fields.identifier("patient_number"):
            of_patient = [v for v in visits if _same_number(v.patient_id, number)]
            if not of_patient:
                message = (
                    "the patient number is not that of the patient whom this plan has there; find out who was drawn"
                )
                ids = fields.parts("order_number", ";,")
                source = fields.record.at("patient_number")
                self.report.add("report-patient", Severity.ERROR, message, source=source, order_ids=ids)
                return None
            visits = of_patient
        return [] if fields.faults else visits

    def _order(self, fields: Fields, text: str, visits: Sequence[Visit]) -> OrderId | None:
        """Return the order that a text names, if one of the visits has it; None with a finding."""
        order_id = self.book.order_id(text)
        with_order = [v for v in self.book.visits if order_id in v.order_ids]
        message = ""
        if order_id is None:
            message = f"order {text!r} is not in this round; correct the number"
        elif not with_order:
            message = f"order {order_id} is in no visit of this plan; tell the lead, and give it as a new order"
        elif not any(v in visits for v in with_order):
            bed = self.book.problem.places[with_order[0].place]
            message = f"order {order_id} is planned at bed {bed.label or bed.id}, not where the row says; correct one"
        else:
            return order_id
        source = fields.record.at("order_number")
        self.report.add("order-not-found", Severity.ERROR, message, source=source, order_ids=[order_id or text])
        return None

    def _reported(
        self, fields: Fields, visit: Visit, ids: tuple[OrderId, ...], outcome: Outcome, at_s: int | None
    ) -> Reported:
        initials = fields.text("initials")
        if initials and initials.casefold() not in self.initials | self.strangers:
            self.strangers.add(initials.casefold())
            message = f"initials {initials!r} are nobody's of this round; the planned person counts as the collector"
            fields.add("reporter-unknown", Severity.WARNING, "initials", message)
        return Reported(
            order_ids=ids,
            draw_id=visit.draw_id,
            outcome=outcome,
            at_s=checked_time(at_s, fields, visit, self.book),
            initials=initials,
            note=fields.text("note"),
            source=fields.record.source,
        )


def _same_number(one: str, other: str) -> bool:
    """Compare patient numbers; a spreadsheet may have dropped leading zeros."""
    return one.lstrip("0") == other.lstrip("0")
