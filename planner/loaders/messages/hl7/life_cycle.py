"""The life of an order over all messages: new, changed, replaced, cancelled, held, released, repeated."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from planner.domain.plan import Reason, SetAside
from planner.finding_codes import Code
from planner.findings import Severity
from planner.loaders.messages.common.request import Ident, Request
from planner.loaders.messages.hl7.codes import CANCELLED_STATES, DONE_STATES, ERROR_STATES, HOLD_STATES, Action
from planner.loaders.messages.hl7.order import Mention

_CLOSED: dict[Action, SetAside] = {
    Action.PRIOR: SetAside(Reason.PRIOR_RESULT, "a copy of an old result that travels with the message"),
    Action.PARENT: SetAside(Reason.NOT_AN_ORDER, "a parent order (ORC-1 = PA): its children are drawn, not it"),
    Action.PHARMACY: SetAside(Reason.NOT_LABORATORY, "no order of the laboratory: pharmacy"),
}
_DONE: dict[Action, SetAside] = {
    Action.CANCEL: SetAside(Reason.CANCELLED, "the order is cancelled"),
    Action.REPLACE: SetAside(Reason.REPLACED, "another order stands in its place"),
}


@dataclass(slots=True)
class _Entry:
    """An order with its state. ``ended`` is final, ``is_held`` is not."""

    request: Request
    opened_by: Mention
    ended: SetAside | None = None
    is_held: bool = False


@dataclass(slots=True)
class Book:
    """All orders by number, and how often each thing was said of them."""

    requests: list[Request] = field(default_factory=list)
    tally: Counter[str] = field(default_factory=Counter)
    _entries: dict[Ident, list[_Entry]] = field(default_factory=dict)
    _idents: dict[str, list[Ident]] = field(default_factory=dict)
    _ended_unplaced: dict[str, list[tuple[Ident, str]]] = field(default_factory=dict)
    """Orders cancelled or replaced by messages that come before any that places them, and how, by their digits."""
    _placers: dict[str, list[tuple[Ident, Ident]]] = field(default_factory=dict)
    """The placer's number for a filler's, by the digits of the filler's."""

    def tell(self, mentions: Iterable[Mention]) -> None:
        """Apply what messages say, in their order."""
        for mention in mentions:
            self._tell(mention)

    def close(self) -> None:
        """Give every order that has ended or is held its reason."""
        for entries in self._entries.values():
            for entry in entries:
                self._report_parent(entry)
                if entry.ended:
                    entry.request.fault = entry.ended
                elif entry.is_held:
                    entry.request.set_aside(Reason.ON_HOLD, "the order is on hold; release it if it is to be drawn")

    def _report_parent(self, entry: _Entry) -> None:
        """Say where an order is planned whose parent is cancelled; whether it is too, the messages leave open."""
        parent, mention = entry.request.parent, entry.opened_by
        if not parent.number or entry.ended or entry.is_held or entry.request.fault:
            return
        is_over = any(e.ended and e.ended.reason is Reason.CANCELLED for e in self._entries.get(parent, ()))
        if is_over or self._ended_before(parent):
            message = (
                f"its parent order {parent.number} is cancelled, but no message cancels the order itself; it is "
                "planned. Ask whether it is still wanted"
            )
            self._add("parent-cancelled", Severity.WARNING, message, mention, "ORC-8")

    def _tell(self, mention: Mention) -> None:
        action = mention.action
        if mention.request.fault and mention.request.fault.reason is Reason.PRIOR_RESULT:
            action = Action.PRIOR
        if mention.is_refused and mention.request.fault and action not in (Action.NEW, Action.PRIOR):
            self._keep_aside(mention, *mention.request.fault)
        elif action in _CLOSED:
            self._keep_aside(mention, *_CLOSED[action])
        elif action is Action.UNKNOWN:
            self._unknown(mention)
        elif action in (Action.NEW, Action.CHANGE):
            self._new_or_change(mention)
        elif action is Action.ANSWER:
            self._answer(mention)
        else:
            self._update(mention, action)

    def _keep_aside(self, mention: Mention, reason: Reason, detail: str) -> None:
        self.tally["set aside"] += 1
        mention.request.fault = SetAside(reason, detail)
        mention.request.timings = ()
        self.requests.append(mention.request)

    def _unknown(self, mention: Mention) -> None:
        code = repr(mention.control[:20])
        message = f"order control code {code} (ORC-1) is not known; the order is not planned. Ask the sender"
        self._add("order-control-unknown", Severity.ERROR, message, mention, "ORC-1")
        self._keep_aside(mention, Reason.UNREADABLE, message)

    def _answer(self, mention: Mention) -> None:
        if self._find(mention):
            self.tally["answers"] += 1
            return
        detail = f"an answer of the laboratory (ORC-1 = {mention.control}), no order"
        self._keep_aside(mention, Reason.NOT_AN_ORDER, detail)

    def _new_or_change(self, mention: Mention) -> None:
        entries = self._find(mention)
        if not entries:
            if mention.action is Action.CHANGE:
                message = "a change of an order that no message here has placed; it is planned as the change states it"
                self._add("order-not-known", Severity.WARNING, message, mention, "ORC-1")
            self._open(mention)
        elif self._is_other_patient(entries, mention):
            self._conflict(entries, mention)
        elif (entry := self._same_test(entries, mention)) is None or (
            mention.shares_control and entry.opened_by.context is mention.context
        ):
            self._open(mention)
        elif mention.action is Action.NEW and _content(entry.request) == _content(mention.request):
            self.tally["repeats"] += 1
            self._reorder(entry, mention)
        else:
            self._change(entry, mention)
        self._apply_state(mention)

    def _reorder(self, entry: _Entry, mention: Mention) -> None:
        """An order that had ended and is placed again in a later message is an order again."""
        if entry.ended and entry.ended.reason is not Reason.REPLACED and mention.sent > entry.request.sent:
            entry.ended = None
            message = "an order that was cancelled is placed again under its number; it is planned"
            self._add("order-sent-twice", Severity.WARNING, message, mention, "ORC-1")

    def _change(self, entry: _Entry, mention: Mention) -> None:
        self.tally["changes"] += 1
        if mention.action is Action.NEW:
            message = "an order number is placed twice with different contents; the later message counts. Look at both"
            self._add("order-sent-twice", Severity.WARNING, message, mention, "ORC-2")
            self._reorder(entry, mention)
        else:
            message = f"changed by a later message (ORC-1 = {mention.control})"
            self._add("order-changed", Severity.NOTE, message, mention, "ORC-1")
        if entry.ended is None:
            entry.request.take_over(mention.request)

    def _update(self, mention: Mention, action: Action) -> None:
        """Cancel, replace, hold, release or state of an order: apply it to the order, or say that there is none."""
        entries = self._find(mention)
        if entries and self._is_other_patient(entries, mention):
            self._conflict(entries, mention)
            return
        chosen = self._chosen(entries, mention)
        if not chosen:
            self._without_order(mention, action)
            return
        self.tally["updates"] += 1
        for entry in chosen:
            if action in _DONE:
                reason, detail = _DONE[action]
                where = f"(ORC-1 = {mention.control}, {mention.context.label})"
                entry.ended = entry.ended or SetAside(reason, f"{detail} {where}")
            elif action is Action.HOLD:
                entry.is_held = True
            elif action is Action.RELEASE:
                entry.is_held = False
        self._apply_state(mention)

    def _without_order(self, mention: Mention, action: Action) -> None:
        if action in _DONE:
            reason, detail = _DONE[action]
            ident = mention.request.number
            self._ended_unplaced.setdefault(ident.number, []).append((ident, detail))
            self._keep_aside(mention, reason, f"{detail} (ORC-1 = {mention.control}); no message here has placed it")
            return
        if action is Action.HOLD:
            self._keep_aside(mention, Reason.ON_HOLD, "the order is on hold; release it if it is to be drawn")
            return
        fault = _state_fault(mention.state)
        if fault:
            self._keep_aside(mention, *fault)
        elif action is Action.RELEASE and mention.has_test:
            message = "a release of an order that no message here has placed; it is planned as the release states it"
            self._add("order-not-known", Severity.WARNING, message, mention, "ORC-1")
            self._open(mention)
        else:
            message = (
                f"a message about an order (ORC-1 = {mention.control}) that no message here has placed; nothing is "
                "planned. See whether the order itself is missing"
            )
            self._add("order-not-known", Severity.WARNING, message, mention, "ORC-1")
            self._keep_aside(mention, Reason.NOT_AN_ORDER, message)

    def _apply_state(self, mention: Mention) -> None:
        """Apply ORC-5: cancelled, discontinued, replaced and completed end an order even where ORC-1 is NW."""
        fault = _state_fault(mention.state)
        if fault is None:
            return
        for entry in self._chosen(self._find(mention), mention):
            if fault.reason is Reason.ON_HOLD:
                entry.is_held = True
            else:
                entry.ended = entry.ended or fault

    def _open(self, mention: Mention) -> None:
        self.tally["orders"] += 1
        if not mention.control:
            message = "the order has no control code (ORC-1); it is planned as a new order"
            self._add("order-control-missing", Severity.WARNING, message, mention, "ORC-1")
        if not mention.has_number:
            message = "the order has no number; it is identified by its message. Give every order its number"
            self._add("number-missing", Severity.WARNING, message, mention, "ORC-2")
        request = mention.request
        if detail := self._ended_before(request.number):
            message = f"a message before this one says that {detail}; it is planned as it is placed here. Look at both"
            self._add("order-ended-before", Severity.WARNING, message, mention, "ORC-1")
        self.requests.append(request)
        if request.number not in self._entries:
            self._idents.setdefault(request.number.number, []).append(request.number)
        self._entries.setdefault(request.number, []).append(_Entry(request, mention))
        if mention.filler.number and mention.filler != request.number:
            self._placers.setdefault(mention.filler.number, []).append((mention.filler, request.number))

    def _ended_before(self, ident: Ident) -> str:
        """Return how an order ended before any message placed it; empty when none says so."""
        return next(
            (detail for number, detail in self._ended_unplaced.get(ident.number, ()) if number.may_be(ident)), ""
        )

    def _find(self, mention: Mention) -> list[_Entry]:
        """Return the entries of the order's number; a number whose authority is not stated must be the only one."""
        ident = mention.request.number
        if found := self._entries.get(ident):
            return found
        alike = [i for i in self._idents.get(ident.number, ()) if i.may_be(ident)]
        if len(alike) == 1:
            return self._entries[alike[0]]
        if mention.filler.number:
            placers = [p for filler, p in self._placers.get(mention.filler.number, ()) if filler.may_be(mention.filler)]
            if len(placers) == 1 and ident == mention.filler:
                return self._entries[placers[0]]
        return []

    def _same_test(self, entries: list[_Entry], mention: Mention) -> _Entry | None:
        """Return the entry that a mention repeats or changes: of the same test, or the only one that is changed."""
        wanted = mention.request.tests
        for entry in entries:
            if entry.request.tests == wanted or not wanted:
                return entry
        if len(entries) == 1 and (mention.action is Action.CHANGE or not entries[0].request.tests):
            return entries[0]
        return None

    def _chosen(self, entries: list[_Entry], mention: Mention) -> list[_Entry]:
        """Return the orders under one number that a mention is about: those of its test, or all without a test."""
        if len(entries) < 2 or not mention.request.tests:
            return entries
        return [entry for entry in entries if entry.request.tests == mention.request.tests]

    def _is_other_patient(self, entries: list[_Entry], mention: Mention) -> bool:
        patient = mention.request.patient
        return bool(patient.number) and any(
            e.request.patient.number and not e.request.patient.may_be(patient) for e in entries
        )

    def _conflict(self, entries: list[_Entry], mention: Mention) -> None:
        message = (
            "one order number stands with two patients in different messages; all of it is set aside. Find out whose "
            "order it is"
        )
        self._add("order-conflict", Severity.ERROR, message, mention, "PID-3")
        for entry in entries:
            entry.ended = SetAside(Reason.DUPLICATE_NUMBER, message)
        self._keep_aside(mention, Reason.DUPLICATE_NUMBER, message)

    def _add(self, code: Code, severity: Severity, message: str, mention: Mention, column: str) -> None:
        ids = [mention.request.number.number]
        source = mention.context.source(mention.segment, column)
        mention.context.report.add(code, severity, message, source=source, order_ids=ids)


def _content(request: Request) -> tuple[object, ...]:
    return (
        request.cells, request.tests, request.timings, request.quantity, request.place, request.group, request.fault,
    )  # fmt: skip


def _state_fault(state: str) -> SetAside | None:
    if state in CANCELLED_STATES:
        return SetAside(Reason.CANCELLED, f"the order is cancelled (ORC-5 = {state})")
    if state in DONE_STATES:
        return SetAside(Reason.ALREADY_DRAWN, f"the order is completed (ORC-5 = {state})")
    if state in HOLD_STATES:
        return SetAside(Reason.ON_HOLD, "the order is on hold (ORC-5 = HD); release it if it is to be drawn")
    if state in ERROR_STATES:
        return SetAside(Reason.UNREADABLE, "the order's state is 'error' (ORC-5 = ER); ask the sender")
    return None
