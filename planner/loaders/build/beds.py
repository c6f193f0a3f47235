"""Which bed a patient is in: on the map, in one bed only, and alone in it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import replace

from planner.domain.beds import PlaceNames
from planner.domain.orders import PatientId
from planner.domain.places import Place, PlaceId, PlaceKind
from planner.domain.plan import Reason, SetAside
from planner.finding_codes import Code
from planner.findings import Report, Severity
from planner.loaders.build.patient_drafts import PatientDraft
from planner.loaders.frame.places import PlaceBook, place_key
from planner.loaders.tables.records import rows_of
from planner.loaders.values.fields import Reading


def spelled_beds(people: Mapping[str, PatientDraft]) -> list[tuple[str, str]]:
    """Return (ward, bed) of all patients; a bed spelled in two ways ('4 a', '4A') is one bed."""
    spelled: dict[tuple[str, str], tuple[str, str]] = {}
    for draft in people.values():
        if draft.bed and not draft.lacks_ward:
            spelled.setdefault((place_key(draft.ward), place_key(draft.bed)), (draft.ward, draft.bed))
    return list(spelled.values())


def settle_wards(
    people: Mapping[str, PatientDraft], places: Iterable[Place], wanted: Set[PatientId], reading: Reading
) -> None:
    """Ask for the ward of a patient who has none on a round of several wards; nobody inherits another's ward.

    A ward written before the bed ('Kite 3C', 'Kite/3C') is stated. A list on which no row has a ward leaves the look-up
    to the map.
    """
    stated = {place_key(draft.ward): draft.ward for draft in people.values() if draft.ward}
    wards = {place_key(p.ward): p.ward for p in places if p.kind is PlaceKind.BED and p.ward} | stated
    if not stated or len(wards) < 2:
        return
    for draft in people.values():
        if draft.ward or not draft.bed:
            continue
        if named := reading.site_names.split_bed(wards.values(), draft.bed):
            draft.ward, draft.bed = named
            continue
        draft.lacks_ward = True
        if draft.fault is None and draft.id in wanted:
            message = f"ward not given for bed {draft.bed!r}: which ward? ({', '.join(sorted(wards.values()))})"
            source = draft.source_record.at("bed")
            reading.report.add("ward-missing", Severity.ERROR, message, source=source, order_ids=draft.order_ids)
            draft.fault = SetAside(Reason.NO_BED, message)


def find_beds(people: Mapping[str, PatientDraft], book: PlaceBook, wanted: Set[PatientId], report: Report) -> None:
    """Set the place of every patient; one who is wanted and has none is a finding and a fault."""
    for draft in people.values():
        if draft.lacks_ward:
            continue
        found = book.find(draft.bed, draft.ward, PlaceKind.BED) if draft.bed else []
        if len(found) == 1:
            draft.place = found[0]
        elif draft.fault is None and draft.id in wanted:
            _report_no_bed(draft, book, found, report)


def _report_no_bed(draft: PatientDraft, book: PlaceBook, found: Sequence[PlaceId], report: Report) -> None:
    code: Code = "unknown-bed"
    if not draft.bed:
        code, message = "bed-missing", "no bed is given for the patient; write it"
    elif found:
        wards = ", ".join(book.places[p].ward for p in found)
        message = f"bed {draft.bed!r} stands in several wards ({wards}); write the ward too"
    else:
        where = f" of ward {draft.ward!r}" if draft.ward else ""
        message = f"bed {draft.bed!r}{where} is not in the place table; {book.nearest(draft.bed, draft.ward)}"
        if draft.ward and place_key(draft.ward) not in {place_key(p.ward) for p in book.places.values()}:
            message += ". The map has no such ward: if it calls the ward otherwise, confirm that once ('planner names')"
    source = draft.source_record.at("bed")
    report.add(code, Severity.ERROR, message, source=source, order_ids=draft.order_ids)
    draft.fault = SetAside(Reason.NO_BED, message)


def report_bed_conflicts(
    people: Mapping[str, PatientDraft], book: PlaceBook, wanted: Set[PatientId], report: Report
) -> None:
    """Two patients in one bed: nobody can tell who lies there, so both are set aside."""
    name = PlaceNames(book.places.values())
    by_bed: dict[PlaceId, list[PatientDraft]] = {}
    for draft in people.values():
        if draft.place and (draft.is_listed or draft.id in wanted):
            by_bed.setdefault(draft.place, []).append(draft)
    for bed, group in by_bed.items():
        if len(group) < 2:
            continue
        rows = rows_of([p.source_record for p in group])
        message = (
            f"{len(group)} patients are in bed {name(bed)} ({rows}); their orders are set aside. Find out who is "
            "there and correct the list"
        )
        ids = [order_id for p in group for order_id in p.order_ids]
        source = group[1].source_record.at("bed")
        report.add("bed-conflict", Severity.ERROR, message, source=source, order_ids=ids)
        for draft in group:
            draft.fault = draft.fault or SetAside(Reason.BED_CONFLICT, message)


def name_wards(people: Mapping[str, PatientDraft], book: PlaceBook) -> None:
    """Give beds that the map has without a ward the ward of the patients who lie there."""
    for draft in people.values():
        if draft.place and draft.ward and not book.places[draft.place].ward:
            book.places[draft.place] = replace(book.places[draft.place], ward=draft.ward)
