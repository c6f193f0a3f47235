"""The short summary of a replanned round: what was applied, what is wrong, whom to tell what, in so many lines."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from planner.domain.beds import names_listed
from planner.domain.draws import OrderWindow
from planner.domain.orders import OrderId
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.domain.revisions.events import PhlebotomistNeverCame
from planner.domain.revisions.stop_changes import ChangeKind, Move, StopChange
from planner.exporters.terminal.replan_cost import cost_words
from planner.exporters.terminal.summary import LABEL, WIDTH, wrapped
from planner.exporters.view.context import ViewContext
from planner.exporters.view.goals import price_lines
from planner.exporters.view.lists import all_unplanned, decision_lines
from planner.exporters.view.notes.changes import NoteKind, NoteLine
from planner.exporters.view.notes.gains import gain_words
from planner.exporters.view.notes.replan import replan_view
from planner.exporters.view.round_view import RouteView
from planner.exporters.view.routes import route_view
from planner.exporters.view.texts import TextCleaner
from planner.exporters.view.words import count_words, day_words

MOST_LINES = 24
"""Lines of the short summary; one more says what was written."""

_SPACINGS = ((6, 3, 4), (5, 3, 4), (4, 3, 4), (3, 3, 4), (3, 2, 3), (2, 2, 2))
"""Most lines of what is said to somebody, of an item and of one that must be acted upon: the first that has room."""

MOST_REPORTED = 8
"""Lines of what was reported, read back with bed and patient; one event that takes more is cut."""

MOST_STOPS = (4, 2)
"""Most lines of the stops that are new or moved, and what moving one gains: the first that leaves room for what must be
acted upon."""

MOST_TO_DECIDE = ((4, False), (2, True))
"""Most lines of what a person must decide, and whether that is what was found at which beds alone, without what to do,
such as whom to tell: the first that leaves room."""

_MORE = ": --verbose"

_CLAUSE = re.compile(r"(?<=[\w:)'\"]{3}[.;]) ")
"""Between two clauses; not behind a short form such as 'St.'."""

_SENTENCE = re.compile(r"(?<=[\w:)'\"]{3}[.]) ")


@dataclass(frozen=True, slots=True)
class _Spoken:
    """What is said to the people ``who``: whole sentences, the most urgent first, and then ``last`` (may be empty).

    ``of_stats`` counts the sentences about a stat, which come first and are never cut; ``draws_stat`` is true where
    one of them sends somebody to draw it. ``last`` is dropped only where not even one sentence fits beside it. ``beds``
    says of each sentence what is to be done at which bed, for where it has no room.
    """

    sentences: tuple[str, ...]
    beds: tuple[tuple[str, str], ...]
    last: str
    of_stats: int
    draws_stat: bool
    who: tuple[str, ...] = ()
    initials: tuple[str, ...] = ()

    def lines(self, width: int, most: int) -> list[str]:
        """Return as many sentences as ``most`` lines hold, those of a stat or one at least; the others are counted."""
        for number in range(len(self.sentences), max(0, self.of_stats - 1), -1):
            for last in (self.last, "") if number == 1 and self.last else (self.last,):
                if len(paragraph := wrapped(self._said(number, last), width)) <= most:
                    return paragraph
        if self.of_stats:
            return wrapped(self._said(self.of_stats, ""), width)
        clauses = _SENTENCE.split(self.sentences[0])
        begun = (self._said(1, "", clauses[:n]) for n in range(len(clauses) - 1, 0, -1))
        shown = (wrapped(said, width) for said in (*begun, *self._only_beds()))
        return next((lines for lines in shown if len(lines) <= most), wrapped(self._said(1, "", clauses[:1]), width))

    def _said(self, number: int, last: str, clauses: Sequence[str] = ()) -> str:
        """Return the first sentences, or clauses of the first alone, then the beds of those that are left out."""
        said = " ".join((*(clauses or self.sentences[:number]), *((last,) if last else ())))
        left = [*_bed_words(self.beds[number:]), *(["what you lack"] if self.last and not last else [])]
        left += [] if left or len(self.sentences) <= number else [f"{len(self.sentences) - number} more"]
        more = f" (and on the note: {'; '.join(left)})" if left else " (the note says more)" if clauses else ""
        return f"{', '.join(self.who)}: {said}{more}"

    def _only_beds(self) -> list[str]:
        """Return what is to be done at which beds, and that the note says the rest."""
        words = "; ".join(_bed_words(self.beds))
        return [f"{', '.join(self.who)}: {words[:1].upper()}{words[1:]}. The note says the rest."] if words else []


_AT_BED = {
    NoteKind.ASK_STAT: "ask about",
    NoteKind.STAT: "stat at",
    NoteKind.ASK: "ask about",
    NoteKind.LEAVE_OUT: "leave out",
    NoteKind.GO: "go to",
    NoteKind.CHANGED: "other time or tests at",
}
"""What is to be done at the bed of a sentence, by its kind."""


def _bed_words(beds: Sequence[tuple[str, str]]) -> list[str]:
    """Return what is to be done at which beds, each thing once: 'go to Heron 1A, Larch 1A'; a pause has no bed."""
    beds_of: dict[str, list[str]] = {}
    for what, bed in beds:
        beds_of.setdefault(what, []).append(bed)
    pauses = ["hand-overs or breaks"] if beds_of.pop("", None) else []
    return [*(f"{what} {names_listed(named)}" for what, named in beds_of.items()), *pauses]


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands under it, each item a paragraph; ``is_needed``: to be acted upon."""

    title: str
    items: tuple[str | _Spoken, ...]
    is_needed: bool = False


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
    lines = [_cut(f"{day}, as of {view.as_of}; replaces {view.parent}", width)]
    lines += _items("Reported", "", view.read_back or ("nothing",), width, MOST_REPORTED)
    stops = [
        _items("Stops", "{} new, {} moved, {} dropped".format(*counts), _stops(context), width, most_stops)
        for most_stops in MOST_STOPS
    ]
    cost = _row("Cost", words, width, 2) if (words := cost_words(context)) else []
    behind: list[str] = []
    if assumed := sum(len(past.assumed) for past in replan.past):
        behind += _row("Assumed", f"{count_words(assumed, 'stop')} that nobody reported", width, 1)
    if prices := price_lines(problem):
        behind += _row("Prices tried", "; ".join(prices), width, 2)
    number = sum(item.reason.needs_decision for item in all_unplanned(context))
    decide = [
        _items("To decide", count_words(number, "order"), _to_decide(context, is_short), width, most_to_decide)
        if number
        else []
        for most_to_decide, is_short in MOST_TO_DECIDE
    ]
    needed = [section for section in sections if section.is_needed and section.items]
    others = [section for section in sections if not section.is_needed and section.items]
    people = [f"{addon.order}: phone the laboratory, add {addon.test} to {addon.tube}" for addon in view.addons]
    told = Section("Phone the laboratory: no draw is needed for", tuple(people))
    spoken = Section("Tell", _spoken(context, plan))
    rest = [section for section in (*needed, told, spoken, *others) if section.items]
    heads = [
        *([*lines, *shown, *cost, *behind, *decide[0]] for shown in stops),
        [*lines, *stops[-1], *cost, *behind, *decide[-1]],
        [*lines, *stops[-1], *behind, *decide[-1]],
    ]
    head = next((h for h in heads if len(h) + sum(_least(s, width, _SPACINGS[0][0]) for s in rest) <= most), heads[-1])
    return [*head, *_sections(rest, width, most - len(head))][:most]


def _sections(sections: Sequence[Section], width: int, room: int) -> list[str]:
    """Return the sections, each item as long as lets all of them stand; what has no room even so is counted."""
    for spoken, said, needed in _SPACINGS:
        lines: list[str] = []
        is_whole = True
        for at, section in enumerate(sections):
            after = sum(_least(other, width, spoken) for other in sections[at + 1 :])
            most = needed if section.is_needed else said
            free = room - len(lines) - 2 * (len(sections) - at - 1)  # a title and a count for each behind it
            least = 3 if section.is_needed and free >= 3 else 2
            shown, left = _section(section, width, room - len(lines) - after, most, spoken, least)
            lines += shown
            is_whole = is_whole and not left
        if is_whole:
            break
    return lines


def _least(section: Section, width: int, spoken: int) -> int:
    """Return how many lines are kept free for a section: its title and a count, and whole what is said of a stat.

    Of what must be acted upon, a line of the first item too.
    """
    stats = [item for item in section.items if isinstance(item, _Spoken) and item.of_stats]
    if section.is_needed:
        return 2 + (len(section.items) > 1)
    others = sum(isinstance(item, _Spoken) for item in section.items) - len(stats)
    return 1 + max(1, others) + sum(len(item.lines(width, spoken)) for item in stats)


def _spoken(context: ViewContext, plan: Plan) -> tuple[_Spoken, ...]:
    """Return what to say to those whose stops change, first to who has a stat; the same is said to several at once."""
    names: dict[_Spoken, list[RouteView]] = {}
    log = context.problem.replan.log if context.problem.replan else ()
    absent = {event.what.phlebotomist for event in log if isinstance(event.what, PhlebotomistNeverCame)}
    for person in (route_view(context, route) for route in plan.routes if route.phlebotomist not in absent):
        if (said := _said_first(person.note)) is not None:
            names.setdefault(said, []).append(person)
    return tuple(
        replace(said, who=tuple(p.called for p in names[said]), initials=tuple(p.initials for p in names[said]))
        for said in sorted(names, key=lambda said: (not said.draws_stat, not said.of_stats))
    )


def _said_first(note: Sequence[NoteLine]) -> _Spoken | None:
    """Return the sentences of a note that are news, in the order of their kinds; None where there is none."""
    news = sorted((line for line in note if line.kind < NoteKind.NOTHING), key=lambda line: line.kind)
    if not news:
        return None
    lacks = [line.short for line in news if line.kind is NoteKind.LACK]
    others = [line for line in news if line.kind is not NoteKind.LACK]
    sentences = tuple(line.text for line in others)
    return _Spoken(
        sentences=sentences or tuple(lacks),
        beds=tuple((line.short or _AT_BED.get(line.kind, ""), line.bed) for line in others),
        last=" ".join(lacks) if sentences else "",
        of_stats=sum(line.kind <= NoteKind.STAT for line in news),
        draws_stat=any(line.kind is NoteKind.STAT for line in news),
    )


def _section(section: Section, width: int, room: int, most: int, spoken: int, least: int) -> tuple[list[str], int]:
    """Return a section in at most ``room`` lines, ``most`` an item, ``spoken`` a person, and how many items are left.

    ``least`` lines it may have in any case.

    What is left is counted; of people to be spoken to, each is named.
    """
    lines = [_cut(section.title, width)]
    left = len(section.items)
    for item in section.items:
        paragraph = item.lines(width, spoken) if isinstance(item, _Spoken) else _cut_paragraph(item, width, most)
        if section.is_needed and len(lines) == 1 and not isinstance(item, _Spoken):
            paragraph = _cut_paragraph(item, width, max(1, min(most, room - 1 - (left > 1))))
        behind = left - 1 if isinstance(item, _Spoken) and not item.of_stats else int(left > 1)
        if len(lines) + len(paragraph) + behind > max(room, least):
            break
        lines += paragraph
        left -= 1
    if left:
        spoken_to = [item for item in section.items[-left:] if isinstance(item, _Spoken)]
        people = [name for item in spoken_to for name in item.who]
        initials = [name for item in spoken_to for name in item.initials]
        beds = [
            ": ".join(filter(None, (", ".join(item.initials), "; ".join(_bed_words(item.beds))))) for item in spoken_to
        ]
        if spoken_to and len(lines) + left <= max(room, least):
            return [*lines, *(_cut(f"  ... and {said}", width - len(_MORE)) + _MORE for said in beds)], left
        words = [f"  ... and {', '.join(named)}" for named in (beds, people, initials) if named]
        words = words or [f"  ... and {left} more"]
        lines.append(next((w for w in words if len(w) <= width - len(_MORE)), _cut(words[-1], width - len(_MORE))))
        lines[-1] += _MORE
    return lines, left


def _cut_paragraph(text: str, width: int, most: int) -> list[str]:
    """Return as many whole clauses of a text as ``most`` lines hold; a first one that is longer ends in dots."""
    lines = wrapped(text, width)
    if len(lines) <= most:
        return lines
    clauses = _CLAUSE.split(text)
    for number in range(len(clauses) - 1, 0, -1):
        shown = wrapped(f"{' '.join(clauses[:number]).rstrip('.;')}. (more{_MORE})", width)
        if len(shown) <= most:
            return shown
    return [*lines[: most - 1], _cut(f"{lines[most - 1]} ...", width)]


def _to_decide(context: ViewContext, is_short: bool) -> list[str]:
    """Return what was found of orders that are not planned, at which beds, and what to do, such as whom to tell."""
    found: dict[tuple[str, str], list[str]] = {}
    for line in decision_lines(context, needs_decision=True):
        bed = f"{line.urgency} bed {line.bed} ({line.orders})".lstrip()
        found.setdefault((line.what, "" if is_short else f". {line.action.rstrip('.')}"), []).append(bed)
    return [f"{', '.join(beds)}: {what}{action}" for (what, action), beds in found.items()]


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


def _items(label: str, begin: str, items: Sequence[str], width: int, most: int) -> list[str]:
    """Return a labelled list, as many whole items as ``most`` lines hold; the others are counted."""
    for number in range(len(items), -1, -1):
        left = len(items) - number
        shown = [*items[:number], *([f"{left} more{_MORE}"] if left else [])]
        lines = _wrapped_row(label, ": ".join(filter(None, (begin, "; ".join(shown)))), width)
        if len(lines) <= most:
            return lines
    return _row(label, begin, width, most)


def _row(label: str, text: str, width: int, most: int) -> list[str]:
    """Return a labelled paragraph of so many lines; a longer one ends in dots."""
    lines = _wrapped_row(label, text, width)
    return lines if len(lines) <= most else [*lines[: most - 1], _cut(f"{lines[most - 1]} ...", width)]


def _wrapped_row(label: str, text: str, width: int) -> list[str]:
    return textwrap.wrap(
        text, width, initial_indent=f"{label:<{LABEL}}", subsequent_indent=" " * LABEL, break_on_hyphens=False
    )


def _cut(text: str, width: int) -> str:
    """Return a text, whole or its first whole words; a word that alone is too long is cut."""
    if len(text) <= width:
        return text
    words = text[: width - 3].rpartition(" ")[0].rstrip() or text[: width - 4]
    return f"{words} ..."
