"""The short summary of a replanned round: what was applied, what is wrong, whom to tell what, in so many lines."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.domain.draws import OrderWindow
from planner.domain.orders import OrderId
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.exporters.terminal.summary import LABEL, WIDTH, wrapped
from planner.exporters.view.context import ViewContext
from planner.exporters.view.lists import decision_lines
from planner.exporters.view.notes.replan import replan_view
from planner.exporters.view.round_view import RouteView
from planner.exporters.view.routes import route_view
from planner.exporters.view.texts import TextCleaner
from planner.exporters.view.words import count_words, day_words

MOST_LINES = 24
"""Lines of the short summary; one more says what was written."""

_SPACINGS = ((3, 4), (2, 3), (2, 2))
"""Most lines of one sentence to somebody, and of one that must be acted upon: the first with which all has room."""

_MORE = "more: --verbose"


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands under it, each item a paragraph; ``is_needed``: to be acted upon."""

    title: str
    items: tuple[str, ...]
    is_needed: bool = False


def short_lines(
    problem: Problem,
    plan: Plan,
    windows: Mapping[OrderId, OrderWindow],
    sections: Sequence[Section],
    width: int = WIDTH,
    most: int = MOST_LINES,
) -> list[str]:
    """Return the short summary in at most ``most`` lines of ``width`` columns, without any patient's name.

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
    lines += _row("Reported", "; ".join(view.given) or "nothing", width, 3)
    lines += _row("Stops", "{} new, {} moved, {} dropped".format(*counts), width, 1)
    if assumed := sum(len(past.assumed) for past in replan.past):
        lines += _row("Assumed", f"{count_words(assumed, 'stop')} that nobody reported", width, 1)
    number = sum(item.reason.needs_decision for item in plan.unplanned)
    if number:
        lines_to_decide = decision_lines(context, needs_decision=True)
        words = "; ".join(
            f"{line.urgency} bed {line.bed} {line.orders}".lstrip() + f" ({line.what.lower()})"
            for line in lines_to_decide
        )
        lines += _row("To decide", f"{count_words(number, 'order')}: {words}", width, 2)
    needed = [section for section in sections if section.is_needed and section.items]
    others = [section for section in sections if not section.is_needed and section.items]
    people = [f"{addon.order}: phone the laboratory, add {addon.test} to {addon.tube}" for addon in view.addons]
    told = Section("Phone the laboratory: no draw is needed for", tuple(people))
    notes = [(person.called, [line.text for line in person.note]) for person in _told(context, plan)]
    spoken = Section("Tell", _one_sentence_each(notes))
    rest = [section for section in (*needed, told, spoken, *others) if section.items]
    return [*lines, *_sections(rest, width, most - len(lines))][:most]


def _sections(sections: Sequence[Section], width: int, room: int) -> list[str]:
    """Return the sections, each item as long as lets all of them stand; what has no room even so is counted."""
    for said, needed in _SPACINGS:
        lines: list[str] = []
        for at, section in enumerate(sections):
            after = len(sections) - at - 1
            most = needed if section.is_needed else said
            lines += _section(section, width, room - len(lines) - 2 * after, most)
        if not any(line.endswith(_MORE) for line in lines):
            break
    return lines


def _told(context: ViewContext, plan: Plan) -> list[RouteView]:
    """Return the views of those whose stops change."""
    people = [route_view(context, route) for route in plan.routes]
    return [person for person in people if person.note and person.note[0].text != "Nothing changes for you."]


def _one_sentence_each(notes: Sequence[tuple[str, Sequence[str]]]) -> tuple[str, ...]:
    """Return what to say first to everybody; those to whom the same is said stand together."""
    names: dict[str, list[str]] = {}
    for name, texts in notes:
        names.setdefault(_one_sentence("", texts), []).append(name)
    return tuple(f"{', '.join(who)}{sentence}" for sentence, who in names.items())


def _one_sentence(name: str, texts: Sequence[str]) -> str:
    """Return the sentence to say first, and how many more the note has: the stops and the last line do not count."""
    more = len(texts) - 3
    return f"{name}: {texts[0]}" + (f" (and {more} more on the note)" if more > 0 else "")


def _section(section: Section, width: int, room: int, most: int) -> list[str]:
    """Return a section in at most ``room`` lines, ``most`` an item; what has no room is counted."""
    lines = [_cut(section.title, width)]
    left = len(section.items)
    for item in section.items:
        paragraph = wrapped(item, width)
        if len(paragraph) > most:
            paragraph = [*paragraph[: most - 1], _cut(f"{paragraph[most - 1]} ...", width)]
        if len(lines) + len(paragraph) + (left > 1) > max(room, 2):
            break
        lines += paragraph
        left -= 1
    if left:
        lines.append(f"  ... and {left} {_MORE}")
    return lines


def _row(label: str, text: str, width: int, most: int) -> list[str]:
    """Return a labelled paragraph of so many lines; a longer one ends in dots."""
    lines = textwrap.wrap(
        text, width, initial_indent=f"{label:<{LABEL}}", subsequent_indent=" " * LABEL, break_on_hyphens=False
    )
    return lines if len(lines) <= most else [*lines[: most - 1], _cut(f"{lines[most - 1]} ...", width)]


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 4].rstrip()} ..."
