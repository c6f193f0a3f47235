"""What is said to somebody in the short answer to a replan: what cannot wait first, as much as there is room for."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from planner.domain.beds import names_listed
from planner.domain.plan import Plan
from planner.domain.revisions.events import PhlebotomistJoined, PhlebotomistLate, PhlebotomistNeverCame
from planner.exporters.terminal.room import MORE, Form, Growth, cut, growing
from planner.exporters.terminal.summary import wrapped
from planner.exporters.view.context import ViewContext
from planner.exporters.view.notes.changes import NoteKind, NoteLine
from planner.exporters.view.round_view import RouteView
from planner.exporters.view.routes import route_view

_LONGEST = 6
"""Most lines of what is said to somebody, unless it is all about stats."""

_SENTENCE = re.compile(r"(?<=[\w:)'\"]{3}[.]) ")
"""Between two sentences; not behind a short form such as 'St.'."""

_AT_BED = {
    NoteKind.ASK_STAT: "ask about the stat at",
    NoteKind.STAT: "stat at",
    NoteKind.ASK: "ask about",
    NoteKind.LEAVE_OUT: "leave out",
    NoteKind.GO: "go to",
    NoteKind.CHANGED: "other time or tests at",
}
"""What is to be done at the bed of a sentence, by its kind."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """What is said to the people ``who``: whole sentences, the most urgent first, and then ``last`` (may be empty).

    ``of_stats`` counts the sentences that ask about a stat or send somebody to it, which come first; ``must`` those and
    the next, of other stats and of draws with their end close by: their beds are always named. ``draws_stat`` is true
    where somebody is sent to draw a stat, ``is_asked_for`` where the command is about that person. ``last`` is dropped
    only where not even one sentence fits beside it. ``beds`` says of each sentence what is to be done at which bed, for
    where it has no room, ``limit`` until when the first one's draw may be.
    """

    sentences: tuple[str, ...]
    beds: tuple[tuple[str, str], ...]
    last: str = ""
    limit: str = ""
    of_stats: int = 0
    must: int = 0
    draws_stat: bool = False
    is_asked_for: bool = False
    who: tuple[str, ...] = ()
    initials: tuple[str, ...] = ()

    @property
    def is_needed(self) -> bool:
        """Whether there must be a line for it."""
        return bool(self.must) or self.is_asked_for

    def forms(self, width: int) -> tuple[Form, ...]:
        """Return it in a line, or as many as name the beds that must be named, and then ever longer."""
        longer = [(n, self._lines(width, n)) for n in range(2, _LONGEST + 1)]
        growth = Growth.STAT if self.of_stats else Growth.ACT_UPON if self.is_needed else Growth.PERSON
        first = [(growth, lines) for n, lines in longer[:1]]
        rest = [(Growth.MORE if n <= 4 else Growth.ALL, lines) for n, lines in longer[1:]]
        return growing([(growth, self._shortest(width)), *first, *rest])

    def _shortest(self, width: int) -> list[str]:
        """Return what is to be done at which beds, those that must be named whole; the rest is cut."""
        called = ", ".join(self.initials)
        first = _bed_words(self.beds[: self.must])  # apart from the rest, which could come between them
        needed, words = "; ".join(first), "; ".join([*first, *_bed_words(self.beds[self.must :])])
        if not words:
            return [cut(f"  {called}: {self.sentences[0]}", width - len(MORE)) + MORE]
        lines = wrapped(f"{called}: {words}", width)
        number = len(wrapped(f"{called}: {needed}", width)) if needed else 1
        if len(lines) <= number:
            return lines
        last = cut(f"{lines[number - 1]} ...", width - len(MORE)) + MORE
        return [*lines[: number - 1], last] if not self.must else [*lines[:number], f"    ...{MORE}"]

    def _lines(self, width: int, most: int) -> list[str]:
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
        limit = f"{self.limit[:1].upper()}{self.limit[1:]}." if clauses and self.limit else ""
        said = " ".join(filter(None, (*(clauses or self.sentences[:number]), limit, last)))
        left = [*_bed_words(self.beds[number:]), *(["what you lack"] if self.last and not last else [])]
        left += [] if left or len(self.sentences) <= number else [f"{len(self.sentences) - number} more"]
        more = f" (and on the note: {'; '.join(left)})" if left else " (the note says more)" if clauses else ""
        return f"{', '.join(self.who)}: {said}{more}"

    def _only_beds(self) -> Iterator[str]:
        """Yield what is to be done at which beds, and that the note says the rest."""
        if words := "; ".join(_bed_words(self.beds)):
            yield f"{', '.join(self.who)}: {words[:1].upper()}{words[1:]}. The note says the rest."


def _bed_words(beds: Sequence[tuple[str, str]]) -> list[str]:
    """Return what is to be done at which beds, each thing once: 'go to Heron 1A, Larch 1A'; a pause has no bed."""
    beds_of: dict[str, list[str]] = {}
    for what, bed in beds:
        beds_of.setdefault(what, []).append(bed)
    pauses = ["hand-overs or breaks"] if beds_of.pop("", None) else []
    return [*(f"{what} {names_listed(named)}" for what, named in beds_of.items()), *pauses]


def spoken(context: ViewContext, plan: Plan) -> tuple[Spoken, ...]:
    """Return what to say to those whose stops change, first to who has a stat; the same is said to several at once.

    Who is held up or joins by this command hears something in any case.
    """
    names: dict[Spoken, list[RouteView]] = {}
    replan = context.problem.replan
    log, events = (replan.log, replan.events) if replan else ((), ())
    absent = {event.what.phlebotomist for event in log if isinstance(event.what, PhlebotomistNeverCame)}
    about = {event.what.phlebotomist for event in events if isinstance(event.what, PhlebotomistLate)}
    about |= replan.joined if replan and any(isinstance(e.what, PhlebotomistJoined) for e in events) else set()
    for person in (route_view(context, route) for route in plan.routes if route.phlebotomist not in absent):
        if (said := _said_first(person, about)) is not None:
            names.setdefault(said, []).append(person)
    return tuple(
        replace(said, who=tuple(p.called for p in names[said]), initials=tuple(p.initials for p in names[said]))
        for said in sorted(names, key=lambda said: (not said.draws_stat, not said.of_stats, not said.is_needed))
    )


def _said_first(person: RouteView, about: Collection[int]) -> Spoken | None:
    """Return the sentences of a note that are news, in the order of their kinds; None where there is none."""
    is_asked_for = person.staff_index in about
    most = NoteKind.NOTHING if is_asked_for else NoteKind.LACK
    news = sorted((line for line in person.note if line.kind <= most), key=_urgency)
    if not news:
        return None
    lacks = [line.short for line in news if line.kind is NoteKind.LACK]
    others = [line for line in news if line.kind is not NoteKind.LACK]
    sentences = tuple(line.text for line in others)
    return Spoken(
        sentences=sentences or tuple(lacks),
        beds=tuple((line.short or _AT_BED.get(line.kind, ""), _bed(line)) for line in others),
        last=" ".join(lacks) if sentences else "",
        limit=news[0].limit,
        of_stats=sum(_is_of_stat(line) for line in news),
        must=sum(line.is_stat or bool(line.limit) for line in news),
        draws_stat=any(line.kind is NoteKind.STAT for line in news),
        is_asked_for=is_asked_for,
    )


def _is_of_stat(line: NoteLine) -> bool:
    """Whether somebody is to ask about a stat, or to draw it."""
    return line.is_stat and line.kind <= NoteKind.STAT


def _urgency(line: NoteLine) -> tuple[int, bool, bool, NoteKind]:
    """Return what comes first: to ask about a stat, to draw one, another stat, what must be drawn soon, the rest."""
    return (line.kind if _is_of_stat(line) else NoteKind.ASK, not line.is_stat, not line.limit, line.kind)


def _bed(line: NoteLine) -> str:
    return f"{line.bed} ({line.limit})" if line.limit else line.bed
