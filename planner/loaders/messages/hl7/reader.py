"""Files of HL7 v2 messages to requests: every message on its own, then the life of every order over all of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from planner.domain.plan import Reason, SetAside
from planner.finding_codes import Code
from planner.findings import Report, Severity, Source
from planner.loaders.messages.common.request import Request
from planner.loaders.messages.common.stamps import Sender, Stamp, instant, odd_offset
from planner.loaders.messages.common.zones import UTC_ZONE
from planner.loaders.messages.hl7.codes import (
    ANSWER_MESSAGES,
    ORDER_EVENTS,
    ORDER_MESSAGES,
    OTHER_ORDER_MESSAGES,
    Action,
)
from planner.loaders.messages.hl7.context import Context
from planner.loaders.messages.hl7.framing import has_last_end, split_messages
from planner.loaders.messages.hl7.grouping import Group, group_orders
from planner.loaders.messages.hl7.life_cycle import Book
from planner.loaders.messages.hl7.order import Mention, read_group
from planner.loaders.messages.hl7.people import patient_ident
from planner.loaders.messages.hl7.segments import BREAK, Message, parse_message
from planner.loaders.messages.hl7.times import parse_time
from planner.loaders.messages.hl7.torn import should_hold_orders, torn_lines

_ACTING = frozenset({"ORC", "OBR", "PID", "PV1"})
"""Segments that make an order, or say whose it is."""
_TRIGGERS_SPECIMEN_FIRST = frozenset({"O33", "O35"})


@dataclass(slots=True)
class Read:
    """What the files hold: requests in the order in which they were first made, and counts that add up.

    ``num_mentions`` (requests in all messages) is the sum of ``tally``: orders, set aside, repeats, changes, updates
    and answers.
    """

    requests: list[Request] = field(default_factory=list)
    num_messages: int = 0
    num_mentions: int = 0
    tally: Counter[str] = field(default_factory=Counter)
    stamps: list[Stamp] = field(default_factory=list)


def read_hl7(files: Iterable[tuple[str, bytes]], report: Report) -> Read:
    """Return the requests of all files, each a name and its bytes."""
    read = Read()
    mentions: list[Mention] = []
    repeats = _Repeats(report)
    files = tuple(files)
    # Several files without a last end show a habit of the sender, one may be cut.
    ends_lines = len(files) < 2 or any(has_last_end(data) for _, data in files)
    for name, data in files:
        file = _File(name, report, read, repeats)
        for raw in split_messages(data, report, Source(file=name), ends_lines):
            mentions += file.message(parse_message(raw))
        file.close()
    book = Book()
    mentions.sort(key=lambda m: m.sent)
    book.tell(mentions)
    book.close()
    read.requests = book.requests
    read.tally += book.tally
    read.num_mentions += len(mentions)
    return read


class _Repeats:
    """Messages seen before: the same sender and control id with the same text is the same message."""

    def __init__(self, report: Report) -> None:
        self._seen: dict[tuple[str, str, str], tuple[list[str], str]] = {}
        self._report = report

    def is_repeat(self, message: Message, context: Context) -> bool:
        """Return whether a message came before; the same control id with another text is a warning."""
        header = message.header
        if not context.control_id:
            return False
        key = (header.raw(3), header.raw(4), context.control_id)
        own = _compared(message)
        before = self._seen.setdefault(key, own)
        if before is own:
            return False
        if before == own:
            text = "the message was read before, with the same control id and text; it changes nothing"
            context.add("message-repeated", Severity.NOTE, text, header, "MSH-10")
            return True
        text = "two messages have this control id and different contents; both were read. Ask the sender"
        context.add("message-repeated", Severity.WARNING, text, header, "MSH-10")
        return False


def _compared(message: Message) -> tuple[list[str], str]:
    """Return what is compared of a message: all but the time of sending in its header."""
    fields = message.header.fields
    return [*fields[:7], "", *fields[8:]], message.text.partition("\r")[2]


class _File:
    """One file being read, message by message."""

    def __init__(self, name: str, report: Report, read: Read, repeats: _Repeats) -> None:
        self.name = name
        self.report = report
        self.read = read
        self.repeats = repeats
        self.not_orders: Counter[str] = Counter()
        self._number = 0
        self._sent = 0.0

    def message(self, message: Message) -> list[Mention]:
        """Return the mentions of one message."""
        self._number += 1
        self.read.num_messages += 1
        context = self._context(message)
        self._report_frame(message, context)
        groups = group_orders(message.segments, message.header.text(9, 2).upper() in _TRIGGERS_SPECIMEN_FIRST)
        if not self._has_orders(groups, message, context):
            return []
        if message.is_usable and self.repeats.is_repeat(message, context):
            self.read.num_mentions += len(groups)
            self.read.tally["repeats"] += len(groups)
            return []
        mentions = [read_group(group, i, context) for i, group in enumerate(groups, start=1)]
        for group, mention in zip(groups, mentions, strict=True):
            self._judge(group, mention, message, groups[0])
        for mention in mentions:
            self.read.stamps += [s for t in mention.request.timings for s in t.stamps]
        return mentions

    def close(self) -> None:
        """Say which messages are no orders, with a count for each type."""
        if self.not_orders:
            counts = ", ".join(f"{number} {kind}" for kind, number in sorted(self.not_orders.items()))
            text = f"messages that carry no orders were counted and left alone: {counts}"
            self.report.add("message-not-orders", Severity.NOTE, text, source=Source(file=self.name))

    def _context(self, message: Message) -> Context:
        header = message.header
        is_usable = message.is_usable
        control_id = header.text(10) if is_usable else ""
        stamp = parse_time(header.text(7), None, "MSH-7") if is_usable else None
        context = Context(
            report=self.report,
            file=self.name,
            label=f"message {control_id or self._number}",
            control_id=control_id,
            version=header.text(12) if is_usable else "",
            kind=header.text(9).upper() if is_usable else "",
            damage="; ".join(message.damage),
        )
        if stamp is not None and (odd := odd_offset(stamp)):
            context.add("offset-odd", Severity.WARNING, f"the time of sending {odd}", header, "MSH-7")
        if stamp is not None and stamp.has_clock and stamp.is_plausible:
            sent = instant(stamp, UTC_ZONE)
            context.stamp = stamp
            self._sent = sent.timestamp()
            if stamp.offset_s is not None:
                context.sender = Sender(stamp.offset_s, sent)
                self.read.stamps.append(stamp)
        context.sent = self._sent
        return context

    def _report_frame(self, message: Message, context: Context) -> None:
        header = message.header
        if message.damage:
            text = f"the message is damaged: {context.damage}. What could be read was read; have it sent again"
            severity = Severity.ERROR if message.is_torn else Severity.WARNING
            context.add("message-damaged", severity, text, header)
        if message.guess:
            context.add("message-charset", Severity.WARNING, f"{message.guess}. Look at the names", header, "MSH-18")
        if message.lost_lines:
            lines = ", ".join(str(n) for n in message.lost_lines[:10])
            text = (
                f"lines {lines} look like segments of other separators than the header's; have the message sent again"
            )
            context.add("message-damaged", Severity.ERROR, text, header)
        broken = [segment.line for segment in message.segments if segment.name == BREAK]
        if broken:
            lines = ", ".join(str(n) for n in broken[:10])
            text = (
                f"lines {lines} have fields and no name of a segment; they were left out. Have the message sent again"
            )
            context.add("stray-line", Severity.ERROR, text, header)
        if texts := [number for number in message.stray_lines if number not in broken]:
            lines = ", ".join(str(n) for n in texts[:10])
            text = f"lines {lines} are no segments; text was taken to go on with the note before it, the rest left out"
            context.add("stray-line", Severity.WARNING, text, header)
        for what, torn in torn_lines(message) if context.kind not in ANSWER_MESSAGES else ():
            if torn:
                lines = ", ".join(str(n) for n in torn[:10])
                text = f"lines {lines} {what}. Have the message sent again"
                context.add("message-damaged", Severity.ERROR, text, message.at(torn[0]))
        if message.suspects:
            lines = ", ".join(str(n) for n in message.suspects[:10])
            text = (
                f"lines {lines} look like segments but follow a line feed inside a field, so they were read as text: "
                "they order, change and cancel nothing. If they are segments, have the message sent again"
            )
            context.add("segment-in-text", Severity.ERROR, text, header)
        after_text = [s.line for s in message.segments if s.follows_text and s.name in _ACTING]
        if after_text:
            lines = ", ".join(str(n) for n in after_text[:10])
            text = (
                f"lines {lines} follow a line of text, so they may be text of a note themselves; new orders among them "
                "are planned, changes and cancellations are not applied. Look at the note before them"
            )
            context.add("segment-in-text", Severity.ERROR, text, header)
        mode = header.text(11).upper() if message.is_usable else ""
        if mode in ("T", "D"):
            words = {"T": "training", "D": "debugging"}[mode]
            text = f"the message is marked as {words} (MSH-11 = {mode}); it was read like any other"
            context.add("message-test-mode", Severity.WARNING, text, header, "MSH-11")

    def _has_orders(self, groups: list[Group], message: Message, context: Context) -> bool:
        """Return whether a message is to be read for orders; others are counted by type."""
        kind = context.kind
        if groups and (kind in ORDER_MESSAGES or kind in OTHER_ORDER_MESSAGES):
            return True
        if groups and (kind not in ANSWER_MESSAGES or self._is_contradicted(message)):
            return True
        header = message.header
        if not groups and should_hold_orders(kind):
            what = f"a message of type {kind[:10]} holds" if kind else "a message without a type holds"
            text = f"{what} no order, so a part of it may be lost. Have it sent again"
            context.add("message-damaged", Severity.ERROR, text, header, "MSH-9")
            return False
        parts = [part for part in (kind, header.text(9, 2).upper()) if part] if message.is_usable else []
        self.not_orders["^".join(parts)[:20] or "without a type"] += 1
        return False

    def _is_contradicted(self, message: Message) -> bool:
        """Return whether an answer states the event of an order, so that one of both is wrong."""
        return message.header.text(9).upper() in ANSWER_MESSAGES and message.header.text(9, 2).upper() in ORDER_EVENTS

    def _judge(self, group: Group, mention: Mention, message: Message, first: Group) -> None:
        """Set aside what the message as a whole makes doubtful, and the copies of old results."""
        request, context = mention.request, mention.context
        if not message.is_usable:
            self._refuse(mention, f"the message is damaged ({context.damage}); have it sent again", "message-damaged")
        elif self._is_contradicted(message):
            kind, event = context.kind[:10], message.header.text(9, 2).upper()
            text = f"a message of type {kind} asks for no draw, but its event {event} is an order's. Ask the sender"
            self._refuse(mention, text, "message-type-odd")
        elif group.is_copy and self._is_other_patient(group, first) and mention.action is not Action.PRIOR:
            text = "a second patient stands in one message, so the start of a message may be lost; have it sent again"
            self._refuse(mention, text, "second-patient")
        elif group.doubt and mention.action is not Action.PRIOR:
            self._refuse(mention, f"{group.doubt}; it is set aside. Have it sent again", "second-patient")
        elif group.follows_text and mention.action not in (Action.NEW, Action.PRIOR):
            text = (
                "the line before it is text, so it may be text too, and nothing is changed. Have the message sent again"
            )
            self._refuse(mention, text, "segment-in-text")
        elif group.is_copy:
            request.fault = SetAside(Reason.PRIOR_RESULT, "a copy of an old result that travels with the message")
        elif context.kind not in ORDER_MESSAGES and context.kind not in OTHER_ORDER_MESSAGES:
            kind = context.kind[:10] or "(none)"
            text = f"a message of type {kind} is no order message, yet it holds what looks like an order"
            if mention.action is not Action.UNKNOWN:
                context.add(
                    "message-type-odd", Severity.WARNING, f"{text}; it was read as one", message.header, "MSH-9"
                )

    def _refuse(self, mention: Mention, text: str, code: Code) -> None:
        ids = [mention.request.number.number]
        source = mention.context.source(mention.segment)
        self.report.add(code, Severity.ERROR, text, source=source, order_ids=ids)
        mention.is_refused = True
        mention.request.fault = SetAside(Reason.UNREADABLE, text)
        mention.request.timings = ()

    def _is_other_patient(self, group: Group, first: Group) -> bool:
        here, there = patient_ident(group.patient)[0], patient_ident(first.patient)[0]
        return bool(here.number and there.number) and not here.may_be(there)
