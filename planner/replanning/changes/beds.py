"""Changes of where patients are: away for a while, moved to another bed, gone."""

from __future__ import annotations

from collections.abc import Sequence

from planner.domain.beds import find_beds, ward_and_bed, with_ward
from planner.domain.orders import Patient, PatientId, TimeWindow
from planner.domain.places import PlaceId, PlaceKind
from planner.domain.plan import Reason
from planner.domain.revisions.changes import Away, Gone, Moved, NewBed
from planner.domain.revisions.events import PatientAway, PatientGone, PatientMoved
from planner.replanning.changes.new_beds import bed_off_the_map, can_reach
from planner.replanning.changes.perform import do
from planner.replanning.changes.working import Working


def apply_new_bed(work: Working, change: NewBed) -> None:
    """Add a bed that the round does not have; its ward is needed where there are several."""
    if find_beds(work.places.values(), change.bed):
        if (bed := work.bed(change.bed)) is not None:
            work.say_known(f"bed {work.bed_words(bed)} is in this round")
        return
    beds = [p for p in work.places.values() if p.kind is PlaceKind.BED]
    wards = {p.ward for p in beds}
    text = with_ward(beds[0].ward, change.bed) if len(wards) == 1 else change.bed
    added = bed_off_the_map(work, text, beds[0].id) if len(wards) == 1 or ward_and_bed(wards, text) else None
    if added is None:
        work.error(
            "bed-not-found", f"bed {change.bed!r}: write the ward of a new bed and its number, such as 'Alder 15'"
        )
    else:
        do(work, added)


def apply_gone(work: Working, change: Gone) -> None:
    """Free the bed and set aside what is still to be drawn of its patient; blood that is drawn stays the patient's."""
    if was_gone := _gone(work, change.bed):
        work.say_known(f"the patient of bed {work.bed_words(was_gone.bed)} is gone")
        return
    patient = work.patient(change.bed)
    if patient is None:
        return
    open_orders = [o.id for o in work.orders.values() if o.patient_id == patient.id and o.id not in work.drawn]
    do(work, PatientGone(patient_id=patient.id, bed=patient.bed, order_ids=tuple(open_orders)))


def _gone(work: Working, text: str) -> PatientGone | None:
    """Return how the patient left whom a text means; None: they are there, or nobody is meant."""
    patient, beds = work.selected(text), find_beds(work.places.values(), text)
    if patient is not None and patient.gone_s is None:
        return None
    left = work.happened(PatientGone)
    return next((g for g in left if (patient and g.patient_id == patient.id) or (g.bed,) == beds), None)


def apply_moves(work: Working, changes: Sequence[Moved]) -> None:
    """Move patients to other beds, all at once: two may change places.

    A move to a bed in which somebody stays is refused, and with it every move that waits for the bed it would free.
    """
    moves: dict[PatientId, tuple[PlaceId, PlaceId]] = {}
    for change in changes:
        work.typed = change.typed
        if pair := _move(work, change):
            patient, to = pair
            if moves.get(patient.id, (patient.bed, to)) != (patient.bed, to):
                work.error(
                    "bed-occupied", f"bed {work.bed_words(patient.bed)} is moved to two beds; give the right one"
                )
                moves.pop(patient.id)
                continue
            moves[patient.id] = (patient.bed, to)
    while refused := _refused(work, moves):
        for patient_id in refused:
            bed, to = moves.pop(patient_id)
            message = (
                f"bed {work.bed_words(bed)} cannot be moved to {work.bed_words(to)}: another patient is there. Say "
                "where that one went (--moved or --gone), or correct the bed"
            )
            work.error("bed-occupied", message)
    for patient_id, (bed, to) in moves.items():
        do(work, PatientMoved(patient_id=patient_id, bed=bed, to=to))


def _move(work: Working, change: Moved) -> tuple[Patient, PlaceId] | None:
    """Return who moves where; None with a finding."""
    patient = work.selected(change.bed)
    bed = patient.bed if patient is not None and patient.gone_s is None else work.bed(change.bed)
    if bed is None:
        return None
    ward = work.places[bed].ward
    targets = find_beds(work.places.values(), change.to)
    if len(targets) > 1:  # a move stays on the ward unless another one is written
        targets = tuple(t for t in targets if work.places[t].ward == ward) or targets
    to = targets[0] if len(targets) == 1 else None
    if to is None:
        named = ward_and_bed({p.ward for p in work.places.values() if p.kind is PlaceKind.BED}, change.to)
        work.bed(change.to, unless_new=with_ward(*named) if named else with_ward(ward, change.to))
        return None
    if not work.patients_at(bed) and any((m.bed, m.to) == (bed, to) for m in work.happened(PatientMoved)):
        work.say_known(f"the patient of bed {work.bed_words(bed)} moved to {work.bed_words(to)}")
        return None
    if to == bed:
        work.error("bed-occupied", f"bed {work.bed_words(bed)} is moved to itself; correct one of the two")
        return None
    patient = work.patient(change.bed)
    return None if patient is None or not can_reach(work, to) else (patient, to)


def _refused(work: Working, moves: dict[PatientId, tuple[PlaceId, PlaceId]]) -> list[PatientId]:
    targets = [to for _, to in moves.values()]
    taken = {p.bed for p in work.patients.values() if p.gone_s is None and p.id not in moves} | _disputed(work)
    return [patient_id for patient_id, (_, to) in moves.items() if to in taken or targets.count(to) > 1]


def _disputed(work: Working) -> set[PlaceId]:
    """Return the beds of patients who are set aside because nobody knows who lies there."""
    unclear = (Reason.IDENTITY_CONFLICT, Reason.BED_CONFLICT)
    return {PlaceId(u.bed) for u in work.set_aside.values() if u.reason in unclear and u.bed}


def _away_until(patient: Patient, now_s: int, to_s: int) -> TimeWindow | None:
    """Return the absence under way of a patient that ends at a time; None: there is none."""
    return next((span for span in patient.away if span.earliest_s <= now_s and span.latest_s == to_s), None)


def apply_away(work: Working, change: Away) -> None:
    """Keep a span free of visits to a patient."""
    patient = work.patient(change.bed)
    if patient is None:
        return
    from_s = work.now_s if change.from_wall_s is None else work.near_now(change.from_wall_s)
    to_s = work.near_now(change.to_wall_s)
    if change.from_wall_s is None and (known := _away_until(patient, from_s, to_s)):
        from_s = known.earliest_s
    elif change.from_wall_s is None and to_s <= from_s:
        message = f"away until {work.words(to_s)}: that is over at {work.words(work.now_s)}; write both times"
        work.error("change-in-the-past", message)
        return
    to_s = to_s if to_s > from_s else work.clock.day_after(to_s)
    words = f"patient of bed {work.bed_words(patient.bed)} away {work.words(from_s)}-{work.words(to_s)}"
    span = TimeWindow(earliest_s=from_s, latest_s=to_s)
    if span in patient.away:
        work.say_known(words)
    elif to_s <= work.now_s:
        work.error("change-in-the-past", f"{words}: that is over at {work.words(work.now_s)}; nothing was changed")
    else:
        do(work, PatientAway(patient_id=patient.id, span=span, bed=patient.bed))
