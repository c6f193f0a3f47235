"""Records to a `Problem`: every finding of a round in one run, and every order either planned for or set aside."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from planner.domain.beds import PlaceNames
from planner.domain.catalogue import Catalogue
from planner.domain.methods import method_of
from planner.domain.orders import Method, Order, OrderId, Patient, PatientId
from planner.domain.places import Place, PlaceId
from planner.domain.plan import Reason, SetAside, Unplanned
from planner.domain.policy import EVERYBODY
from planner.domain.problem import Problem
from planner.findings import Report, Severity, Source
from planner.loaders.build.beds import find_beds, name_wards, report_bed_conflicts, settle_wards, spelled_beds
from planner.loaders.build.chilled import report_chilled
from planner.loaders.build.earlier_draws import earlier_draws
from planner.loaders.build.frame import read_frame
from planner.loaders.build.identities import report_missing_identifiers, report_same_identities, with_name_alerts
from planner.loaders.build.options import LoadOptions
from planner.loaders.build.order_rows import OrderDraft, read_order_rows
from planner.loaders.build.orders import build_order, is_live, stated_priority
from planner.loaders.build.patient_drafts import PatientDraft
from planner.loaders.build.patients import has_patient_fields, read_patient
from planner.loaders.build.precautions_asked import report_unknown_precautions
from planner.loaders.build.remarks import report_typed_orders
from planner.loaders.build.said import notes_of, with_what_is_said
from planner.loaders.catalogue.load import SiteRow, load_catalogue
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.catalogue.sign_off import read_confirmation
from planner.loaders.frame.assumed import place_sentence, target_sentences
from planner.loaders.frame.places import PlaceBook, assume_places, join_map, place_key, read_corridors, read_places
from planner.loaders.frame.round_frame import RoundFrame
from planner.loaders.frame.staff import (
    read_pickups,
    staff_of,
    with_known_wards,
)
from planner.loaders.names.known import SiteNames
from planner.loaders.names.settle import report_open, value_names
from planner.loaders.names.wards import with_wards_settled
from planner.loaders.policy.discard import with_possible_discard
from planner.loaders.policy.load import load_policy
from planner.loaders.policy.wards import with_ward_names
from planner.loaders.tables.records import RawRound, Record
from planner.loaders.values.fields import Fields, Reading
from planner.walking import walking_times


def build_problem(raw: RawRound, options: LoadOptions, report: Report) -> tuple[Problem | None, int]:
    """Return the problem and the number of orders read; None when there is no order at all."""
    policy, findings = load_policy(raw.policy_text or "", "policy.toml")
    report.extend(findings)
    catalogue, findings = load_catalogue(site_rows(raw, "tests"), site_rows(raw, "tubes"))
    report.extend(findings)
    policy = with_possible_discard(policy, catalogue, report)
    site_names = settled_names(raw, catalogue, report)
    tests = TestLookup(catalogue, site_names)
    assumptions: list[str] = []
    if options.adults_only:
        policy = replace(policy, blood=replace(policy.blood, adult_wards=(EVERYBODY,)))
        assumptions.append("patients without a birth date are treated as adults, because the command says adults only")
    frame, columns = read_frame(raw, policy, tests, options, report)
    site_names = with_wards_settled(raw, site_names, report)
    drafts = read_order_rows(raw.of("orders"), tests, report)
    report_typed_orders(raw, tests, report)
    if not drafts:
        return None, 0
    reading = frame.reading(report, columns, site_names)
    build = _Build(raw, options, frame, catalogue, reading, [*assumptions, *frame.assumptions])
    return build.problem(drafts, tests), len(drafts)


def site_rows(raw: RawRound, table: str) -> list[SiteRow]:
    """Return the rows of a site's table of tests or of tubes."""
    return [SiteRow(cells=dict(record.values), source=record.source) for record in raw.records(table)]


def settled_names(raw: RawRound, catalogue: Catalogue, report: Report) -> SiteNames:
    """Return the site's names that a person confirmed; what of them cannot be used is reported."""
    report_open(raw.name_rows, report)
    if not raw.name_rows:
        return raw.column_names
    return SiteNames((*raw.column_names.all, *value_names(raw.name_rows, TestLookup(catalogue), report)))


def _patient_number(draft: OrderDraft) -> str:
    """Return the patient number that an order states; a row of totals has none, whatever stands in the column."""
    return "" if draft.fault and draft.fault.reason is Reason.TOTALS_ROW else draft.record.text("patient_number")


class _Build:
    """One round being put together, step by step; every step may set orders aside."""

    def __init__(
        self,
        raw: RawRound,
        options: LoadOptions,
        frame: RoundFrame,
        catalogue: Catalogue,
        reading: Reading,
        assumptions: list[str],
    ) -> None:
        self.raw = raw
        self.options = options
        self.frame = frame
        self.policy = frame.policy
        self.catalogue = catalogue
        self.reading = reading
        self.report = reading.report
        self.assumptions = assumptions

    def problem(self, drafts: Sequence[OrderDraft], tests: TestLookup) -> Problem:
        """Return the problem of the round."""
        orders = {d.id: o for d in drafts if (o := build_order(d, tests, self.catalogue, self.reading))}
        self.reading.report_gathered()
        people = self._patient_drafts(drafts)
        patients = {d.id: read_patient(d, self.reading, self._live(d)) for d in people.values()}
        wanted = frozenset(o.patient_id for o in orders.values())
        book = self._places(people, wanted)
        find_beds(people, book, wanted, self.report)
        report_bed_conflicts(people, book, wanted, self.report)
        name_wards(people, book)
        self._settle_patients(drafts, orders, people, patients)
        staff, sentences = staff_of(self.frame.shifts, book, self.reading, self.policy, self.options.num_phlebotomists)
        self.assumptions += sentences
        pickups, sentences = read_pickups(self.raw, book, self.reading, self.policy)
        self.assumptions += sentences
        beds = {p.place for p in people.values() if p.place and p.fault is None}
        stops = beds | {p.starts_at for p in staff} | {p.place for p in pickups}
        walking, unreachable = walking_times(book.places, book.corridors, self.policy.walking, stops)
        self._report_unreachable(people, book, unreachable, drafts, orders)
        lost = frozenset(unreachable)
        staff = tuple(p for p in staff if p.starts_at not in lost) or staff
        pickups = tuple(p for p in pickups if p.place not in lost) or pickups
        if lost & {p.starts_at for p in staff} or lost & {p.place for p in pickups}:
            for draft in drafts:
                draft.set_aside(Reason.UNREACHABLE, "no way on the map joins people, beds and pickups; add corridors")
        usable = self._placed_patients(people, patients, book)
        planned = self._planned(drafts, orders, usable)
        wards = {p.ward for p in usable.values()} | {place.ward for place in book.places.values()}
        names = self.reading.site_names
        staff = with_known_wards(staff, self.frame.shifts, wards, names, self.report)
        self.policy = with_ward_names(self.policy, (p.ward for p in usable.values()), names, self.report)
        name = PlaceNames(book.places.values())
        rows = {draft.id: draft.source_record for draft in people.values()}
        usable = with_name_alerts(usable, name, rows, self.report)
        report_missing_identifiers(usable, planned, name, rows, self.report)
        report_same_identities(usable, planned, name, rows, self.report)
        report_chilled(usable, planned, name, self.report)
        report_unknown_precautions(people.values(), usable, planned, name, self.report)
        self.assumptions += target_sentences(
            self.policy, self.raw.policy_text, self.reading.clock, planned, usable, self.catalogue
        )
        return Problem(
            round_name=self.options.round_name or self.raw.name,
            clock=self.reading.clock,
            catalogue=self.catalogue,
            patients=usable,
            orders=tuple(planned),
            places=book.places,
            corridors=book.corridors,
            walking=walking,
            staff=staff,
            pickups=pickups,
            policy=self.policy,
            site_names=self.reading.site_names.all,
            confirmation=read_confirmation(self.raw.sign_off_text, self.catalogue, self.report),
            set_aside=tuple(self._unplanned(d, people, patients, name) for d in drafts if d.fault),
            assumptions=tuple(self.assumptions),
            earlier_draws=earlier_draws(
                drafts,
                tests,
                self.catalogue,
                self.reading,
                {(o.patient_id, o.series) for o in planned if o.series is not None},
            ),
        )

    def _planned(
        self, drafts: Sequence[OrderDraft], orders: Mapping[OrderId, Order], patients: Mapping[PatientId, Patient]
    ) -> list[Order]:
        """Return the orders that are not set aside, in the order of their numbers, with what texts state of them."""
        kept = sorted((orders[d.id] for d in drafts if d.fault is None), key=lambda o: o.id)
        clock = self.reading.clock
        return list(with_what_is_said(kept, patients, notes_of(drafts), self.catalogue, clock, self.reading.start_s))

    def _patient_drafts(self, drafts: Iterable[OrderDraft]) -> dict[str, PatientDraft]:
        """Return the patients by number, with all rows that tell of them."""
        found: dict[str, PatientDraft] = {}
        for record in self.raw.records("patients"):
            fields = Fields(record, self.reading)
            number = fields.identifier("patient_number")
            if not number and not fields.faults:
                fields.fault("patient-missing", "patient_number", "the row has no patient number; write it")
            fields.whole_row()
            if not fields.faults:
                draft = found.setdefault(number, PatientDraft(PatientId(number), [], is_listed=True))
                draft.records.append(record)
        seen: set[int] = set()
        for order in drafts:
            number = _patient_number(order)
            if not number or not order.record.flags.keys().isdisjoint(("patient_number", "*")):
                continue
            if has_patient_fields(order.record) and id(order.record) not in seen:
                seen.add(id(order.record))
                found.setdefault(number, PatientDraft(PatientId(number), [])).records.append(order.record)
            if number in found:
                found[number].order_ids.append(order.id)
                found[number].order_records.append(order.record)
        return found

    def _live(self, draft: PatientDraft) -> list[Record]:
        return [r for r in draft.records if is_live(Fields(r, self.reading))]

    def _places(self, people: Mapping[str, PatientDraft], wanted: frozenset[PatientId]) -> PlaceBook:
        """Return the places of the table, else those assumed from the patients' beds, once every ward is settled."""
        book = read_places(self.raw, self.reading)
        settle_wards(people, book.places.values() if book else (), wanted, self.reading)
        if book:
            book.corridors = read_corridors(self.raw, book, self.reading)
            book.corridors, sentences = join_map(book, self.policy.walking)
            self.assumptions += sentences
            return book
        if self.raw.of("places"):
            message = "no row of the place table can be used; beds are taken in natural order along one corridor"
            self.report.add("place-unreadable", Severity.ERROR, message, source=self.raw.of("places")[0].source)
        self.assumptions.append(place_sentence(self.policy))
        wards = {place_key(p.bed): p.ward for p in people.values() if p.bed and p.ward}
        for draft in people.values():
            if not draft.lacks_ward:
                draft.ward = draft.ward or wards.get(place_key(draft.bed), "")
        return assume_places(spelled_beds(people))

    def _settle_patients(
        self,
        drafts: Iterable[OrderDraft],
        orders: Mapping[OrderId, Order],
        people: Mapping[str, PatientDraft],
        patients: Mapping[PatientId, Patient],
    ) -> None:
        """Set aside the orders whose patient is not known, cannot be drawn from, or is drawn by the ward.

        An identity conflict goes before every other reason: whoever settles it must see all orders of the number.
        """
        for draft in drafts:
            known = people.get(_patient_number(draft))
            if known and known.fault and known.fault.reason is Reason.IDENTITY_CONFLICT:
                also = f". Also: {draft.fault.detail}" if draft.fault else ""
                draft.fault = SetAside(Reason.IDENTITY_CONFLICT, f"{known.fault.detail}{also}")
            if draft.fault:
                continue
            patient = people.get(orders[draft.id].patient_id)
            if patient is None:
                message = "the order's patient number is in no row with a bed; " + self._hint(draft, people)
                source = draft.record.at("patient_number")
                self.report.add("unknown-patient", Severity.ERROR, message, source=source, order_ids=[draft.id])
                draft.set_aside(Reason.UNKNOWN_PATIENT, message)
            elif patient.fault:
                draft.set_aside(*patient.fault)
            elif method_of(patients[patient.id], self.reading.clock.day, self.policy.blood) is Method.WARD:
                draft.set_aside(Reason.DRAWN_BY_OTHERS, "the ward's own staff draw this patient")

    def _hint(self, draft: OrderDraft, people: Mapping[str, PatientDraft]) -> str:
        number = draft.record.text("patient_number").lstrip("0")
        if any(other.lstrip("0") == number for other in people):
            return "a number differs from it only by leading zeros, which a spreadsheet drops. Correct one of them"
        return "add the patient to the patient table"

    def _row_of(self, place: Place) -> Source | None:
        """Return the row of the place table in which a place stands; None where it is assumed."""
        label = place_key(place.label or place.id)
        return next((r.at("place") for r in self.raw.records("places") if place_key(r.text("place")) == label), None)

    def _report_unreachable(
        self,
        people: Mapping[str, PatientDraft],
        book: PlaceBook,
        unreachable: Iterable[PlaceId],
        drafts: Iterable[OrderDraft],
        orders: Mapping[OrderId, Order],
    ) -> None:
        lost = set(unreachable)
        beds = {p.place for p in people.values()}
        name = PlaceNames(book.places.values())
        for place in sorted(lost):
            ids = [i for p in people.values() if p.place == place and p.fault is None for i in p.order_ids]
            message = f"no way on the map leads to {name(place)} and back; add a corridor"
            severity = Severity.ERROR if ids or place not in beds else Severity.WARNING
            row = next((p.source_record.at("bed") for p in people.values() if p.place == place), None)
            self.report.add(
                "unreachable", severity, message, source=row or self._row_of(book.places[place]), order_ids=ids
            )
        for draft in drafts:
            if draft.fault is None and people[orders[draft.id].patient_id].place in lost:
                draft.set_aside(Reason.UNREACHABLE, "no way on the map leads to the bed and back; add a corridor")

    def _placed_patients(
        self, people: Mapping[str, PatientDraft], patients: Mapping[PatientId, Patient], book: PlaceBook
    ) -> dict[PatientId, Patient]:
        """Return the patients whom somebody can be sent to, in the order of their numbers."""
        return {
            draft.id: replace(patients[draft.id], bed=draft.place, ward=draft.ward or book.places[draft.place].ward)
            for draft in sorted(people.values(), key=lambda d: d.id)
            if draft.is_placed and draft.place
        }

    def _unplanned(
        self,
        draft: OrderDraft,
        people: Mapping[str, PatientDraft],
        patients: Mapping[PatientId, Patient],
        name: PlaceNames,
    ) -> Unplanned:
        reason, detail = draft.fault or SetAside(Reason.UNREADABLE, "")
        number = _patient_number(draft)
        patient = people.get(number)
        written = (patient.ward, patient.bed) if patient else (draft.record.text("ward"), draft.record.text("bed"))
        return Unplanned(
            order_id=draft.id,
            reason=reason,
            detail=detail,
            patient_id=PatientId(number) if number else None,
            bed=(patient.place if patient else None) or name.of_bed(*written),
            test=draft.test_text,
            source=draft.record.source,
            priority=stated_priority(draft.record),
            note=draft.record.text("note"),
            alerts=(*patients[patient.id].alerts, *patients[patient.id].unmapped) if patient else (),
            person=patient.person if patient and not patient.is_placed else None,
        )
