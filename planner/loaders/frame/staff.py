"""People and pickups: from the tables, or the defaults of the policy, each said in a sentence."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import time

from planner.domain.beds import PlaceNames
from planner.domain.orders import TimeWindow
from planner.domain.places import Pickup, PickupKind, Place, PlaceId, PlaceKind
from planner.domain.policy import Policy
from planner.domain.staff import Phlebotomist
from planner.findings import Report, Severity, Source
from planner.loaders.frame.assumed import minutes
from planner.loaders.frame.places import PlaceBook, place_key
from planner.loaders.names.known import SiteNames
from planner.loaders.tables.records import RawRound, Record
from planner.loaders.values.fields import Fields, Reading, word
from planner.loaders.values.words import PICKUP_KINDS
from planner.units import RoundClock, minutes_to_s

_LONGEST_TRANSIT_MIN = 24 * 60
_MINUTES = {"min": 1.0, "minutes": 1.0, "mins": 1.0, "minuten": 1.0, "h": 60.0, "hours": 60.0}
_EVERY = re.compile(
    r"^(?:every|alle|toutes les)\s+(\d{1,3})\s*(?:min\w*|')?\s*(?:from\s+(\S+))?\s*(?:(?:to|until)\s+(\S+))?$"
)
_MINUTES_IN = re.compile(r"(\d{1,3})\s*min\w*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Shift:
    """A row of the staff table with its times; the place where she starts is looked up later."""

    record: Record
    name: str
    initials: str
    from_s: int
    until_s: int
    skills: frozenset[str]
    break_window: TimeWindow | None
    break_s: int
    wards: tuple[str, ...] = ()
    prefers: tuple[str, ...] = ()
    """Wards are as they are written; `with_known_wards` finds out which are meant."""


def assumed_span(policy: Policy, start: time | None, clock: RoundClock) -> tuple[int, int]:
    """Return when an assumed round begins and ends, in elapsed seconds: as the policy says, or from ``start``."""
    begin, end = policy.round.start_at_s, policy.round.end_at_s
    if start is None:
        return begin, end
    start_s = clock.clock_to_s(start)
    return start_s, end if end > start_s else start_s + (end - begin)


def read_shifts(raw: RawRound, reading: Reading, start: time | None) -> list[Shift]:
    """Return the usable rows of the staff table; shifts over midnight end on the next day."""
    shifts: list[Shift] = []
    for record in raw.records("staff"):
        shift = _shift(Fields(record, reading), len(shifts) + 1, {s.initials for s in shifts}, start, reading)
        if shift:
            shifts.append(shift)
    return shifts


def report_unused_options(
    shifts: Sequence[Shift], start: time | None, count: int | None, reading: Reading, where: Source
) -> None:
    """Say that the staff table overrules an option of the command, where the two differ."""
    if count is not None and count != len(shifts):
        people = "1 person" if len(shifts) == 1 else f"{len(shifts)} people"
        message = f"--phlebotomists {count} was not used: the staff table has {people}. Change the table"
        reading.report.add("option-not-used", Severity.WARNING, message, source=where)
    if start is not None and all(s.from_s > _asked_start(start, s.from_s, s.until_s, reading) for s in shifts):
        first_s = min(s.from_s for s in shifts)
        message = (
            f"--start {start:%H:%M} was not used: the first shift of the staff table begins at "
            f"{reading.clock.format_clock(first_s)}. Change the table"
        )
        reading.report.add("option-not-used", Severity.WARNING, message, source=where)


def _shift(fields: Fields, number: int, taken: set[str], start: time | None, reading: Reading) -> Shift | None:
    from_s, until_s = fields.clock("from"), fields.clock("until")
    for name, value in (("from", from_s), ("until", until_s)):
        if value is None and not fields.record.text(name) and not fields.record.flags.get(name):
            fields.fault("staff-unreadable", name, "the shift has no such time; write HH:MM. The row is not used")
    skills = frozenset(word(part) for part in fields.parts("skills", ";,"))
    if from_s is None or until_s is None or fields.faults:
        return None
    if until_s <= from_s:
        until_s = reading.clock.day_after(until_s)
        message = "the shift ends before it begins; it was taken to end on the next day"
        fields.add("shift-over-midnight", Severity.WARNING, "until", message)
    window, break_s = _break(fields, from_s, until_s)
    if fields.faults:
        return None
    if start is not None:
        from_s = max(from_s, _asked_start(start, from_s, until_s, reading))
        if from_s >= until_s:
            message = "the shift ends before the start of the round that was asked for; the person is left out"
            fields.add("staff-left-out", Severity.WARNING, "until", message)
            return None
    name = fields.text("name") or f"Phlebotomist {number}"
    initials = fields.text("initials") or "".join(part[0] for part in name.split()).upper()
    while initials in taken:
        initials = f"{initials.rstrip('0123456789')}{number}"
        number += 1
    wards, prefers = (tuple(fields.parts(column)) for column in ("wards", "prefers"))
    return Shift(fields.record, name, initials, from_s, until_s, skills, window, break_s, wards, prefers)


def _asked_start(start: time, from_s: int, until_s: int, reading: Reading) -> int:
    """Return when work is to begin; a time after midnight that a shift over midnight holds is on the second day."""
    asked_s = reading.clock.clock_to_s(start)
    next_s = reading.clock.day_after(asked_s)
    return next_s if asked_s < from_s and next_s < until_s else asked_s


def _break(row: Fields, from_s: int, until_s: int) -> tuple[TimeWindow | None, int]:
    """Return the window and length of a break written as '07:00-08:00 15 min'; no length: it fills the window.

    A break that does not lie within the shift is an error and not taken.
    """
    text = row.text("break")
    if not text:
        return None, 0
    fields = Fields(row.record, replace(row.reading, start_s=from_s, end_s=until_s))
    minutes = _MINUTES_IN.search(text)
    span = fields.span("break", _MINUTES_IN.sub("", text).strip(" ,;()"))
    stated = fields.number("break_minutes", 1, 240, "min", _MINUTES)
    row.faults += fields.faults
    if span is None:
        return None, 0
    if not from_s <= span.earliest_s <= span.latest_s <= until_s:
        begin, end = (row.reading.clock.format_clock(s) for s in (from_s, until_s))
        message = f"the break {text!r} does not lie within the shift from {begin} to {end}; it is not planned"
        row.add("break-outside-shift", Severity.ERROR, "break", message)
        return None, 0
    longest = span.latest_s - span.earliest_s
    length = minutes_to_s(float(minutes[1])) if minutes else minutes_to_s(stated) if stated else longest
    return span, min(length, longest)


def staff_of(
    shifts: Sequence[Shift], book: PlaceBook, reading: Reading, policy: Policy, count: int | None
) -> tuple[tuple[Phlebotomist, ...], list[str]]:
    """Return the people of the round, with the assumptions that stand in for a missing table."""
    base = book.base()
    if shifts:
        return tuple(_person(shift, book, base, reading) for shift in shifts), []
    number = count or policy.round.phlebotomists
    people = tuple(
        Phlebotomist(
            name=f"Phlebotomist {n}", initials=f"P{n}", from_s=reading.start_s, until_s=reading.end_s, starts_at=base
        )
        for n in range(1, number + 1)
    )
    begin, end = (reading.clock.format_clock(s) for s in (reading.start_s, reading.end_s))
    who = "One phlebotomist works" if number == 1 else f"{number} phlebotomists work"
    return people, [f"No staff table: {who} from {begin} to {end}, starting at {book.places[base].label or base}."]


def _person(shift: Shift, book: PlaceBook, base: PlaceId, reading: Reading) -> Phlebotomist:
    starts_at = base
    if text := shift.record.text("starts_at"):
        found = book.find(text)
        if len(found) == 1:
            starts_at = found[0]
        elif place_is_base_word(text) and not book.is_given:
            starts_at = base
        else:
            message = f"place {text!r} is not known; this person starts at {base}. Write a place of the place table"
            reading.report.add("unknown-place", Severity.ERROR, message, source=shift.record.at("starts_at"))
    return Phlebotomist(
        name=shift.name,
        initials=shift.initials,
        from_s=shift.from_s,
        until_s=shift.until_s,
        starts_at=starts_at,
        skills=shift.skills,
        break_window=shift.break_window,
        break_s=shift.break_s,
        wards=frozenset(shift.wards),
        prefers=frozenset(shift.prefers),
    )


def with_known_wards(
    staff: Iterable[Phlebotomist], shifts: Iterable[Shift], wards: Iterable[str], names: SiteNames, report: Report
) -> tuple[Phlebotomist, ...]:
    """Return the people with their wards as patients and places spell them; case and blanks do not count.

    A ward that neither they nor the site's ``names`` know is an error and stays: whoever is bound to wards is never
    sent elsewhere in silence. One that is only preferred is a warning, and the wish for it is dropped.
    """
    spelled = {place_key(ward): ward for ward in wards if ward}
    shift_of = {shift.initials: shift for shift in shifts}

    def ward_of(text: str) -> str | None:
        return spelled.get(place_key(text)) or names.ward(text)

    return tuple(_in_wards(person, shift_of.get(person.initials), ward_of, spelled, report) for person in staff)


def wards_written(text: str, is_ward: Callable[[str], bool]) -> list[str]:
    """Return the wards of what stands between two ';' of a cell: where it is no ward, ',' parts them too."""
    return [text] if is_ward(text) else [part.strip() for part in text.split(",") if part.strip()]


def _in_wards(
    person: Phlebotomist,
    shift: Shift | None,
    ward_of: Callable[[str], str | None],
    spelled: Mapping[str, str],
    report: Report,
) -> Phlebotomist:
    if shift is None:
        return person
    wards, unknown = _known_wards(shift.wards, ward_of)
    liked, strange = _known_wards(shift.prefers, ward_of)
    for column, part, severity, what in (
        *(("wards", part, Severity.ERROR, "nobody is sent there") for part in unknown),
        *(("prefers", part, Severity.WARNING, "this wish counts for nothing") for part in strange),
    ):
        message = (
            f"column {column} of {person.initials} names {part!r}, which no patient and no place is in; {what}. "
            f"Known: {'; '.join(sorted(spelled.values())) or 'none'}"
        )
        report.add("staff-ward-unknown", severity, message, source=shift.record.at(column))
    return replace(person, wards=frozenset((*wards, *unknown)), prefers=frozenset(liked))


def _known_wards(texts: Iterable[str], ward_of: Callable[[str], str | None]) -> tuple[list[str], list[str]]:
    """Return the wards that texts name, as they are spelled elsewhere, and the parts that name none."""
    parts = [part for text in texts for part in wards_written(text, lambda text: ward_of(text) is not None)]
    known = {part: ward for part in parts if (ward := ward_of(part)) is not None}
    return list(known.values()), [part for part in parts if part not in known]


def place_is_base_word(text: str) -> bool:
    """Return whether a text means the assumed base."""
    return word(text) in ("base", "office", "lab", "laboratory")


def read_pickups(
    raw: RawRound, book: PlaceBook, reading: Reading, policy: Policy
) -> tuple[tuple[Pickup, ...], list[str]]:
    """Return where specimens leave the ward, and what is assumed: carried without a usable pickup, a time not given."""
    pickups = [p for record in raw.records("pickups") if (p := _pickup(Fields(record, reading), book, reading))]
    if pickups:
        return _with_transits(pickups, book, policy.walking.laboratory_walk_s)
    if laboratories := book.of_kind(PlaceKind.LABORATORY):
        place = laboratories[0]
        sentence = f"No pickups: specimens are carried to {book.places[place].label or place}."
        return (Pickup(place=place, kind=PickupKind.CARRIED),), [sentence]
    place, walk_s = book.base(), policy.walking.laboratory_walk_s
    sentence = (
        f"No pickups and no laboratory on the map: specimens are carried to {place}, and from there "
        f"{minutes(walk_s)} to the laboratory."
    )
    return (Pickup(place=place, kind=PickupKind.CARRIED, transit_s=walk_s),), [sentence]


def _with_transits(
    rows: list[tuple[Pickup, bool]], book: PlaceBook, assumed_s: int
) -> tuple[tuple[Pickup, ...], list[str]]:
    """Return one pickup for each place and kind, and a sentence where no row says how long it takes from there.

    Departures count together, the longer of two times for safety. Only what a person carries may have none: its place
    can be the laboratory.
    """
    merged: dict[tuple[PlaceId, PickupKind], list[tuple[Pickup, bool]]] = {}
    for row in rows:
        merged.setdefault((row[0].place, row[0].kind), []).append(row)
    pickups, sentences = [], []
    name = PlaceNames(book.places.values())
    for (place, kind), same in merged.items():
        transit_s = max(pickup.transit_s for pickup, _ in same)
        if kind is not PickupKind.CARRIED and not any(is_given for _, is_given in same):
            transit_s = assumed_s
            sentences.append(
                f"How long from {name(place)} to the laboratory is not given; counted: {minutes(assumed_s)}."
            )
        departures_s = sorted({at_s for pickup, _ in same for at_s in pickup.departures_s})
        pickups.append(Pickup(place=place, kind=kind, departures_s=tuple(departures_s), transit_s=transit_s))
    return tuple(pickups), sentences


def _pickup(fields: Fields, book: PlaceBook, reading: Reading) -> tuple[Pickup, bool] | None:
    """Return the pickup of a row, and whether the row says how long it takes from there."""
    kind = PICKUP_KINDS.get(word(fields.text("kind")))
    if kind is None:
        known = ", ".join(k.value for k in PickupKind)
        fields.fault("unknown-kind", "kind", f"{fields.text('kind')!r} is not a kind of pickup; known: {known}")
        return None
    transit = fields.number("transit_minutes", 0, _LONGEST_TRANSIT_MIN, "min", _MINUTES)
    if transit is None and fields.record.text("transit_minutes"):
        fields.fault("pickup-unreadable", "transit_minutes", "the time to the laboratory is not known; row not used")
    departs = _departures(fields, reading) if kind is PickupKind.COURIER else ()
    if kind is not PickupKind.COURIER and fields.text("departs"):
        message = f"{kind.value} waits for no time, so these are not used; write courier if somebody fetches it then"
        fields.add("pickup-unreadable", Severity.WARNING, "departs", message)
    place = _pickup_place(fields, kind, book)
    if place is None or fields.faults or (kind is PickupKind.COURIER and not departs):
        return None
    pickup = Pickup(place=place, kind=kind, departures_s=departs, transit_s=minutes_to_s(transit or 0))
    return pickup, transit is not None


def _pickup_place(fields: Fields, kind: PickupKind, book: PlaceBook) -> PlaceId | None:
    text = fields.text("place")
    found = book.find(text) if text else []
    if len(found) == 1:
        return found[0]
    if book.is_given or not text:
        why = "stands in several wards" if found else "is not in the place table"
        fields.fault("unknown-place", "place", f"place {text!r} {why}; the pickup is not used")
        return None
    kinds = {
        PickupKind.COURIER: PlaceKind.PICKUP,
        PickupKind.TUBE: PlaceKind.TUBE_STATION,
        PickupKind.CARRIED: PlaceKind.LABORATORY,
    }
    book.add(Place(id=PlaceId(text), ward="", kind=kinds[kind], label=text))
    return PlaceId(text)


def _departures(fields: Fields, reading: Reading) -> tuple[int, ...]:
    """Return the departures within reach of the round, ascending; earlier ones are a warning."""
    text = word(fields.text("departs"))
    match = _EVERY.match(text)
    if match:
        begin = fields.clock("departs", match[2]) if match[2] else reading.start_s
        end = fields.clock("departs", match[3]) if match[3] else reading.end_s
        step = minutes_to_s(float(match[1]))
        if step == 0 or begin is None or end is None:
            fields.fault("pickup-unreadable", "departs", f"{text!r} is not a timetable; write 'every 30 min'")
            return ()
        times = list(range(begin, end + 1, step))
    else:
        times = [s for part in fields.parts("departs", ";,") if (s := fields.clock("departs", part)) is not None]
    if reading.is_overnight:
        times = [reading.clock.day_after(s) if s < reading.start_s else s for s in times]
    if not times and not fields.faults:
        fields.fault("pickup-unreadable", "departs", "a courier without departures; write times or 'every 30 min'")
    early = [s for s in times if s < reading.start_s]
    if early:
        shown = ", ".join(reading.clock.format_clock(s) for s in sorted(early))
        start = reading.clock.format_clock(reading.start_s)
        message = f"the courier at {shown} leaves before the round begins at {start} and takes nothing; check the times"
        fields.add("courier-before-round", Severity.WARNING, "departs", message)
    return tuple(sorted({s for s in times if s >= reading.start_s}))
