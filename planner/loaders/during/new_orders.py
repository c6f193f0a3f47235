"""Reads a list of orders that comes during the round, against the round's own catalogue, patients and places."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence, Set
from dataclasses import replace
from pathlib import Path

from planner.domain.beds import find_beds, which_bed, with_ward
from planner.domain.order_parts import OrderPart
from planner.domain.orders import Order, OrderId, Patient, PatientId
from planner.domain.patients.births import agree
from planner.domain.places import PlaceId
from planner.domain.plan import Reason, SetAside, Unplanned
from planner.domain.problem import Problem
from planner.domain.revisions.changes import NewOrders
from planner.domain.revisions.events import PatientMoved
from planner.finding_codes import Code
from planner.findings import Finding, Report, Severity, Source
from planner.loaders.build.order_rows import OrderDraft, read_order_rows
from planner.loaders.build.orders import build_order, is_live, stated_priority
from planner.loaders.build.patient_drafts import PatientDraft
from planner.loaders.build.patients import has_patient_fields, read_patient
from planner.loaders.build.problem import settled_names
from planner.loaders.build.remarks import report_typed_orders
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.frame.places import names_of_places, place_key
from planner.loaders.frame.round_frame import RoundFrame
from planner.loaders.messages.to_rows.orders import MessageOrders
from planner.loaders.names.wards import with_wards_settled
from planner.loaders.sources import read_sources
from planner.loaders.tables.records import RawRound
from planner.loaders.values.date_columns import decide_columns
from planner.loaders.values.fields import Fields, Reading
from planner.loaders.values.moments import DayOrder


def read_new_orders(
    path: Path, problem: Problem, date_order: DayOrder | None = None
) -> tuple[NewOrders, tuple[Finding, ...]]:
    """Return the orders of a list for a round that has begun, with all that is wrong in it. Bad input never raises.

    What notes and alerts state of orders is left to `planner.loaders.build.said.with_texts`, once all is applied.
    Every order of the list is in exactly one of ``orders``, ``set_aside`` and ``cancelled`` (this one for orders that
    the round has). Patients come with what the list says of them; of those whom the round does not have it must state a
    bed.
    """
    report = Report()
    if not path.exists():
        message = "there is no such file or folder; check the name"
        report.add("input-not-found", Severity.ERROR, message, source=Source(file=path.name))
        return NewOrders(), tuple(report)
    raw = read_sources(path, report, site_names=problem.site_names)
    site_names = settled_names(raw, problem.catalogue, report)
    tests = TestLookup(problem.catalogue, site_names)
    columns = decide_columns(raw.tables, date_order, report)
    frame = RoundFrame.of(problem)
    if raw.messages:
        known = names_of_places(problem.places.values())
        zone_name = problem.clock.zone_name
        messages = MessageOrders(raw.messages, tests, report, zone_name=zone_name, known_places=known)
        raw.tables += messages.tables(frame)
    site_names = with_wards_settled(raw, site_names, report, problem.places.values())
    drafts = read_order_rows(raw.of("orders"), tests, report)
    report_typed_orders(raw, tests, report, problem)
    if not drafts:
        message = "no orders were found; a list needs at least patient number and test"
        report.add("no-orders", Severity.ERROR, message, source=Source(file=path.name))
        return NewOrders(), tuple(report)
    reading = frame.reading(report, columns, site_names)
    return _List(problem, raw, drafts, reading).read(tests), tuple(report)


_COLUMN_OF: Mapping[OrderPart, str] = {
    OrderPart.PRIORITY: "priority",
    OrderPart.COLLECT_AT: "collect_at",
    OrderPart.COLLECT_FROM: "collect_from",
    OrderPart.COLLECT_TO: "collect_to",
    OrderPart.FASTING: "fasting",
    OrderPart.LAST_DOSE: "last_dose_at",
    OrderPart.NEXT_DOSE: "next_dose_at",
    OrderPart.INFUSION_END: "infusion_end_at",
    OrderPart.SERIES: "series",
}
"""The column that states a part of an order."""


class _List:
    """A list being read against a round."""

    def __init__(self, problem: Problem, raw: RawRound, drafts: Sequence[OrderDraft], reading: Reading) -> None:
        self.problem = problem
        self.raw = raw
        self.drafts = drafts
        self.reading = reading
        self.report = reading.report

    def read(self, tests: TestLookup) -> NewOrders:
        """Return the orders of the list, each in one of three places."""
        built = {d.id: o for d in self.drafts if (o := build_order(d, tests, self.problem.catalogue, self.reading))}
        self.reading.report_gathered()
        people = self._people()
        patients = [self._patient(draft) for draft in people.values()]
        for draft in self.drafts:
            patient = people.get(draft.record.text("patient_number"))
            if patient is not None and patient.fault is not None:
                draft.set_aside(*patient.fault)
        named = self._named_by_row(built)
        ours = {o.id for o in self.problem.orders} | {u.order_id for u in self.problem.set_aside}
        cancelled = [
            d for d in self.drafts if d.id in ours and d.fault and d.fault.reason in (Reason.CANCELLED, Reason.ON_HOLD)
        ]
        return NewOrders(
            orders=tuple(named[d.id] for d in self.drafts if d.fault is None),
            patients=tuple(p for p in patients if p is not None),
            set_aside=tuple(self._unplanned(d, people) for d in self.drafts if d.fault and d not in cancelled),
            cancelled=tuple(d.id for d in cancelled),
            stated=frozenset(p for p, c in _COLUMN_OF.items() if any(d.record.text(c) for d in self.drafts)),
            has_notes=any(
                "note" in table.columns and not any(record.source.is_message for record in table.records)
                for table in self.raw.of("orders")
            ),
        )

    def _people(self) -> dict[str, PatientDraft]:
        """Return the patients of whom the list says more than the number, with all rows that tell of them."""
        found: dict[str, PatientDraft] = {}
        rows = [(record, "") for record in self.raw.records("patients")]
        for record, order_id in [*rows, *((d.record, d.id) for d in self.drafts)]:
            number = record.text("patient_number")
            if not number or "patient_number" in record.flags:
                continue
            if has_patient_fields(record):
                draft = found.setdefault(number, PatientDraft(PatientId(number), []))
                if all(record is not other for other in draft.records):
                    draft.records.append(record)
            if order_id and number in found:
                found[number].order_ids.append(order_id)
        return found

    def _patient(self, draft: PatientDraft) -> Patient | None:
        """Return a patient as the list has them; one whom the round has is compared with it."""
        live = [r for r in draft.records if is_live(Fields(r, self.reading))]
        patient = read_patient(draft, self.reading, live)
        before = self.problem.patients.get(draft.id)
        if draft.fault:
            return patient if before and draft.fault.reason is Reason.NO_ARM else None
        if before:
            self._compare(draft, patient, before)
            return None if draft.fault else patient
        if not draft.order_ids:
            return None
        draft.place = self._bed(draft)
        if draft.place is None:
            return None
        place = self.problem.places.get(draft.place)
        return replace(patient, bed=draft.place, ward=draft.ward or (place.ward if place else ""))

    def _bed(self, draft: PatientDraft) -> PlaceId | None:
        """Return the bed of a new patient, as written if the round does not have it; None with a fault."""
        message = "no bed is given for a patient who is new to the round; write it"
        if draft.bed:
            found = self._beds_listed(draft)
            if len(found) < 2:
                return found[0] if found else PlaceId(with_ward(draft.ward, draft.bed))
            message = which_bed(draft.bed, map(self.problem.place_names, found))
        code: Code = "unknown-bed" if draft.bed else "bed-missing"
        source = draft.source_record.at("bed")
        self.report.add(code, Severity.ERROR, message, source=source, order_ids=draft.order_ids)
        draft.fault = SetAside(Reason.NO_BED, message)
        return None

    def _beds_listed(self, draft: PatientDraft) -> tuple[PlaceId, ...]:
        """Return the beds that a list can mean: of a ward that it states, and of no other, where it states one."""
        places = self.problem.places
        bed = self.reading.site_names.bed(draft.bed, places.values())
        wards = ("", place_key(draft.ward))
        found = find_beds(places.values(), f"{draft.ward} {bed}") if draft.ward else ()
        return found or tuple(
            b for b in find_beds(places.values(), bed) if not draft.ward or place_key(places[b].ward) in wards
        )

    def _compare(self, draft: PatientDraft, patient: Patient, before: Patient) -> None:
        """Find out whether the list means the patient whom the round has under the number, and in the same bed."""
        born, born_before = patient.birth_date, before.birth_date
        names, names_before = _names(patient), _names(before)
        differing = ["birth_date"] * bool(born and born_before and not agree(born, born_before))
        differing += ["family_name"] * bool(names and names_before and not names & names_before)
        if differing:
            what = " and ".join(name.replace("_", " ") for name in differing)
            message = f"{what} of this patient number are not those of the round; find out whom the order is for"
            source = draft.source_record.at(differing[0])
            self.report.add("identity-conflict", Severity.ERROR, message, source=source, order_ids=draft.order_ids)
            draft.fault = SetAside(Reason.IDENTITY_CONFLICT, message)
        elif draft.bed:
            found = self._beds_listed(draft)
            if before.bed in found or set(found) & self._beds_before(draft.id):
                return  # the same bed, or the list is older than the patient's move
            now = self.problem.place_name(before.bed)
            listed = self.problem.place_names.of_bed(draft.ward, draft.bed)
            message = (
                f"the list has the patient in bed {listed!r}, the round in {now}, where the draw is planned. If the "
                f"patient was moved, say --moved {now}={listed}"
            )
            source = draft.source_record.at("bed")
            self.report.add("bed-differs", Severity.ERROR, message, source=source, order_ids=draft.order_ids)

    def _beds_before(self, patient_id: PatientId) -> set[PlaceId]:
        """Return the beds from which a patient was moved during the round."""
        log = self.problem.replan.log if self.problem.replan else ()
        moves = [event.what for event in log if isinstance(event.what, PatientMoved)]
        return {move.bed for move in moves if move.patient_id == patient_id}

    def _named_by_row(self, built: Mapping[OrderId, Order]) -> dict[OrderId, Order]:
        """Return the orders without a number under names that no other order of the round has, by their draft's id."""
        before = {o.id: o for o in self.problem.orders}
        tried = (Reason.REFUSED, Reason.NOT_IDENTIFIED, Reason.PARTLY_DRAWN)
        aside = [u for u in self.problem.set_aside if u.reason in tried]
        named: dict[OrderId, Order] = {}
        for draft in self.drafts:
            if order := built.get(draft.id):
                same = {i for i, o in before.items() if order.asks_the_same(o)}
                same |= {u.order_id for u in aside if (u.patient_id, u.test) == (order.patient_id, order.test)}
                named[draft.id] = replace(order, id=self._name(draft, same))
        return named

    def _name(self, draft: OrderDraft, same: Set[OrderId]) -> OrderId:
        """Return the order's number, else a name by its row.

        The same row of the same file given again is the same order; another order in that row is a new one.
        """
        if draft.record.text("order_number"):
            return draft.id
        taken = {*(o.id for o in self.problem.orders), *(u.order_id for u in self.problem.set_aside)} - same
        stem, number = f"{draft.record.source.file} {draft.id}", 2
        name = stem
        while name in taken:
            name, number = f"{stem} ({number})", number + 1
        return OrderId(name)

    def _unplanned(self, draft: OrderDraft, people: Mapping[str, PatientDraft]) -> Unplanned:
        reason, detail = draft.fault or SetAside(Reason.UNREADABLE, "")
        number = draft.record.text("patient_number")
        known = self.problem.patients.get(PatientId(number))
        given = draft.record.text("ward"), draft.record.text("bed")
        if number in people:
            given = people[number].ward, people[number].bed
        patient_id = PatientId(number) if number else None
        alike = (reason, detail, patient_id, draft.test_text)
        same = {u.order_id for u in self.problem.set_aside if (u.reason, u.detail, u.patient_id, u.test) == alike}
        return Unplanned(
            order_id=self._name(draft, same),
            reason=reason,
            detail=detail,
            patient_id=patient_id,
            bed=known.bed if known else self.problem.place_names.of_bed(*given),
            test=draft.test_text,
            source=draft.record.source,
            priority=stated_priority(draft.record),
            note=draft.record.text("note"),
            person=people[number].person if number in people and not known else None,
        )


def _names(patient: Patient) -> frozenset[str]:
    return frozenset(re.findall(r"\w+", f"{patient.family_name} {patient.given_name}".casefold()))
