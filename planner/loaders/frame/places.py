"""Places, corridors and the look-up of beds: from the tables, or assumed from the patients' beds."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches

from planner.domain.beds import PlaceNames
from planner.domain.places import Corridor, Place, PlaceId, PlaceKind
from planner.domain.policy import WalkingPolicy
from planner.findings import Severity, Source
from planner.loaders.frame.floors import floor_key, lift_ways, stair_ways, ways_by_metres
from planner.loaders.names.known import SiteNames
from planner.loaders.tables.records import RawRound
from planner.loaders.values.fields import Fields, Reading, word
from planner.loaders.values.words import LIFTS, PLACE_KINDS, STAIRS
from planner.walking import BASE, LABORATORY, assumed_places

_METRES = {"m": 1.0, "metres": 1.0, "meters": 1.0}
_FARTHEST_M = 10_000
_FLOOR_SPAN = re.compile(r"^\s*(-?\d{1,2})\s*(?:-|–|to)\s*(-?\d{1,2})\s*$")


def place_key(text: str) -> str:
    """Return a place name as it is compared: without case and blanks."""
    return "".join(text.casefold().split())


@dataclass(slots=True)
class PlaceBook:
    """All places, and how to find one by its name. ``is_given`` is False when the places were assumed.

    A ward may go by one of the ``site_names``.
    """

    places: dict[PlaceId, Place] = field(default_factory=dict)
    corridors: tuple[Corridor, ...] = ()
    is_given: bool = False
    site_names: SiteNames = field(default_factory=SiteNames)
    lifts: tuple[tuple[Place, ...], ...] = ()
    """Of each lift the places at which it stops, from the lowest floor up."""
    stairs: tuple[tuple[Place, ...], ...] = ()
    _by_label: dict[str, list[PlaceId]] = field(default_factory=dict)
    _by_id: dict[str, PlaceId] = field(default_factory=dict)

    def add(self, place: Place) -> None:
        """Add a place under its id and its label, and under 'ward label' and 'ward/label' as people write it."""
        self.places[place.id] = place
        self._by_id[place_key(place.id)] = place.id
        label = place.label or place.id
        for name in {place_key(label), place_key(f"{place.ward} {label}"), place_key(f"{place.ward}/{label}")}:
            self._by_label.setdefault(name, []).append(place.id)

    def find(self, text: str, ward: str = "", kind: PlaceKind | None = None) -> list[PlaceId]:
        """Return the places (of a kind, if one is given) that a name, and a ward if one is given, can mean."""
        exact = self._by_id.get(place_key(f"{ward}/{text}" if ward else text))
        if exact and kind in (None, self.places[exact].kind):
            return [exact]
        found = [p for p in self._by_label.get(place_key(text), []) if kind in (None, self.places[p].kind)]
        if ward:
            key = place_key(ward)
            return [p for p in found if place_key(self.places[p].ward) in (key, "")]
        if found or (named := self.site_names.split_bed((), text)) is None:
            return found
        return self.find(named[1], named[0], kind)

    def nearest(self, text: str, ward: str = "") -> str:
        """Return a hint with the names of the beds most like a bed, and its ward if one is given."""
        name = PlaceNames(self.places.values())
        labels = [name(p.id) for p in self.places.values() if p.kind is PlaceKind.BED]
        close = get_close_matches(name.of_bed(ward, text), labels, n=3, cutoff=0.5)
        return f"nearest: {', '.join(close)}" if close else "see the place table"

    def of_kind(self, kind: PlaceKind) -> list[PlaceId]:
        """Return the places of one kind in the order of the table."""
        return [p.id for p in self.places.values() if p.kind is kind]

    def base(self) -> PlaceId:
        """Return where people start when nobody says otherwise: the first base, else what comes nearest to one."""
        for kind in (PlaceKind.BASE, PlaceKind.LABORATORY, PlaceKind.PICKUP, PlaceKind.TUBE_STATION):
            if found := self.of_kind(kind):
                return found[0]
        return next(iter(self.places))


def names_on_map(raw: RawRound) -> frozenset[str]:
    """Return the names of the place table as they are compared (`place_key`)."""
    return frozenset(place_key(record.text("place")) for record in raw.records("places") if record.text("place"))


def names_of_places(places: Iterable[Place]) -> frozenset[str]:
    """Return the names of a round's places as they are compared (`place_key`)."""
    return frozenset(place_key(place.label or place.id) for place in places)


def place_ids(named: Iterable[tuple[str, str]]) -> Mapping[tuple[str, str], PlaceId]:
    """Return ids by (ward, name): the name itself, or 'ward/name' for all as soon as a name stands in two wards.

    A bed written 'A/1' without a ward is bed 1 of ward A where there is one: both have one id.
    """
    pairs = list(dict.fromkeys(named))
    counts = Counter(place_key(name) for _, name in pairs)
    reserved = {place_key(BASE), place_key(LABORATORY)}
    must_qualify = any(count > 1 for count in counts.values())
    ids: dict[tuple[str, str], PlaceId] = {}
    by_key: dict[str, PlaceId] = {}
    for ward, name in pairs:
        is_reserved = place_key(name) in reserved
        qualified = f"{ward}/{name}" if ward and (must_qualify or is_reserved) else name
        place = PlaceId(f"bed {name}" if is_reserved and not ward else qualified)
        ids[ward, name] = by_key.setdefault(place_key(place), place)
    return ids


def assume_places(beds: Iterable[tuple[str, str]]) -> PlaceBook:
    """Return the places of a round without a map: base, laboratory, and the beds ward by ward."""
    ids = place_ids(beds)
    by_ward: dict[str, list[PlaceId]] = {}
    labels = {}
    for (ward, name), place in ids.items():
        if place not in labels:
            by_ward.setdefault(ward, []).append(place)
            labels[place] = name
    book = PlaceBook()
    for assumed in assumed_places(by_ward).values():
        book.add(replace(assumed, label=labels.get(assumed.id, "")))
    return book


def read_places(raw: RawRound, reading: Reading) -> PlaceBook | None:
    """Return the places of the place table; None when there is none, or nothing in it can be used.

    A lift or a staircase is a place on each floor that it serves: those that its rows name, else all of the map.
    """
    drafts: dict[tuple[str, str], Place] = {}
    sources: dict[tuple[str, str], Source] = {}
    shafts: dict[str, _Shaft] = {}
    has_wards = any("ward" in table.columns for table in raw.of("places"))
    has_floors = has_wards and any(record.text("floor") for record in raw.records("places"))
    for record in raw.records("places"):
        fields = Fields(record, reading)
        name, ward, kind = fields.text("place"), fields.text("ward"), _kind(fields)
        floor = fields.text("floor")
        if not has_wards:
            ward, floor = floor, ""  # a table whose only word for a ward is 'floor'
        x_m = fields.number("x_m", -_FARTHEST_M, _FARTHEST_M, "m", _METRES)
        y_m = fields.number("y_m", -_FARTHEST_M, _FARTHEST_M, "m", _METRES)
        position = fields.number("order", 0, 100_000, "steps", {"steps": 1.0})
        if not name:
            fields.fault("place-unreadable", "place", "the place has no name; the row is not used")
        elif has_floors and word(fields.text("kind")) in LIFTS | STAIRS and not fields.faults:
            shaft = shafts.setdefault(name, _Shaft(name, is_lift=word(fields.text("kind")) in LIFTS))
            shaft.rows.append(_Stop(floors=_floors(floor), x_m=x_m, y_m=y_m, source=record.at("place")))
        elif (ward, name) in drafts:
            fields.add("place-twice", Severity.ERROR, "place", f"place {name!r} stands twice; the first row is used")
        elif not fields.faults:
            sources[ward, name] = record.at("place")
            drafts[ward, name] = Place(
                id=PlaceId(name),
                ward=ward,
                kind=kind,
                x_m=x_m,
                y_m=y_m,
                position=None if position is None else round(position),
                label=name,
                floor=floor,
            )
    all_floors = {place.floor for place in drafts.values() if place.floor}
    all_floors |= {floor for shaft in shafts.values() for row in shaft.rows for floor in row.floors}
    served = {name: shaft.places(all_floors) for name, shaft in shafts.items()}
    for name, stops in served.items():
        drafts |= {("", stop.label): stop for stop in stops}
        sources |= {("", stop.label): shafts[name].rows[0].source for stop in stops}
    if not drafts:
        return None
    beds = place_ids(key for key, place in drafts.items() if place.kind is PlaceKind.BED)
    names = Counter(place_key(name) for _, name in drafts)
    book = PlaceBook(is_given=True, site_names=reading.site_names)
    for (ward, name), place in drafts.items():
        qualified = PlaceId(f"{ward}/{name}") if names[place_key(name)] > 1 and ward else place.id
        place_id = beds.get((ward, name), qualified)
        if place_id in book.places:
            message = f"place {place_id!r} stands twice, once with and once without its ward; the first row is used"
            reading.report.add("place-twice", Severity.ERROR, message, source=sources[ward, name])
            continue
        book.add(replace(place, id=place_id))
    book.lifts = tuple(stops for name, stops in served.items() if shafts[name].is_lift)
    book.stairs = tuple(stops for name, stops in served.items() if not shafts[name].is_lift)
    return book


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stop:
    """One row of a lift or a staircase; no floors: all."""

    floors: tuple[str, ...]
    x_m: float | None
    y_m: float | None
    source: Source


@dataclass(slots=True)
class _Shaft:
    """A lift or a staircase: all rows of one name."""

    name: str
    is_lift: bool
    rows: list[_Stop] = field(default_factory=list)

    def places(self, all_floors: Iterable[str]) -> tuple[Place, ...]:
        """Return the places at which it stops, from the lowest floor up; on one floor it goes by its bare name."""
        rows = {floor: row for row in self.rows for floor in row.floors or all_floors}
        floors = sorted(rows, key=floor_key) or [""]
        labels = [f"{self.name} floor {floor}" if len(floors) > 1 else self.name for floor in floors]
        return tuple(
            Place(
                id=PlaceId(label),
                ward="",
                kind=PlaceKind.WAYPOINT,
                x_m=rows.get(floor, self.rows[0]).x_m,
                y_m=rows.get(floor, self.rows[0]).y_m,
                label=label,
                floor=floor,
            )
            for floor, label in zip(floors, labels, strict=True)
        )


def _floors(text: str) -> tuple[str, ...]:
    """Return the floors of a cell: '1; 2; 3', or '1-3' for whole numbers."""
    if span := _FLOOR_SPAN.match(text):
        return tuple(map(str, range(int(span[1]), int(span[2]) + 1)))
    return tuple(dict.fromkeys(part.strip() for part in re.split(r"[;,/]", text) if part.strip()))


def join_map(book: PlaceBook, policy: WalkingPolicy) -> tuple[tuple[Corridor, ...], list[str]]:
    """Return the corridors of a map with its lifts, stairs and ways by metres, and sentences on what was taken."""
    floors = {place.floor for place in book.places.values() if place.floor}
    if not book.corridors and not floors:
        return book.corridors, []
    between_floors = (*lift_ways(book.lifts, policy), *stair_ways(book.stairs, policy))
    measured = ways_by_metres(book.places, book.corridors, between_floors)
    sentences = []
    if between_floors:
        sentences.append(
            f"Floors {', '.join(sorted(floors, key=floor_key))} are joined by the lifts and stairs of the place table: "
            f"{policy.lift_s} s by lift, {policy.stairs_floor_s} s a floor by stairs."
        )
    if measured:
        sentences.append(
            "Places that no corridor reaches are walked to from the nearest places of their floor by x and y."
        )
    return (*book.corridors, *between_floors, *measured), sentences


def _kind(fields: Fields) -> PlaceKind:
    text = word(fields.text("kind"))
    kind = PLACE_KINDS.get(text)
    if kind is None:
        known = ", ".join(k.value for k in PlaceKind)
        fields.fault("unknown-kind", "kind", f"{text!r} is not a kind of place; known: {known}")
    return kind or PlaceKind.WAYPOINT


def read_corridors(raw: RawRound, book: PlaceBook, reading: Reading) -> tuple[Corridor, ...]:
    """Return the corridors whose two ends are places; the others are findings."""
    corridors = []
    for record in raw.records("corridors"):
        fields = Fields(record, reading)
        ends = [_end(fields, name, book) for name in ("from", "to")]
        metres = fields.number("metres", 0, _FARTHEST_M, "m", _METRES)
        seconds = fields.number("seconds", 0, 3600, "s", {"s": 1.0, "sec": 1.0, "min": 60.0})
        if metres is None and seconds is None:
            fields.fault("corridor-unreadable", "metres", "no length; write metres or seconds. The row is not used")
        if fields.faults or ends[0] is None or ends[1] is None:
            continue
        corridors.append(
            Corridor(
                from_place=ends[0],
                to_place=ends[1],
                metres=None if seconds is not None else metres,
                seconds=None if seconds is None else round(seconds),
                is_one_way=bool(fields.yes_no("one_way")),
            )
        )
    return tuple(corridors)


def _end(fields: Fields, name: str, book: PlaceBook) -> PlaceId | None:
    text = fields.text(name)
    found = book.find(text) if text else []
    if len(found) != 1:
        why = "stands in several wards; write ward/name" if found else "is not in the place table"
        fields.fault("unknown-place", name, f"place {text!r} {why}. The corridor is not used")
        return None
    return found[0]
