"""Requests to rows of the order table: codes looked up, times put on the site's clocks, repeats taken apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

from planner.domain.plan import Reason, SetAside
from planner.finding_codes import Code
from planner.findings import Report, Severity
from planner.loaders.catalogue.counts import MOST, split_count
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.frame.places import place_key
from planner.loaders.frame.round_frame import RoundFrame
from planner.loaders.messages.common.repeats import MAX_DRAWS, days_with_draw, draws_between
from planner.loaders.messages.common.request import Bedside, Quantity, Request, Timing
from planner.loaders.messages.common.stamps import (
    Stamp,
    cell_of,
    clock_change,
    instant,
    local_cell,
    local_moment,
    moment_of,
    odd_offset,
)
from planner.loaders.messages.common.texts import tidy
from planner.loaders.messages.to_rows.labels import Numbers, bed_label, report_shared
from planner.loaders.tables.records import Record, control_flags
from planner.units import Moment

_MAX_LABEL = 80
NO_MOMENTS: Mapping[str, Moment] = {}


class Rows:
    """Turns requests into records, one a draw."""

    def __init__(
        self,
        requests: Sequence[Request],
        tests: TestLookup,
        zone: ZoneInfo,
        known_places: frozenset[str],
        report: Report,
    ) -> None:
        self.requests = requests
        self.tests = tests
        self.zone = zone
        self.report = report
        self._known_places = known_places
        self._beds: dict[Bedside, str] = {}
        self._orders = Numbers(r.number for r in requests)
        patients = Numbers(r.patient for r in requests)
        report_shared(patients, requests, report)
        self._patients = [patients.label(r.patient) for r in requests]
        self._ids = self._unique_ids()
        self._places = self._latest_places()
        self._test_texts = [self._test(r) for r in requests]
        self._series = self._runs()
        self._is_run = [r.fault is None and any(t.repeat for t in r.timings) for r in requests]

    def stated(self) -> list[Record]:
        """Return the records of all requests that do not repeat."""
        return [
            record
            for i in range(len(self.requests))
            if not self._is_run[i]
            for record in self._counted(i, self._records(i))
        ]

    def repeating(self, frame: RoundFrame) -> list[Record]:
        """Return the records of the requests that repeat: one for each draw within the round."""
        found: list[Record] = []
        for i, request in enumerate(self.requests):
            if self._is_run[i]:
                found += self._counted(i, self._taken_apart(i, request, frame))
        return found

    def _unique_ids(self) -> list[str]:
        """Return order numbers; a request set aside under the number of another goes by that with '#2', '#3', ..."""
        live = {r.number for r in self.requests if r.fault is None}
        taken: dict[str, int] = {}
        found = []
        for request in self.requests:
            label = self._orders.label(request.number)
            is_second = request.fault is not None and (request.number in live or label in taken)
            count = taken[label] = taken.get(label, 1 if request.number in live else 0) + 1
            found.append(f"{label}#{count}" if is_second else label)
        return found

    def _latest_places(self) -> dict[str, Bedside]:
        """Return for each patient the place that the newest message about a live order states; a move is said once."""
        found: dict[str, tuple[float, Bedside]] = {}
        for key, request in zip(self._patients, self.requests, strict=True):
            if not request.place.is_bed or request.fault is not None:
                continue
            before = found.get(key)
            if before is not None and before[1] != request.place and not self._is_same_bed(before[1], request.place):
                self._report_move(request)
            if before is None or request.sent >= before[0]:
                found[key] = (request.sent, request.place)
        for key, request in zip(self._patients, self.requests, strict=True):
            if request.place.is_bed:
                found.setdefault(key, (request.sent, request.place))
        return {key: place for key, (_, place) in found.items()}

    def _is_same_bed(self, one: Bedside, other: Bedside) -> bool:
        """Return whether two places are one, written in different ways: 'Bed A' of 'Room 04', and A of 04."""
        return place_key(one.ward) == place_key(other.ward) and place_key(self._bed(one)) == place_key(self._bed(other))

    def _report_move(self, request: Request) -> None:
        message = "messages state two places for the patient; the newest message counts. Look where the patient is"
        self._add("patient-moved", Severity.WARNING, message, request, "bed")

    def _test(self, request: Request) -> str:
        """Return the code of a test that is known, the site's own first; else what a person can look up."""
        known = [code for code in request.tests if self.tests.find(code)]
        if known:
            meant = {self.tests.find(code) for code in known}
            if len(meant) > 1 and request.fault is None:
                message = (
                    f"the codes {' and '.join(known)} mean different tests; {known[0]} counts. Look which is meant"
                )
                self._add("test-codes-differ", Severity.WARNING, message, request, "test")
            return known[0]
        words = tidy(request.test_words)
        if words and not request.tests and self.tests.find(words):
            if request.fault is None:
                message = "the test is named in words only; they are those of a test of the catalogue, which was taken"
                self._add("test-by-text", Severity.WARNING, message, request, "test")
            return words
        if not request.tests and (counted := self.tests.counted(words)):
            return counted[0]
        return tidy(" ".join([*request.tests[:1], words]))[:_MAX_LABEL]

    def _counted(self, index: int, records: list[Record]) -> list[Record]:
        """Return the records of a request, those of a culture once for each set that is asked for."""
        request = self.requests[index]
        found = count_of(request) if request.fault is None else None
        if found is None:
            return records
        number, quantity = found
        shown = f"{quantity.amount} {quantity.unit}".strip()[:_MAX_LABEL]
        code = self.tests.find(self._test_texts[index])
        if number == 0 or code is None or not self.tests.test(code).is_culture:
            message = (
                f"a quantity of {shown!r} is asked for; one draw is planned. For draws at several times have an order "
                "sent for each"
            )
            self._add("count-not-used", Severity.WARNING, message, request, "", quantity.heading)
            return records
        message = f"{shown!r}: {number} culture sets, each an order of its own, drawn from its own site"
        self._add("culture-sets-counted", Severity.NOTE, message, request, "", quantity.heading)
        return as_sets(records, number, f"{self._ids[index]} {code}")

    def _runs(self) -> dict[int, str]:
        """Return the series of requests that one group number holds together: same patient and test, other times."""
        found: dict[tuple[str, str, str], list[int]] = {}
        for i, request in enumerate(self.requests):
            if request.group and request.fault is None and request.timings:
                key = (self._patients[i], request.group, self._test_texts[i])
                found.setdefault(key, []).append(i)
        return {
            i: tidy(group)
            for (_, group, _), members in found.items()
            if len({self.requests[i].timings for i in members}) > 1
            for i in members
        }

    def _records(self, index: int) -> list[Record]:
        request = self.requests[index]
        open_timing = next((t for t in request.timings if t.is_open), None)
        if open_timing and request.fault is None:
            message = f"{open_timing.is_open}; the order is set aside. Write when it is to be drawn"
            self._add("repeat-open", Severity.ERROR, message, request, "", open_timing.heading)
            request.fault = SetAside(Reason.TIME_MISSING, message)
        self._refuse_unread_times(request)
        if request.fault is not None or not request.timings:
            return [self._record(index, self._ids[index], {}, {})]
        several = len(request.timings) > 1
        found = []
        for number, timing in enumerate(request.timings, start=1):
            values, headings, moments = self._times(timing, request)
            if several:
                values["series"] = self._ids[index]
            own = f"{self._ids[index]}.{number}" if several else self._ids[index]
            found.append(self._record(index, own, values, headings, moments))
        return found

    def _refuse_unread_times(self, request: Request) -> None:
        """Set a request aside that states no time, or a part of one: it is not read as anything else."""
        for timing in request.timings:
            for stamp in (timing.at, timing.begin, timing.end):
                if stamp is not None and stamp.day is None and request.fault is None:
                    message = f"its time {stamp.text[:30]!r} is no date with a clock time; the order is set aside"
                    self._add("time-unreadable", Severity.ERROR, message, request, "", stamp.heading or timing.heading)
                    request.fault = SetAside(Reason.UNREADABLE, message)

    def _times(self, timing: Timing, request: Request) -> tuple[dict[str, str], dict[str, str], dict[str, Moment]]:
        """Return the times that a request states: as text for people, where each stands, and as moments."""
        values: dict[str, str] = {}
        headings: dict[str, str] = {}
        moments: dict[str, Moment] = {}
        for name, stamp in (("collect_at", timing.at), ("collect_from", timing.begin), ("collect_to", timing.end)):
            if stamp is not None:
                values[name] = cell_of(stamp, self.zone)
                if (moment := moment_of(stamp, self.zone)) is not None:
                    moments[name] = moment
                headings[name] = stamp.heading or timing.heading
                self._report_odd_time(stamp, request, headings[name])
        return values, headings, moments

    def _report_odd_time(self, stamp: Stamp, request: Request, heading: str) -> None:
        if odd := odd_offset(stamp):
            self._add("offset-odd", Severity.WARNING, f"the time {stamp.text} {odd}", request, "", heading)
        if odd := clock_change(stamp, self.zone):
            self._add("clock-change", Severity.WARNING, f"the time {stamp.text} {odd}", request, "", heading)

    def _taken_apart(self, index: int, request: Request, frame: RoundFrame) -> list[Record]:
        """Return a record for each draw of the round; one set aside when there is none in it."""
        number = self._ids[index]
        draws: dict[datetime, str] = {}
        is_untimed = False
        heading = request.timings[0].heading
        for timing in request.timings:
            repeat = timing.repeat
            for end in timing.stamps:
                self._report_odd_time(end, request, end.heading or timing.heading)
            if repeat is None:
                stamp = timing.at or timing.begin or timing.end
                if stamp is not None and stamp.has_clock and stamp.is_plausible:
                    draws[instant(stamp, self.zone)] = stamp.heading
                continue
            if repeat.every_s is None and not repeat.clocks and not (repeat.first and repeat.first.has_clock):
                is_untimed = is_untimed or days_with_draw(repeat, frame.day)
                continue
            draws.update(dict.fromkeys(draws_between(repeat, self.zone, frame.begin, frame.end), timing.heading))
        if len(draws) > MAX_DRAWS:
            message = (
                f"the order repeats more than {MAX_DRAWS} times in this round; it is set aside. Correct its timing"
            )
            self._add("repeat-open", Severity.ERROR, message, request, "", heading)
            request.fault = SetAside(Reason.TIME_MISSING, message)
            return [self._record(index, number, {}, {})]
        if is_untimed and not draws:
            values, moments = {"collect_at": frame.day.isoformat()}, {"collect_at": Moment(frame.day, None)}
            return [self._record(index, number, values, {"collect_at": heading}, moments)]
        if not draws:
            request.fault = SetAside(Reason.OTHER_ROUND, "the order repeats, but has no draw in this round")
            return [self._record(index, number, {}, {})]
        message = f"the order repeats; it has {len(draws)} of its draws in this round"
        self._add("repeat-taken-apart", Severity.NOTE, message, request, "", heading)
        found = []
        for at in sorted(draws):
            cell = local_cell(at, self.zone)
            values = {"collect_at": cell, "series": number}
            own, moments = f"{number}.{cell[5:10]}T{cell[11:16]}", {"collect_at": local_moment(at, self.zone)}
            found.append(self._record(index, own, values, {"collect_at": draws[at]}, moments))
        return found

    def _record(
        self,
        index: int,
        order_id: str,
        times: Mapping[str, str],
        headings: Mapping[str, str],
        moments: Mapping[str, Moment] = NO_MOMENTS,
    ) -> Record:
        request = self.requests[index]
        values = {
            name: text for name, cell in request.cells.items() if (text := cell if cell.isalnum() else tidy(cell))
        }
        patient = self._patients[index]
        place = self._places.get(patient, request.place)
        own = {
            "order_number": order_id,
            "patient_number": patient,
            "test": self._test_texts[index],
            "ward": tidy(place.ward),
            "bed": self._bed(place),
        }
        values.update({name: text for name, text in own.items() if text})
        is_live = request.fault is None
        if is_live and request.ordered is not None and request.ordered.has_clock and request.ordered.is_plausible:
            values["ordered_at"] = cell_of(request.ordered, self.zone)
            if (moment := moment_of(request.ordered, self.zone)) is not None:
                moments = {**moments, "ordered_at": moment}
        if series := self._series.get(index):
            values["series"] = series
        values.update(times)
        shown = {**request.headings, **headings}
        return Record(values, request.source, shown, control_flags(values), fault=request.fault, moments=moments)

    def _bed(self, place: Bedside) -> str:
        if (label := self._beds.get(place)) is None:
            label = self._beds[place] = bed_label(place, self._known_places)
        return label

    def _add(
        self, code: Code, severity: Severity, message: str, request: Request, name: str, heading: str = ""
    ) -> None:
        source = replace(request.source, column=heading or request.headings.get(name, request.source.column))
        ids = [self._orders.label(request.number)]
        self.report.add(code, severity, message, source=source, order_ids=ids)


_PIECES = frozenset({"", "1", "EA", "EACH", "{EACH}", "SET", "SETS", "{SET}"})
"""Units that mean a number of draws (UCUM 1 and {each}; the words as messages write them)."""


def count_of(request: Request) -> tuple[int, Quantity] | None:
    """Return how many draws are asked for, and where that stands; None for one. 0: a quantity that is no number."""
    quantity = request.quantity
    if quantity.amount and quantity.amount.removesuffix(".0") != "1":
        is_whole = quantity.amount.removesuffix(".0").isdecimal() and quantity.unit.upper() in _PIECES
        number = int(quantity.amount.removesuffix(".0")[:9]) if is_whole else 0
        return number if number <= MOST else 0, quantity
    words = tidy(request.test_words)
    split = split_count(words) if words else None
    return (split[1], Quantity(words, "", request.headings.get("test", ""))) if split and split[1] > 1 else None


def as_sets(records: list[Record], number: int, series: str) -> list[Record]:
    """Return each record so many times, as orders of one series numbered from 1."""
    found = []
    for record in records:
        own = record.text("order_number")
        for index in range(1, number + 1):
            values = {**record.values, "order_number": f"{own}.{index}", "series": record.text("series") or series}
            found.append(replace(record, values=values))
    return found
