"""Message files of a round to tables of orders: reads them all, settles zone and span, and says how it adds up."""

from __future__ import annotations

import gc
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, time, timedelta
from zoneinfo import ZoneInfo

from planner.domain.policy import Policy
from planner.findings import Report, Severity, Source
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.frame.day import choose_day
from planner.loaders.frame.staff import assumed_span, read_shifts
from planner.loaders.messages.common.zones import states_zone, zone_of_offsets
from planner.loaders.messages.detect import is_json
from planner.loaders.messages.fhir.reader import read_fhir
from planner.loaders.messages.hl7.reader import Read, read_hl7
from planner.loaders.messages.to_rows.rows import Rows, Span, known_names
from planner.loaders.policy.clock import policy_on_clock
from planner.loaders.tables.records import RawRound, Record, Table
from planner.loaders.values.date_columns import DateColumns, decide_columns
from planner.loaders.values.fields import Reading
from planner.units import RoundClock


def add_message_orders(
    raw: RawRound,
    policy: Policy,
    tests: TestLookup,
    round_date: date | None,
    start: time | None,
    report: Report,
    span: Span | None = None,
) -> tuple[Policy, list[str]]:
    """Add the orders of the round's messages to its tables.

    Return the policy, its zone set where only the messages tell it, and sentences on what was assumed. ``span`` is
    that of a round that has begun; None: it is found from what was read.
    """
    with _no_search_for_cycles():
        return _add_orders(raw, policy, tests, round_date, start, report, span)


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


def _add_orders(
    raw: RawRound,
    policy: Policy,
    tests: TestLookup,
    round_date: date | None,
    start: time | None,
    report: Report,
    span: Span | None,
) -> tuple[Policy, list[str]]:
    files = sorted(raw.messages)
    hl7 = read_hl7([f for f in files if not is_json(*f)], report)
    fhir = read_fhir([f for f in files if is_json(*f)], report)
    requests = [*hl7.requests, *fhir.requests]
    assumptions: list[str] = []
    if not states_zone(raw.policy_text, policy):
        zone_name, sentence = zone_of_offsets([*hl7.stamps, *fhir.stamps])
        if zone_name:
            policy = replace(policy, time_zone=zone_name)
        if sentence:
            assumptions.append(sentence[0].upper() + sentence[1:] + ".")
            report.add("time-zone-assumed", Severity.WARNING, f"{sentence}. Set time_zone in policy.toml")
    zone = ZoneInfo(policy.time_zone)
    rows = Rows(requests, tests, zone, known_names(raw.records("places")), report)
    records = rows.single()
    if rows.has_repeats:
        records += rows.repeating(span or _span(raw, records, policy, round_date, start))
    order = {id(r.source): i for i, r in enumerate(requests)}
    records.sort(key=lambda record: order[id(record.source)])
    for name, _ in files:
        own = tuple(r for r in records if r.source.file == name)
        if own:
            raw.tables.append(Table("orders", name, "", _columns(own), own))
    _report_totals(hl7, fhir, records, report)
    return policy, assumptions


def _columns(records: Sequence[Record]) -> dict[str, str]:
    found: dict[str, str] = {}
    for record in records:
        if not record.values.keys() <= found.keys():
            for name in record.values:
                found.setdefault(name, record.headings.get(name, name))
    return found


def _span(
    raw: RawRound, records: Sequence[Record], policy: Policy, round_date: date | None, start: time | None
) -> Span:
    """Return the round's day and span, as they will be found once all orders are known; findings come then."""
    silent = Report()
    columns: DateColumns = decide_columns(raw.tables, None, silent)
    live = [*raw.records("orders"), *(r for r in records if r.fault is None)]
    day, _ = choose_day(live, columns, round_date, policy.round.day, date.today())
    reading = Reading(silent, columns, RoundClock(day, policy.time_zone))
    shifts = read_shifts(raw, reading, start)
    begin_s, end_s = assumed_span(policy_on_clock(policy, reading.clock), start, reading.clock)
    if shifts:
        begin_s, end_s = min(s.from_s for s in shifts), max(s.until_s for s in shifts)
    midnight = reading.clock.midnight
    return Span(day, midnight + timedelta(seconds=begin_s), midnight + timedelta(seconds=end_s))


def _report_totals(hl7: Read, fhir: Read, records: Sequence[Record], report: Report) -> None:
    """Say how what was read became rows: nothing that looks like an order disappears."""
    for kind, read in (("HL7 v2 messages", hl7), ("FHIR resources", fhir)):
        if not read.num_messages:
            continue
        parts = ", ".join(f"{number} {what}" for what, number in sorted(read.tally.items()) if number)
        message = f"{read.num_messages} {kind} with {read.num_mentions} requests: {parts or 'none'}"
        report.add("message-totals", Severity.NOTE, message, source=Source(file=kind, is_message=True))
