"""Message files of a round to tables of orders: reads them all, settles the zone, and says how it adds up."""

from __future__ import annotations

import gc
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from zoneinfo import ZoneInfo

from planner.findings import Report, Severity, Source
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.frame.round_frame import RoundFrame
from planner.loaders.messages.common.zones import zone_of_offsets
from planner.loaders.messages.detect import is_json
from planner.loaders.messages.fhir.reader import read_fhir
from planner.loaders.messages.hl7.reader import Read, read_hl7
from planner.loaders.messages.to_rows.rows import Rows
from planner.loaders.tables.records import Record, Table


class MessageOrders:
    """The orders of a round's messages, before it is known when the round is.

    ``zone_name`` is the zone that the messages tell, empty where it is stated or they tell none; ``assumptions`` are
    sentences on it. ``stated`` are the rows of the orders that do not repeat.
    """

    def __init__(
        self,
        files: Iterable[tuple[str, bytes]],
        tests: TestLookup,
        report: Report,
        *,
        zone_name: str | None,
        known_places: frozenset[str] = frozenset(),
    ) -> None:
        """Read message files.

        Parameters
        ----------
        files
            Name and bytes of each.
        tests
            Looks up what is ordered.
        report
            Takes what is found.
        zone_name
            The zone of the site's clocks; None: the messages' offsets tell it, else it is UTC.
        known_places
            Names of beds as they are compared (`place_key`), as the round's map writes them.
        """
        self._files = sorted(files)
        self._report = report
        self.zone_name = ""
        self.assumptions: tuple[str, ...] = ()
        with _no_search_for_cycles():
            self._hl7 = read_hl7([f for f in self._files if not is_json(*f)], report)
            self._fhir = read_fhir([f for f in self._files if is_json(*f)], report)
            self._requests = [*self._hl7.requests, *self._fhir.requests]
            if zone_name is None:
                self._find_zone()
            zone = ZoneInfo(zone_name or self.zone_name or "UTC")
            self._rows = Rows(self._requests, tests, zone, known_places, report)
            self.stated = self._rows.stated()

    def _find_zone(self) -> None:
        self.zone_name, sentence = zone_of_offsets([*self._hl7.stamps, *self._fhir.stamps])
        if sentence:
            self.assumptions = (sentence[0].upper() + sentence[1:] + ".",)
            self._report.add("time-zone-assumed", Severity.WARNING, f"{sentence}. Set time_zone in policy.toml")

    def tables(self, frame: RoundFrame) -> list[Table]:
        """Return the tables of orders, one a file; a request that repeats has a row for each draw within the round."""
        with _no_search_for_cycles():
            records = [*self.stated, *self._rows.repeating(frame)]
        place = {id(r.source): i for i, r in enumerate(self._requests)}
        records.sort(key=lambda record: place[id(record.source)])
        found = []
        for name, _ in self._files:
            if own := tuple(r for r in records if r.source.file == name):
                found.append(Table("orders", name, "", _columns(own), own))
        _report_totals(self._hl7, self._fhir, records, self._report)
        return found


@contextmanager
def _no_search_for_cycles() -> Iterator[None]:
    """Switch off Python's search for cycles of objects while a great many are made.

    What is read of messages holds no cycles, and the search would go through all of it again and again: it costs a
    quarter of the time.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _columns(records: Sequence[Record]) -> dict[str, str]:
    found: dict[str, str] = {}
    for record in records:
        if not record.values.keys() <= found.keys():
            for name in record.values:
                found.setdefault(name, record.headings.get(name, name))
    return found


def _report_totals(hl7: Read, fhir: Read, records: Sequence[Record], report: Report) -> None:
    """Say how what was read became rows: nothing that looks like an order disappears."""
    for kind, read in (("HL7 v2 messages", hl7), ("FHIR resources", fhir)):
        if not read.num_messages:
            continue
        parts = ", ".join(f"{number} {what}" for what, number in sorted(read.tally.items()) if number)
        message = f"{read.num_messages} {kind} with {read.num_mentions} requests: {parts or 'none'}"
        report.add("message-totals", Severity.NOTE, message, source=Source(file=kind, is_message=True))
