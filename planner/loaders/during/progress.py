"""Reads what was done so far from a progress file; every row becomes a report or a finding."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path

from planner.domain.draws import DrawId
from planner.domain.orders import OrderId
from planner.domain.places import PlaceId
from planner.domain.plan import Outcome, Plan, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.reported import Reported
from planner.findings import Finding, Report, Severity, Source
from planner.loaders.during.answers import Answers
from planner.loaders.during.drawn_by import timed_and_held
from planner.loaders.during.settle import settle_reports
from planner.loaders.during.times import checked_time, stated_time
from planner.loaders.during.tubes_told import FILLED, with_tubes_joined
from planner.loaders.during.visit_book import VisitBook
from planner.loaders.during.visit_meant import visit_meant
from planner.loaders.frame.places import place_key
from planner.loaders.sources import read_grids
from planner.loaders.tables.read_table import read_table, score
from planner.loaders.tables.records import Record
from planner.loaders.values.fields import Fields, Reading, word
from planner.loaders.values.words import NOT_YET, OUTCOMES

FORMATS = frozenset({"", "1", "2"})
"""Formats of the progress file (FORMAT.md); a file without the column is of the first."""

HAND_OVER = frozenset({"hand-over", "handover", "hand over"})
"""Rows of this kind say where specimens were given away: kept on file, and not used for the plan."""
ANSWER = "answer"
"""Rows of this kind say what was told at the bed."""

_NAMING = ("bed", "patient_number", "order_number")


def read_progress(
    path: Path, problem: Problem, plan: Plan, now_s: int
) -> tuple[tuple[Reported, ...], tuple[Finding, ...]]:
    """Return what a progress file reports of the visits of a plan, with all that is wrong in it.

    The file is a CSV file or a workbook with the columns of FORMAT.md beside this module, under any of their
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
    told = [reported for table in tables for record in table.records for reported in rows.read(record)]
    found = rows.without_old_positions(with_tubes_joined(told))
    rows.say_unfinished()
    settled = rows.answers.with_reports(settle_reports(found, rows.book, report))
    return timed_and_held(settled, rows.book, report), tuple(report)


class _Rows:
    """Turns rows of a progress file into reports."""

    def __init__(self, book: VisitBook, reading: Reading) -> None:
        self.book = book
        self.reading = reading
        self.report = reading.report
        self.answers = Answers(book)
        self.initials = {p.initials.casefold(): n for n, p in enumerate(book.problem.staff)}
        self.strangers: set[str] = set()
        self.of_older_sheets: set[DrawId] = set()
        self.differing: set[tuple[DrawId, str]] = set()
        self.unfinished: dict[tuple[str, str], list[Fields]] = {}
        """By bed and patient number the rows without an outcome that say that blood was drawn."""

    def read(self, record: Record) -> list[Reported]:
        """Return the reports of a row, one for each visit that it is about; none with a finding."""
        fields = Fields(record, self.reading)
        fields.whole_row()
        for name in (*_NAMING, "outcome"):
            fields.text(name)
        if fields.faults:
            return []
        if word(fields.text("kind")) in HAND_OVER or not _is_known_format(fields):
            return []
        if word(fields.text("kind")) == ANSWER:
            self.answers.read(fields)
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
        if text in NOT_YET and (fields.text("tube") or fields.text("time")):
            self.unfinished.setdefault((fields.text("bed"), fields.text("patient_number")), []).append(fields)
        elif text in NOT_YET:
            message = f"the row states no outcome, so the visit is not reported; write one of {known}, or nothing"
            fields.add("outcome-unknown", Severity.NOTE, "outcome", message)
        else:
            close = get_close_matches(text, OUTCOMES, n=1, cutoff=0.7)
            meant = f" ({close[0]}?)" if close else ""
            message = f"{fields.text('outcome')!r} is no outcome{meant}; write {known}. The row is not used"
            fields.add("outcome-unknown", Severity.ERROR, "outcome", message)
        return None

    def say_unfinished(self) -> None:
        """Report each visit that has no outcome although a tube or the time of the draw is there: was it drawn?"""
        for (bed, _patient), rows in self.unfinished.items():
            tubes = ", ".join(dict.fromkeys(tube for fields in rows if (tube := fields.text("tube"))))
            at = rows[0].text("time")
            said = [f"tube {tubes} ticked as filled"] * bool(tubes) + [f"drawn at {at}"] * bool(at)
            by = rows[0].text("initials") or "who was there"
            message = (
                f"bed {bed or '?'}: {', '.join(said)}, and no outcome. It is not reported, so it may be drawn twice: "
                f'ask {by}, then write the outcome, or --drawn "BED=HH:MM"'
            )
            rows[0].add("report-unfinished", Severity.WARNING, "outcome", message)

    def _visits(self, fields: Fields, outcome: Outcome, at_s: int | None) -> list[tuple[Visit, tuple[OrderId, ...]]]:
        """Return the visits that a row names with the orders that it is about.

        Order numbers say which visits are meant, else the patient number, else the bed. A bed that differs from that
        of the patient or order number is reported, and changes nothing.
        """
        if not any(fields.text(name) for name in _NAMING):
            message = "the row names no bed and no order; write at least one of them"
            fields.add("report-unclear", Severity.ERROR, "bed", message)
            return []
        number = fields.identifier("patient_number")
        texts = fields.parts("order_number", ";,")
        if fields.faults:
            return []
        if texts:
            found = self._of_orders(fields, texts, number, outcome, at_s)
        elif number:
            found = self._of_patient(fields, number, outcome, at_s)
        else:
            found = self._one_of(fields, self._at_bed(fields), outcome, at_s)
        if (texts or number) and found:
            self._compare_bed(fields, [visit for visit, _ids in found])
        return found

    def _of_orders(
        self, fields: Fields, texts: Sequence[str], number: str, outcome: Outcome, at_s: int | None
    ) -> list[tuple[Visit, tuple[OrderId, ...]]]:
        """Return the visits of the orders that a row names; a patient number must be that of their patient."""
        found: dict[str, tuple[Visit, tuple[OrderId, ...]]] = {}
        for text in texts:
            order_id = self.book.order_id(text)
            visits = [v for v in self.book.visits if order_id in (*v.order_ids, *v.tried)]
            if order_id is None or not visits:
                self._add_missing(fields, text, order_id)
            elif number and not any(_same_number(v.patient_id, number) for v in visits):
                message = f"the patient number is not that of order {order_id}; find out who was drawn"
                source = fields.record.at("patient_number")
                self.report.add("report-patient", Severity.ERROR, message, source=source, order_ids=[order_id])
            else:
                told = self.book.told_before(visits, outcome, at_s, order_id)
                visit = told or next((v for v in visits if self.book.is_open(v)), visits[-1])
                found[visit.draw_id] = (visit, (*found.get(visit.draw_id, (visit, ()))[1], order_id))
        return list(found.values())

    def _of_patient(
        self, fields: Fields, number: str, outcome: Outcome, at_s: int | None
    ) -> list[tuple[Visit, tuple[OrderId, ...]]]:
        """Return the visit of the patient whose number a row gives."""
        visits = [v for v in self.book.visits if _same_number(v.patient_id, number)]
        if not visits:
            message = "nobody of this plan has that patient number; find out who was drawn"
            fields.add("report-patient", Severity.ERROR, "patient_number", message)
        return self._one_of(fields, visits, outcome, at_s)

    def _one_of(
        self, fields: Fields, visits: Sequence[Visit], outcome: Outcome, at_s: int | None
    ) -> list[tuple[Visit, tuple[OrderId, ...]]]:
        """Return the one visit, with all its orders, that a row without order numbers is about."""
        if not visits:
            return []
        if told := self.book.told_before(visits, outcome, at_s):
            return [(told, told.order_ids or told.tried)]
        who = f"bed {fields.text('bed')!r}" if fields.text("bed") else "the patient"
        one = visit_meant(
            visits,
            who,
            self.book,
            self.report,
            fields.record.at("bed"),
            to_write="order_number {}".format,
            at_s=at_s,
            drawn_by=self.initials.get(fields.text("initials").casefold()),
        )
        return [(one, one.order_ids or one.tried)] if one else []

    def _at_bed(self, fields: Fields) -> list[Visit]:
        """Return the visits at the bed that a row names; none with a finding."""
        bed = fields.text("bed")
        beds = self._beds(fields)
        if len(beds) == 1:
            return self.book.at_bed(beds[0])
        fields.add("bed-not-found", Severity.ERROR, "bed", self.book.bed_fault(bed, beds))
        return []

    def _beds(self, fields: Fields) -> tuple[PlaceId, ...]:
        """Return the beds that a row can mean; its ward is looked at where the bed alone does not say which."""
        bed, ward = fields.text("bed"), fields.text("ward")
        beds = self.book.beds(bed)
        return self.book.beds(f"{ward} {bed}") if len(beds) != 1 and ward else beds

    def _compare_bed(self, fields: Fields, visits: Sequence[Visit]) -> None:
        """Report a bed that is not that of the patient whom the row names by a number."""
        if not fields.text("bed"):
            return
        beds = self._beds(fields)
        for visit in visits:
            said = (visit.draw_id, place_key(fields.text("bed")))
            if said not in self.differing and not any(visit in self.book.at_bed(bed) for bed in beds):
                self.differing.add(said)
                place = self.book.problem.place_name(visit.place)
                message = (
                    f"the row says bed {fields.text('bed')!r}, this plan has the patient in {place}; the number "
                    "decides. If the patient was moved, say so with --moved"
                )
                source = fields.record.at("bed")
                self.report.add("bed-differs", Severity.WARNING, message, source=source, order_ids=visit.order_ids)

    def _add_missing(self, fields: Fields, text: str, order_id: OrderId | None) -> None:
        """Report an order number that no visit of the plan has."""
        if order_id is None:
            message = f"order {text!r} is not in this round; correct the number"
        else:
            message = f"order {order_id} is in no visit of this plan; tell the lead, and give it as a new order"
        source = fields.record.at("order_number")
        self.report.add("order-not-found", Severity.ERROR, message, source=source, order_ids=[order_id or text])

    def _reported(
        self, fields: Fields, visit: Visit, ids: tuple[OrderId, ...], outcome: Outcome, at_s: int | None
    ) -> Reported:
        initials = fields.text("initials")
        if initials and initials.casefold() not in self.initials.keys() | self.strangers:
            self.strangers.add(initials.casefold())
            message = f"initials {initials!r} are nobody's of this round; the planned person counts as the collector"
            fields.add("reporter-unknown", Severity.WARNING, "initials", message)
        if at_s is None and (ticked_s := stated_time(fields, self.book, "ticked")) is not None:
            at_s = ticked_s if ticked_s < visit.draw_s else None  # planned for later, and made when it was ticked
        return Reported(
            order_ids=ids,
            draw_id=visit.draw_id,
            outcome=outcome,
            at_s=checked_time(at_s, fields, visit, self.book),
            tubes=self._tubes(fields, visit, outcome),
            arrived_s=stated_time(fields, self.book, "arrived"),
            left_s=stated_time(fields, self.book, "left"),
            initials=initials,
            drawn_by=self.initials.get(initials.casefold()),
            note=fields.text("note"),
            source=fields.record.at("outcome"),
        )

    def _tubes(self, fields: Fields, visit: Visit, outcome: Outcome) -> tuple[int, ...] | None:
        """Return the tube that a row says was filled, none if it was not; None where the row names no tube."""
        tube, revision = fields.text("tube"), fields.text("revision")
        if not tube.isdecimal():
            return None
        replan = self.book.problem.replan
        if revision and revision != str(replan.parent + 1 if replan else 1):
            self.of_older_sheets.add(visit.draw_id)
        return (int(tube),) if outcome in FILLED else ()

    def without_old_positions(self, joined: Iterable[Reported]) -> list[Reported]:
        """Return the reports, those from sheets of another revision without positions of tubes.

        What became of each order was read from all its tubes, but the visit may have other tubes now.
        """
        return [replace(r, tubes=None) if r.draw_id in self.of_older_sheets else r for r in joined]


def _is_known_format(fields: Fields) -> bool:
    """Return whether a row is of a format that is known; one of a later version is a finding of its file."""
    text = fields.text("format")
    if text in FORMATS:
        return True
    message = f"progress file format {text!r} is not known to this version; save the file from this round's own sheet"
    fields.reading.once("progress-format", Severity.ERROR, message, fields.record, "format")
    return False


def _same_number(one: str, other: str) -> bool:
    """Compare patient numbers; a spreadsheet may have dropped leading zeros."""
    return one.lstrip("0") == other.lstrip("0")
