"""Order drafts to orders: what is known not to be for this round is told apart from what cannot be read."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from planner.columns import TABLES
from planner.domain.catalogue import Catalogue, DoseKind, LabTest, TestCode
from planner.domain.doses import dose_base_s
from planner.domain.orders import Order, PatientId, Priority
from planner.domain.plan import Reason
from planner.finding_codes import Code
from planner.findings import Severity
from planner.loaders.build.order_rows import OrderDraft
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.tables.records import Record
from planner.loaders.values.arm_words import arms_said
from planner.loaders.values.fields import Fields, Reading, word
from planner.loaders.values.words import OTHER_SPECIMEN_WORDS, PERFORMERS, PRIORITIES, SPECIMENS, STATES, Timed
from planner.units import SECONDS_PER_DAY, Moment

_LOINC = re.compile(r"\d{1,7}-\d")
ARTERIAL_TESTS = frozenset({TestCode("ABG")})
"""Tests that need an arterial puncture, which is not made on a round."""
_WORD_LISTS: tuple[tuple[str, Mapping[str, Reason | None], Code, str], ...] = (
    ("status", STATES, "unknown-status", "taken as active"),
    ("performer", PERFORMERS, "unknown-performer", "planned as the laboratory's own draw"),
    ("specimen", SPECIMENS, "unknown-specimen", "taken as venous blood"),
)
_NOT_OURS = {
    Reason.CANCELLED: "the order is cancelled",
    Reason.ON_HOLD: "the order is on hold; release it if it is to be drawn",
    Reason.ALREADY_DRAWN: "the specimen is already drawn",
    Reason.DRAWN_BY_OTHERS: "somebody else draws it",
    Reason.NOT_BLOOD: "the specimen is not blood",
    Reason.ARTERIAL: "arterial blood is not drawn on a phlebotomy round",
}
_HARMLESS = frozenset(
    column.name for table in ("patients", "orders") for column in TABLES[table].columns.values() if column.is_harmless
)


_DOSE_COLUMNS = {DoseKind.TROUGH: "next_dose_at", DoseKind.POST_END: "infusion_end_at"}
"""The column that states what a kind of dose rule counts from; of the others it is ``last_dose_at``."""


@dataclass(frozen=True, slots=True)
class Times:
    """When an order is to be drawn, in seconds after midnight, and the other day if it is for one."""

    at_s: int | None = None
    from_s: int | None = None
    to_s: int | None = None
    other_day: date | None = None


def is_live(record_fields: Fields) -> bool:
    """Return whether the row's status leaves the order to be drawn."""
    return record_fields.record.fault is None and STATES.get(word(record_fields.record.text("status"))) is None


def build_order(draft: OrderDraft, tests: TestLookup, catalogue: Catalogue, reading: Reading) -> Order | None:
    """Return the order of a draft; None when it is set aside, with the reason in the draft."""
    if draft.fault:
        return None
    fields = Fields(draft.record, reading, draft.id)
    code = tests.find(draft.test_text) if draft.test_text else None
    if _set_aside_for_information(draft, fields, code):
        return None
    fields.whole_row()
    for name in sorted(draft.record.flags.keys() - _HARMLESS - {"*"}):
        fields.text(name)
    patient_number = "" if "patient_number" in draft.record.flags else fields.identifier("patient_number")
    if "order_number" not in draft.record.flags:
        fields.identifier("order_number")
    if fields.faults:
        draft.set_aside(Reason.UNREADABLE, fields.faults[0])
        return None
    if not patient_number:
        message = "the row has no patient number; write it"
        fields.fault("patient-missing", "patient_number", message)
        draft.set_aside(Reason.UNKNOWN_PATIENT, message)
        return None
    if code is None:
        _set_aside_unknown_test(draft, fields, tests)
        return None
    return _read_order(draft, fields, PatientId(patient_number), catalogue.tests[code])


def _set_aside_for_information(draft: OrderDraft, fields: Fields, code: TestCode | None) -> bool:
    """Set aside what is not for this team; words that are not known are warnings."""
    for name, words, finding, taken in _WORD_LISTS:
        text = word(draft.record.text(name))
        if name in draft.record.flags:
            continue
        if text not in words:
            message = f"{draft.record.text(name)!r} is not a {name} that is known here; {taken}. Look at the order"
            fields.add(finding, Severity.WARNING, name, message)
        elif reason := words[text]:
            detail = _NOT_OURS[reason]
            if reason is Reason.ON_HOLD:
                fields.add("order-on-hold", Severity.WARNING, name, detail)
            draft.set_aside(reason, f"{detail} ({name}: {draft.record.text(name)})")
            return True
    named = word(f"{draft.test_text} {draft.record.text('test_name')}")
    if code is None and not OTHER_SPECIMEN_WORDS.isdisjoint(re.findall(r"\w+", named)):
        draft.set_aside(Reason.NOT_BLOOD, f"{_NOT_OURS[Reason.NOT_BLOOD]} (test: {draft.test_text})")
        return True
    if code in ARTERIAL_TESTS:
        draft.set_aside(Reason.ARTERIAL, _NOT_OURS[Reason.ARTERIAL])
        return True
    return False


def _set_aside_unknown_test(draft: OrderDraft, fields: Fields, tests: TestLookup) -> None:
    """Set the order aside; the same name in many rows is one finding."""
    code: Code = "unknown-test"
    if not draft.test_text:
        message = "the row names no test; write a code of the catalogue"
    else:
        code = "test-unclear" if tests.meaning(draft.test_text) else code
        message = f"test {draft.test_text!r} {tests.hint(draft.test_text)}"
    fields.reading.gather(code, message, draft.record.at("test"), draft.id)
    draft.set_aside(Reason.UNKNOWN_TEST, message)


def _read_order(draft: OrderDraft, fields: Fields, patient: PatientId, test: LabTest) -> Order | None:
    priority = _priority(fields)
    times = _times(fields)
    note = "" if "note" in draft.record.flags else fields.text("note")
    arms = arms_said(note)
    order = Order(
        id=draft.id,
        patient_id=patient,
        test=test.code,
        priority=priority if isinstance(priority, Priority) else Priority.ROUTINE,
        collect_at_s=times.at_s,
        collect_from_s=times.from_s,
        collect_to_s=times.to_s,
        fasting=_fasting(fields, test),
        last_dose_s=fields.instant("last_dose_at", is_past=True),
        next_dose_s=fields.instant("next_dose_at"),
        infusion_end_s=fields.instant("infusion_end_at", is_nearest=True),
        series=fields.text("series") or None,
        ordered_s=_ordered(fields),
        note=note,
        source=draft.record.source,
        arms_in_words=arms.barred,
        infusion_arms=arms.running,
        arms_unexplained=arms.unexplained,
        named=_named(draft, test),
    )
    if fields.faults:
        draft.set_aside(Reason.UNREADABLE, fields.faults[0])
    elif times.other_day:
        _set_aside_other_day(draft, fields, order, times.other_day)
    elif isinstance(priority, Timed) and not order.is_timed:
        _take_dose_for_time(draft, fields, order, test)
    return None if draft.fault else order


def _named(draft: OrderDraft, test: LabTest) -> str:
    """Return what the list calls the test: no LOINC code, which nobody reads, but the name beside it; empty: our code.

    A name of another case stays: the label on the tube has it so.
    """
    text = draft.test_text
    if _LOINC.fullmatch(text):
        text = draft.record.text("test_name")
    return "" if text == test.code else " ".join(text.split())


def _take_dose_for_time(draft: OrderDraft, fields: Fields, order: Order, test: LabTest) -> None:
    """Let the stated dose say when a timed order without a clock time is drawn; set it aside where none does."""
    kind = test.dose_rule.kind if test.dose_rule else DoseKind.PROTOCOL
    if dose_base_s(order, kind) is not None:
        message = f"the order is timed and states no clock time; the dose that it states says when {test.code} is drawn"
        fields.add("time-from-dose", Severity.NOTE, _DOSE_COLUMNS.get(kind, "last_dose_at"), message)
        return
    message = "the order is timed, but states no time; write when it is to be drawn"
    if kind != DoseKind.PROTOCOL:
        message += f", or the dose that {test.code} counts from ({_DOSE_COLUMNS.get(kind, 'last_dose_at')})"
    fields.fault("time-missing", "collect_at", message)
    draft.set_aside(Reason.TIME_MISSING, message)


def _set_aside_other_day(draft: OrderDraft, fields: Fields, order: Order, day: date) -> None:
    """Set an order of another day aside; a stat is never left to another round without asking."""
    if order.priority is not Priority.STAT:
        draft.set_aside(Reason.OTHER_ROUND, f"the order is for {day.isoformat()}")
        return
    message = f"a stat order dated {day.isoformat()}. Ask: still wanted? If so, correct the date and plan again"
    fields.add("stat-other-day", Severity.ERROR, "collect_at", message)
    has_passed = day < fields.reading.clock.day
    draft.set_aside(Reason.WINDOW_PASSED if has_passed else Reason.NO_COMMON_WINDOW, message)


def stated_priority(record: Record) -> Priority | None:
    """Return the priority of a row whether or not its order can be built; None where it cannot be read."""
    if not record.flags.keys().isdisjoint(("priority", "*")):
        return None
    found = _meant(word(record.text("priority")))
    return Priority.ROUTINE if isinstance(found, Timed) else found


def _priority(fields: Fields) -> Priority | Timed:
    text = word(fields.text("priority"))
    found = _meant(text)
    if found is None:
        message = f"priority {text!r} is not known; write stat, asap, urgent, routine or timed"
        fields.fault("unknown-priority", "priority", message)
    return found or Priority.ROUTINE


def _meant(text: str) -> Priority | Timed | None:
    """Return the priority of a word, or of a code with its text, such as 'S - Stat', if both say the same."""
    if text in PRIORITIES:
        return PRIORITIES[text]
    meanings = {PRIORITIES.get(part.strip()) for part in re.split(r"[-()/:]", text) if part.strip()}
    return meanings.pop() if len(meanings) == 1 else None


def _fasting(fields: Fields, test: LabTest) -> bool | None:
    fasting = fields.yes_no("fasting")
    if fasting is False and test.fasting_required:
        message = f"the order says not fasting, but {test.code} requires it; it is planned as fasting"
        fields.add("fasting-overruled", Severity.WARNING, "fasting", message)
    return fasting


def _ordered(fields: Fields) -> int | None:
    """Return when the order was entered; a date alone tells too little and is not used."""
    moment = fields.moment("ordered_at")
    if moment is None or moment.clock_s is None:
        return None
    return fields.placed(moment, "ordered_at", is_past=True)


def _times(fields: Fields) -> Times:
    """Return the requested time or span; a date without a time says only for which day the order is."""
    today = fields.reading.clock.day
    day_cell = fields.moment("collect_date")
    day = day_cell.day if day_cell else None
    at = fields.moment("collect_at")
    if at is None and day_cell and day_cell.clock_s is not None:
        at = day_cell
    at = _dated(at, day)
    begin, end = (_dated(fields.moment(name), day) for name in ("collect_from", "collect_to"))
    at_s = fields.placed(at, "collect_at") if at and at.clock_s is not None else None
    from_s = _end_of_span(fields, "collect_from", begin, 0)
    to_s = _end_of_span(fields, "collect_to", end, SECONDS_PER_DAY)
    if from_s is not None and to_s is not None and to_s < from_s:
        message = "the window ends before it begins; write the earlier time first, and dates if it spans midnight"
        fields.fault("window-reversed", "collect_to", message)
        return Times()
    named = at.day if at and at.clock_s is None else day
    is_timed = any(s is not None for s in (at_s, from_s, to_s))
    return Times(at_s, from_s, to_s, named if named and named != today and not is_timed else None)


def _dated(moment: Moment | None, day: date | None) -> Moment | None:
    if moment is None or moment.day is not None or day is None:
        return moment
    return Moment(day, moment.clock_s, moment.offset)


def _end_of_span(fields: Fields, name: str, moment: Moment | None, default_s: int) -> int | None:
    if moment is None:
        return None
    if moment.clock_s is None:
        moment = Moment(moment.day, default_s)
    return fields.placed(moment, name)
