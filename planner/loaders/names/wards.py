"""The wards that a round names, those that its map has, and the site's confirmed names put in their place."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from planner.domain.places import Place, PlaceKind
from planner.domain.site_names import NameKind
from planner.findings import Report
from planner.loaders.frame.places import place_key
from planner.loaders.names.known import SiteNames, name_key
from planner.loaders.names.settle import ward_names
from planner.loaders.tables.records import RawRound, Record
from planner.loaders.values.fields import word
from planner.loaders.values.words import PLACE_KINDS


def with_wards_settled(raw: RawRound, names: SiteNames, report: Report, places: Iterable[Place] = ()) -> SiteNames:
    """Return the site's names with the confirmed ones of wards; in the rows of patients and orders these are put in.

    ``places`` are those of a round that has begun. What of the names cannot be used is reported.
    """
    if not any(row.kind is NameKind.WARD for row in raw.name_rows):
        return names
    used = {name_key(NameKind.WARD, "", text)[2] for _, text, _ in wards_named(raw)}
    others = (name for name in names.all if name.kind is not NameKind.WARD)
    settled = SiteNames((*others, *ward_names(raw.name_rows, map_wards(raw, places), used, report)))
    raw.tables = [
        replace(table, records=tuple(_with_ward(record, settled) for record in table.records))
        if table.name in ("patients", "orders")
        else table
        for table in raw.tables
    ]
    return settled


def _with_ward(record: Record, names: SiteNames) -> Record:
    ours = names.ward(record.text("ward")) if record.text("ward") else None
    return record if ours is None else replace(record, values={**record.values, "ward": ours})


def map_wards(raw: RawRound, places: Iterable[Place] = ()) -> dict[str, str]:
    """Return the wards of the map by `place_key`, as the map spells them: none where it names none.

    The ward that a list states for a bed which the map has without a ward is of the map too.
    """
    rows = [*raw.records("places")]
    column = "ward" if any("ward" in table.columns for table in raw.of("places")) else "floor"
    found = [place.ward for place in places] + [record.text(column) for record in rows]
    bare = {place_key(place.label or place.id) for place in places if place.kind is PlaceKind.BED and not place.ward}
    bare |= {place_key(r.text("place")) for r in rows if _is_bed(r) and not r.text(column)}
    if bare:
        found += [text for _, text, record in wards_named(raw) if place_key(record.text("bed")) in bare]
    return {place_key(ward): ward for ward in reversed(found) if ward}


def _is_bed(record: Record) -> bool:
    return PLACE_KINDS.get(word(record.text("kind"))) is PlaceKind.BED


def wards_named(raw: RawRound) -> Iterator[tuple[str, str, Record]]:
    """Yield the wards that patients, orders and staff name: the table, the text and its row."""
    for table in ("patients", "orders"):
        for record in raw.records(table):
            if record.text("ward"):
                yield table, record.text("ward"), record
    for record in raw.records("staff"):
        for column in ("wards", "prefers"):
            for part in filter(None, map(str.strip, record.text(column).split(";"))):
                yield "staff", part, record
