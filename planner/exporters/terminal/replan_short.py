"""The short summary of a replanned round: what was applied, what is wrong, whom to tell what, in so many lines."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.domain.draws import OrderWindow
from planner.domain.orders import OrderId, Priority
from planner.domain.plan import Plan, Reason
from planner.domain.problem import Problem
from planner.domain.revisions.stop_changes import ChangeKind, Move, StopChange
from planner.exporters.terminal.replan_cost import cost_words
from planner.exporters.terminal.room import MORE, Form, Growth, cut, fitted, growing, least
from planner.exporters.terminal.spoken import Spoken, spoken
from planner.exporters.terminal.summary import LABEL, WIDTH, wrapped
from planner.exporters.view.context import ViewContext
from planner.exporters.view.goals import price_lines
from planner.exporters.view.lists import all_unplanned, decision_lines
from planner.exporters.view.notes.gains import gain_words
from planner.exporters.view.notes.replan import replan_view
from planner.exporters.view.texts import TextCleaner
from planner.exporters.view.words import REASON, count_words, day_words

MOST_LINES = 24
"""Lines of the short summary; one more says what was written."""

MOST_REPORTED = 8
"""Lines of what was reported, read back with bed and patient; one event that takes more is cut."""

MOST_ROW = 4
"""Lines of the stops that are new or moved, and what moving one gains; of what a person must decide."""

MOST_ITEM = 4
"""Lines of a finding."""

_DRAWN_OR_REFUSED = frozenset({Reason.REFUSED, Reason.DRAWN_IN_VAIN, Reason.PARTLY_DRAWN})
"""Reasons by which somebody was at the bed of an order that is not drawn."""

_CLAUSE = re.compile(r"(?<=[\w:)'\"]{3}[.;]) ")
"""Between two clauses; not behind a short form such as 'St.'."""


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands under it, each item a paragraph.

    ``is_needed``: to be acted upon; ``is_whole``: of each item a line stands, whatever else is cut.
    """

    title: str
    items: tuple[str, ...]
    is_needed: bool = False
    is_whole: bool = False

    def forms(self, width: int) -> tuple[Form, ...]:
        """Return it with ever more items, and lines of each."""
        if not self.items:
            return ()
        every = len(self.items)
        if self.is_whole:
            return growing(
                [(Growth.ACT_UPON, self._lines(width, every, 2)), (Growth.ALL, self._lines(width, every, 4))]
            )
        growth = Growth.ITEM if self.is_needed else Growth.MORE
        first = self._lines(width, 1, 1) if self.is_needed else ()
        second = [(Growth.ACT_UPON if self.is_needed else Growth.MORE, self._lines(width, 1, 2))]
        more = [(growth, self._lines(width, number, 2)) for number in range(2, every + 1)]
        longer = [(Growth.ALL, self._lines(width, every, most)) for most in range(3, MOST_ITEM + 1)]
        return growing([(growth, first), *second, *more, *longer])

    def _lines(self, width: int, number: int, most: int) -> list[str]:
        """Return the first items in at most so many lines each; what is left is counted."""
        lines = [cut(self.title, width)]
        for item in self.items[:number]:
            lines += _cut_paragraph(item, width, most)
        left = len(self.items) - number
        return [*lines, f"  ... and {left} more{MORE}"] if left else lines


def short_lines(
    problem: Problem,
    plan: Plan,
    windows: Mapping[OrderId, OrderWindow],
    sections: Sequence[Section],
    width: int = WIDTH,
    most: int = MOST_LINES,
) -> list[str]:
    """Return the short summary in at most ``most`` lines of ``width`` columns.

    Patients are named where beds are read back and in what is to be said, as over the phone.

    Parameters
    ----------
    sections
        What was found besides, what must be acted upon first.
    """
    context = ViewContext(problem, plan, windows, TextCleaner())
    view, replan = replan_view(context), problem.replan
    assert view is not None and replan is not None
    day = f"{context.clean(problem.round_name)}, {day_words(problem.clock.day)}"
    counts = [sum(change.word == word for change in view.changes) for word in ("NEW", "MOVED", "DROPPED")]
    title = cut(f"{day}, as of {view.as_of}; replaces {view.parent}", width)
    parts = [
        growing([(Growth.READ_BACK, [title])]),
        _listed("Reported", "", view.read_back or ("nothing",), width, MOST_REPORTED, Growth.READ_BACK),
        _nobody_sent(context, width),
        _listed("Stops", "{} new, {} moved, {} dropped".format(*counts), _stops(context), width, MOST_ROW),
    ]
    if words := cost_words(context):
        parts.append(growing([(Growth.ITEM, ()), *((Growth.ITEM, _row("Cost", words, width, n)) for n in (1, 2))]))
    if assumed := sum(len(past.assumed) for past in replan.past):
        words = f"{count_words(assumed, 'stop')} that nobody reported"
        parts.append(growing([(Growth.ITEM, ()), (Growth.ITEM, _row("Assumed", words, width, 1))]))
    if prices := price_lines(problem):
        parts.append(growing([(Growth.ITEM, _row("Prices tried", "; ".join(prices), width, n)) for n in (1, 2)]))
    if number := sum(item.reason.needs_decision for item in all_unplanned(context)):
        parts.append(_decisions(context, count_words(number, "order"), width))
    people = [f"{addon.order}: phone the laboratory, add {addon.test} to {addon.tube}" for addon in view.addons]
    phone = Section("Phone the laboratory: no draw is needed for", tuple(people), is_needed=True)
    parts += [section.forms(width) for section in (*(s for s in sections if s.is_needed), phone)]
    others = [section.forms(width) for section in sections if not section.is_needed]
    said = spoken(context, plan)
    told = (_told(said, number, width) for number in range(len(said), -1, -1))
    every = ([*parts, *people, *others] for people in told)
    return fitted(next((p for p in every if least(p) <= most), [*parts, *_told(said, 0, width), *others]), most)


def _told(said: Sequence[Spoken], number: int, width: int) -> list[tuple[Form, ...]]:
    """Return the heading and what is said to the first so many people; the others are named in one line."""
    if not said:
        return []
    parts = [growing([(Growth.PERSON, ["Tell"])]), *(one.forms(width) for one in said[:number])]
    if number < len(said):
        people, initials = ([name for one in said[number:] for name in names(one)] for names in (_who, _initials))
        words = [f"  ... and {', '.join(named)}" for named in (people, initials)]
        line = next((w for w in words if len(w) <= width - len(MORE)), cut(words[-1], width - len(MORE)))
        parts.append(growing([(Growth.PERSON, [line + MORE])]))
    return parts


def _who(one: Spoken) -> tuple[str, ...]:
    return one.who


def _initials(one: Spoken) -> tuple[str, ...]:
    return one.initials


def _decisions(context: ViewContext, count: str, width: int) -> tuple[Form, ...]:
    """Return what a person must decide; before what to do, such as whom to tell, what was found at which beds."""
    short = [(Growth.ITEM, _items("To decide", count, _to_decide(context, True), width, n)) for n in (1, 2)]
    longer = [(Growth.MORE, _items("To decide", count, _to_decide(context, False), width, n)) for n in (3, 4)]
    return growing([*short, *longer])


def _cut_paragraph(text: str, width: int, most: int) -> list[str]:
    """Return as many whole clauses of a text as ``most`` lines hold; a first one that is longer ends in dots."""
    lines = wrapped(text, width)
    if len(lines) <= most:
        return lines
    clauses = _CLAUSE.split(text)
    for number in range(len(clauses) - 1, 0, -1):
        shown = wrapped(f"{' '.join(clauses[:number]).rstrip('.;')}. (more{MORE})", width)
        if len(shown) <= most:
            return shown
    return [*lines[: most - 1], cut(f"{lines[most - 1]} ...", width)]


def _to_decide(context: ViewContext, is_short: bool) -> list[str]:
    """Return what was found of orders that are not planned, at which beds, and what to do, such as whom to tell."""
    found: dict[tuple[str, str], list[str]] = {}
    for line in decision_lines(context, needs_decision=True):
        bed = f"{line.urgency} bed {line.bed} ({line.orders})".lstrip()
        found.setdefault((line.what, "" if is_short else f". {line.action.rstrip('.')}"), []).append(bed)
    return [f"{', '.join(beds)}: {what}{action}" for (what, action), beds in found.items()]


def _nobody_sent(context: ViewContext, width: int) -> tuple[Form, ...]:
    """Return the stats that nobody is sent for, with the reason: the first of them stands, whatever else is cut."""
    items = [
        f"bed {context.clean(context.problem.bed_words(item))} ({item.order_id}) {item.test}: {REASON[item.reason][0]}"
        for item in all_unplanned(context)
        if item.priority is Priority.STAT and item.reason.needs_decision and item.reason not in _DRAWN_OR_REFUSED
    ]
    forms = ((Growth.READ_BACK, _items("STAT left out", "", items, width, n)) for n in range(2, MOST_ROW + 1))
    return growing(forms) if items else ()


def _stops(context: ViewContext) -> list[str]:
    """Return the stops that are new, moved or dropped: whose they are now, when, and what moving them gains."""
    staff, said = context.problem.staff, []
    for change in context.changes:
        bed = f"bed {context.place(change.place)}"
        if change.kind is ChangeKind.DROPPED:
            said.append(f"{bed} dropped")
        elif change.kind is not ChangeKind.ORDERS and change.visit is not None and change.phlebotomist is not None:
            is_given = change.before is not None and Move.PERSON in change.moves
            was = f" from {staff[change.before.phlebotomist].initials}" if change.before and is_given else ""
            gain = f"else {words}" if (words := gain_words(context, change)) else _instead(context, change)
            now = f"{staff[change.phlebotomist].initials} at {context.clock(change.visit.draw_s)}"
            said.append(context.clean(f"{bed}{was} to {now}") + (f", {gain}" if gain else ""))
    return said


def _instead(context: ViewContext, change: StopChange) -> str:
    """Return which bed somebody is given in place of a stop that another person takes; empty where there is none."""
    before = change.before
    if before is None or Move.PERSON not in change.moves:
        return ""
    given = (
        context.place(other.place)
        for other in context.changes
        if other.phlebotomist == before.phlebotomist and (other.before is None or Move.PERSON in other.moves)
    )
    initials = context.problem.staff[before.phlebotomist].initials
    return next((f"as {initials} has bed {bed} now" for bed in given), "")


def _listed(
    label: str, begin: str, items: Sequence[str], width: int, most: int, growth: Growth = Growth.STOPS
) -> tuple[Form, ...]:
    """Return a labelled list in ever more lines."""
    return growing((growth, _items(label, begin, items, width, n)) for n in range(1, most + 1))


def _items(label: str, begin: str, items: Sequence[str], width: int, most: int) -> list[str]:
    """Return a labelled list, as many whole items as ``most`` lines hold; the others are counted."""
    for number in range(len(items), -1, -1):
        left = len(items) - number
        shown = [*items[:number], *([f"{left} more{MORE}"] if left else [])]
        lines = _wrapped_row(label, ": ".join(filter(None, (begin, "; ".join(shown)))), width)
        if len(lines) <= most:
            return lines
    return _row(label, begin, width, most)


def _row(label: str, text: str, width: int, most: int) -> list[str]:
    """Return a labelled paragraph of so many lines; a longer one ends in dots."""
    lines = _wrapped_row(label, text, width)
    return lines if len(lines) <= most else [*lines[: most - 1], cut(f"{lines[most - 1]} ...", width)]


def _wrapped_row(label: str, text: str, width: int) -> list[str]:
    return textwrap.wrap(
        text, width, initial_indent=f"{label:<{LABEL}}", subsequent_indent=" " * LABEL, break_on_hyphens=False
    )
