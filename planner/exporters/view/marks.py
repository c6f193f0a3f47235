"""Words and signs of the sheet with their meaning, for the legend."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from planner.exporters.view.cards.windows import MarkKind
from planner.exporters.view.stop_view import VisitView
from planner.exporters.view.words import BOX, OUTCOMES

MARKS = (
    ("STAT / ASAP / URGENT", "Priority of the most urgent order."),
    ("WHEN", "When to draw. No such line: any time in the round."),
    ("TIMED", "The order's own time: too early is as wrong as too late."),
    ("by, to", "Past it draw, write the time; if urgent, phone lead."),
    ("only, not after, never after", "Past it do not draw."),
    ("not before, from", "Earlier: wait."),
    ("NOT BY YOU", "Ordered for this patient and not drawn at this stop, each with the reason."),
    ("WHY NOW", "Why this bed goes before a stat, and until when."),
    ("NOT FASTING", "Write it beside the time of the draw."),
    ("TIGHT", "Window ends or courier leaves soon after."),
    ("LATE", "Planned so many minutes after it should be drawn."),
    ("White on black", "Hardly any time to spare: be there on time."),
    ("Black number", "Number of the stop, as on the map, of all: 3/20."),
    ("30 y, 5 mo, 9 d, F, M", "Years, months or days old; female, male."),
    (BOX, "Tick when done; identifiers before the needle."),
    ("Fill", "Fill in this order, also when a tube is added. Never pour."),
    ("Invert", "Turn upside down and back, gently, at once. Never shake."),
    ("mL", "With the needle: all blood of the visit. At a tube: its fill."),
    ("[1], [2]", "Write the answer in the box of that number."),
    ("21G, 23G", "Needle: higher is thinner; straight unless winged is said."),
    ("GIVE", "Hand-over to catch; a time for a tube: last moment in the lab."),
    ("limit", "Last moment in the lab; courier missed: phone lead."),
    ("SEND, GIVE, CARRY", "How tubes on ice (warm, dark, by hand) go."),
    ("can slip 9 min", "So much later, and nothing is lost here or at later stops."),
    ("at ___ by ___", "Write time of draw and initials, then how it went."),
    *((outcome.word, outcome.meaning) for outcome in OUTCOMES if outcome.on_paper and outcome.code != "away"),
    ("Empty squares in a name", "No such letters here: use birth date and number."),
    ("Hazards", "planner catalogue --hazards: what this program does and does not control."),
)
"""Words and signs of the sheet with their meaning."""

_USED: Mapping[str, Callable[[VisitView], bool]] = {
    "STAT / ASAP / URGENT": lambda v: _has(v, MarkKind.PRIORITY),
    "WHEN": lambda v: bool(v.when),
    "TIMED": lambda v: _has(v, MarkKind.TIMED),
    "by, to": lambda v: bool(v.window),
    "only, not after, never after": lambda v: bool(v.window),
    "not before, from": lambda v: bool(v.window),
    "NOT BY YOU": lambda v: bool(v.not_drawn),
    "WHY NOW": lambda v: bool(v.why_now),
    "NOT FASTING": lambda v: bool(v.ask),
    "TIGHT": lambda v: _has(v, MarkKind.TIGHT),
    "LATE": lambda v: _has(v, MarkKind.LATE),
    "White on black": lambda v: v.is_pressing,
    "[1], [2]": lambda v: bool(v.ask),
    "Hazards": lambda _: False,
}
"""Which cards use a word or sign; those that are not here every packet has. Hazards are for the lead."""


def marks_used(key: Sequence[tuple[str, str]], visits: Sequence[VisitView]) -> tuple[tuple[str, str], ...]:
    """Return the words and signs that the cards of a packet use: nobody looks one up among those of others."""
    return tuple(entry for entry in key if entry[0] not in _USED or any(map(_USED[entry[0]], visits)))


def _has(visit: VisitView, kind: MarkKind) -> bool:
    return any(mark.kind is kind for mark in visit.marks)


CHANGE_MARKS = (
    ("NEW", "The last sheet does not have this visit."),
    ("MOVED", "Other person, place in the order, bed, or time."),
    ("OTHER TUBES", "As before, but not the same tests."),
    ("UNDER WAY", "Begun before this sheet: finish it."),
    ("assumed", "Nobody said that it was done: ask."),
)
"""Words that only the sheet of a replanned round has."""
