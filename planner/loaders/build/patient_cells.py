"""The cells of all rows of one patient read together: where they differ, and where they contradict each other."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from planner.domain.orders import Arm, Method, Precaution, TimeWindow
from planner.domain.patients.births import BirthDate, PartialDate, agree, earliest_birth, more_exact
from planner.domain.plan import Reason, SetAside
from planner.findings import Severity
from planner.loaders.build.patient_drafts import PatientDraft
from planner.loaders.frame.places import place_key
from planner.loaders.tables.records import Record, rows_of
from planner.loaders.values.fields import Fields, Reading, word
from planner.loaders.values.moments import parse_partial_date
from planner.loaders.values.precaution_words import (
    infection_meaning,
    infections_named,
    is_isolated,
    names_isolation,
    precaution_meaning,
    says_more,
)
from planner.loaders.values.words import ARMS, METHODS
from planner.units import Moment


class PatientCells:
    """The cells of all rows of one patient; equal texts are read once."""

    def __init__(self, draft: PatientDraft, reading: Reading) -> None:
        self.draft = draft
        self.reading = reading
        self.faults: list[str] = []

    def rows(self, name: str, records: Iterable[Record] | None = None) -> list[Fields]:
        """Return one reader for each different text of a column, in the order of the rows."""
        seen: dict[str, Record] = {}
        for record in self.draft.records if records is None else records:
            if record.text(name) or name in record.flags:
                seen.setdefault(record.text(name), record)
        return [Fields(record, self.reading, ", ".join(self.draft.order_ids[:1])) for record in seen.values()]

    def first(self, name: str) -> str:
        """Return the first text of a column."""
        return next((record.text(name) for record in self.draft.records if record.text(name)), "")

    def _one(self, name: str, rows: Sequence[Fields]) -> Fields | None:
        """Return the first row of several that differ, with a warning."""
        if len(rows) > 1:
            message = (
                f"{name} differs within one patient ({rows_of([rows[0].record, rows[1].record])}); the first is used. "
                "Make them agree"
            )
            rows[1].add("patient-values-differ", Severity.WARNING, name, message)
        return rows[0] if rows else None

    def number(self, name: str, low: float, high: float, unit: str, factors: Mapping[str, float]) -> float | None:
        """Return a number of the patient in ``unit``."""
        fields = self._one(name, self.rows(name))
        return fields.number(name, low, high, unit, dict(factors)) if fields else None

    def instant(self, name: str, *, is_past: bool = False) -> int | None:
        """Return a time of the patient."""
        fields = self._one(name, self.rows(name))
        value = fields.instant(name, is_past=is_past) if fields else None
        self._keep(fields)
        return value

    def away(self) -> tuple[TimeWindow, ...]:
        """Return all spans of absence, ascending."""
        found: set[TimeWindow] = set()
        for fields in self.rows("away"):
            found.update(fields.spans("away"))
            self._keep(fields)
        return tuple(sorted(found))

    def parts(self, name: str, separators: str = ";") -> list[str]:
        """Return the parts of all rows' cells."""
        found: dict[str, None] = {}
        for fields in self.rows(name):
            found.update(dict.fromkeys(fields.parts(name, separators)))
            self._keep(fields)
        return list(found)

    def precautions(self) -> tuple[frozenset[Precaution], list[str]]:
        """Return the known precautions, and the words that are not known or say more, which are printed as alerts.

        A word that only the site's names explain is printed too, unless it means that nothing is to be worn. An
        infection means what the guideline names for it; any other word counts as the strictest, and is asked about.
        """
        known: set[Precaution] = set()
        unknown: dict[str, None] = {}
        for fields in self.rows("precautions"):
            for part in fields.parts("precautions", ";,+/"):
                if (meant := precaution_meaning(part)) is not None:
                    known |= meant
                    unknown.update({part: None} if says_more(part) else {})
                elif (named := self.reading.site_names.precaution(part)) is not None:
                    known |= named.precautions
                    unknown.update({part: None} if named.is_printed else {})
                elif (of_infection := infection_meaning(part)) is not None:
                    known |= of_infection
                    unknown[part] = None
                else:
                    unknown[part] = None
                    known.add(Precaution.UNCLEAR)
                    self.draft.unknown_precautions.append((f"precaution {part!r}", fields.record.at("precautions")))
            self._keep(fields)
        return frozenset(known), list(unknown)

    def alerts(self) -> tuple[frozenset[Precaution], list[str]]:
        """Return the alerts, each with the words that the site's names give it, and the precautions that they mean."""
        precautions: set[Precaution] = set()
        texts: list[str] = []
        for part in self.parts("alerts"):
            named = self.reading.site_names.alert(part)
            precautions |= named.precautions if named else frozenset()
            texts.append(f"{part} ({named.words})" if named and named.words else part)
        return frozenset(precautions), texts

    def isolation_in_words(self, known: frozenset[Precaution], unmapped: Iterable[str]) -> frozenset[Precaution]:
        """Return what alerts and columns that nobody mapped add to the known precautions.

        Who has no defences counts as protected. An infection or an isolation that the known precautions do not cover
        counts as the strictest until somebody asks; an alert that does not say which isolation is decided, as a cell
        that is not understood. An alert that the site's names explain adds nothing here.
        """
        alerts = {
            part: fields.record.at("alerts")
            for fields in self.rows("alerts")
            for part in fields.parts("alerts", ";")
            if self.reading.site_names.alert(part) is None
        }
        texts = [*alerts, *unmapped]
        found = list(infections_named(texts))
        more: set[Precaution] = {p for meant in found for p in meant if p is Precaution.PROTECTIVE}
        is_open = any(not meant <= known | more for meant in found)
        isolated = [] if known else [text for text in texts if is_isolated(text)]
        if is_open or isolated:
            more.add(Precaution.UNCLEAR)
        undecided = [text for text in isolated if text in alerts and not names_isolation(text)]
        self.draft.unknown_precautions += [(f"alert {text!r}", alerts[text]) for text in undecided]
        return frozenset(more)

    def method(self) -> Method | None:
        """Return how blood is taken from the patient; a word that is not known sets the patient aside."""
        found: dict[Method, Fields] = {}
        for fields in self.rows("method"):
            text = fields.text("method")
            if method := METHODS.get(word(text)):
                found[method] = fields
            elif text:
                message = f"{text!r} is no way of collection; write {', '.join(m.value for m in Method)}"
                fields.fault("unknown-method", "method", message)
            self._keep(fields)
        if len(found) > 1:
            fields = list(found.values())[1]
            fields.fault("unknown-method", "method", "two ways of collection stand under one patient number; keep one")
            self._keep(fields)
        return next(iter(found), None)

    def arms(self) -> tuple[frozenset[Arm], list[str]]:
        """Return the arms that must not be used, and texts that are not understood, which are printed and asked."""
        barred: set[Arm] = set()
        unknown: dict[str, None] = {}
        for fields in self.rows("limbs"):
            for part in fields.parts("limbs", ";,+/&"):
                arms = ARMS.get(word(part))
                if arms is not None:
                    barred |= arms
                    continue
                unknown[f"arms not to be used: {part}"] = None
                message = f"{part!r} is not understood; write left, right or both. It is printed and asked at the bed"
                fields.add("limbs-unclear", Severity.WARNING, "limbs", message)
            self._keep(fields)
        return frozenset(barred), list(unknown)

    def birth_date(self) -> BirthDate | None:
        """Return the birth date as far as it is known; two that cannot both be are an identity conflict.

        A month or year alone is kept as such; another row that states the day completes it.
        """
        found: list[tuple[Fields, BirthDate]] = []
        for fields in self.rows("birth_date"):
            born = self._born(fields)
            self._keep(fields)
            if born is not None:
                found.append((fields, born))
        if not found:
            return None
        known = found[0][1]
        for fields, born in found[1:]:
            if not agree(known, born):
                self._conflict("birth dates", "birth_date", [found[0][0].record, fields.record])
                return known
            known = more_exact(known, born)
        if isinstance(known, PartialDate):
            message = "the birth date states no day; the youngest age that it allows is used. Ask the ward for the day"
            found[0][0].add("birth-date-partial", Severity.WARNING, "birth_date", message)
        return known

    def _born(self, fields: Fields) -> BirthDate | None:
        """Return the birth date of one cell; None when it is empty or a fault."""
        text = fields.text("birth_date")
        if not text:
            return None
        if (partial := parse_partial_date(text)) is not None:
            return partial if self._is_possible(fields, earliest_birth(partial)) else None
        moment = fields.moment("birth_date")
        if moment is None:
            return None
        if moment.day is None:
            message = "the cell holds a clock time, not a birth date; write it as 1950-01-31"
            fields.fault("date-unreadable", "birth_date", message)
            return None
        return _full_birth_day(moment, fields, self.reading) if self._is_possible(fields, moment.day) else None

    def _is_possible(self, fields: Fields, day: date) -> bool:
        today = self.reading.clock.day
        text = fields.record.text("birth_date")
        has_full_year = re.search(r"\d{4}", text) is not None
        if has_full_year and not (day <= today and today.year - day.year <= 125):
            fields.fault(
                "absurd-value", "birth_date", "the birth date lies after the round or too far back; correct it"
            )
        elif not has_full_year and 2000 + day.year % 100 <= today.year:
            fields.fault("birth-year-open", "birth_date", "two digits leave the century open; write the year in full")
        else:
            return True
        self._keep(fields)
        return False

    def check_names(self) -> None:
        """Two different names under one number are an identity conflict; a part of the other name is not."""
        found: list[tuple[frozenset[str], Record]] = []
        for record in self.draft.records:
            texts = [record.text(n) for n in ("family_name", "given_name", "patient_name")]
            words = frozenset(_name_words(" ".join(texts)))
            if words and all(words != other for other, _ in found):
                found.append((words, record))
        for words, record in found[1:]:
            for other, first in found:
                if not (words <= other or other <= words):
                    self._conflict("names", "family_name", [first, record])
                    return
        for name in ("family_name", "given_name", "patient_name"):
            for record in self.draft.records:
                if name in record.flags:
                    fields = Fields(record, self.reading)
                    fields.text(name)
                    self._keep(fields)

    def names(self) -> tuple[str, str]:
        """Return family and given name; a name in one column is split at its comma."""
        family, given = self.first("family_name"), self.first("given_name")
        if not family and (whole := self.first("patient_name")):
            before, comma, after = whole.partition(",")
            return (before.strip(), given or after.strip()) if comma else (whole, given)
        return family, given

    def bed(self, live: Sequence[Record]) -> tuple[str, str]:
        """Return ward and bed; two beds under one number are a conflict."""
        found: dict[tuple[str, str], Record] = {}
        for record in live:
            for name in ("ward", "bed"):
                if name in record.flags:
                    fields = Fields(record, self.reading)
                    fields.text(name)
                    self._keep(fields)
            if record.text("bed"):
                found.setdefault((record.text("ward"), record.text("bed")), record)
        keys = {(place_key(ward), place_key(bed)) for ward, bed in found}
        named = {key for key in keys if key[0]}
        if len({bed for _, bed in keys}) > 1 or len(named) > 1:
            first, second = list(found.values())[:2]
            message = (
                f"two beds under one patient number ({rows_of([first, second])}); all its orders are set aside. Find "
                "out where the patient is and correct the list"
            )
            self.reading.report.add(
                "bed-conflict", Severity.ERROR, message, source=second.at("bed"), order_ids=self.draft.order_ids
            )
            self.draft.fault = self.draft.fault or SetAside(Reason.BED_CONFLICT, message)
        return max(found, key=lambda pair: bool(pair[0]), default=("", ""))

    def _conflict(self, what: str, column: str, records: Sequence[Record]) -> None:
        first, second = records[0], records[1]
        message = (
            f"two {what} stand under one patient number ({rows_of([first, second])}); all its orders are set aside. "
            "Find out who the patient is before anybody draws"
        )
        self.reading.report.add(
            "identity-conflict", Severity.ERROR, message, source=second.at(column), order_ids=self.draft.order_ids
        )
        self.draft.fault = SetAside(Reason.IDENTITY_CONFLICT, message)

    def _keep(self, fields: Fields | None) -> None:
        if fields:
            self.faults.extend(f for f in fields.faults if f not in self.faults)

    def settle(self) -> None:
        """Make the first fault of the cells the patient's, unless a conflict stands already."""
        if self.faults and self.draft.fault is None:
            self.draft.fault = SetAside(Reason.UNREADABLE, f"the patient's row: {self.faults[0]}")


def _full_birth_day(moment: Moment, fields: Fields, reading: Reading) -> date:
    """Return the birth date; two digits of the year that cannot be of this century are of the last."""
    day = moment.day or date.min
    is_short = re.search(r"\d{4}", fields.record.text("birth_date")) is None
    return day.replace(year=day.year - 100) if is_short and day > reading.clock.day else day


def _name_words(text: str) -> list[str]:
    folded = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(c for c in folded if not unicodedata.combining(c))
    return re.findall(r"[^\W_]+", plain.replace("'", "").replace("’", ""))
